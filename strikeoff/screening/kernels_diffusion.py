"""Compiled inner loop of error diffusion: eight inks side by side, rows to and fro."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from strikeoff.raster.kernels_vector import diffuse_backward, diffuse_forward

#: Inks worked on together, and pixels packed together.
LANES = 8


@njit(cache=True, nogil=True)
def diffuse_rows(
    samples: NDArray[np.uint16],
    errors: NDArray[np.int32],
    shares: NDArray[np.int32],
    limits: NDArray[np.int32],
    amounts: NDArray[np.int32],
    y0: int,
    bits: int,
    out: NDArray[np.uint8],
) -> None:
    """Diffuse rows (rows, inks, width), the first of them row ``y0``: even rows forward, odd backward.

    ``errors`` (groups, places + 2, 8) is what the row above left and becomes what the last row leaves,
    places being the width up to a multiple of LANES, groups the inks up to a multiple of LANES;
    ``shares`` (groups, 8, 256), ``limits`` and ``amounts`` (groups, 3, 8); see ``diffuse_forward``. ``out``
    is (inks, rows, ceil(width * bits / 8)).
    """
    rows, inks, width = samples.shape
    places = errors.shape[1] - 2
    lines = np.zeros((LANES, places), np.uint16)
    made = np.empty((places // LANES, LANES), np.uint16)
    flat, target = lines.reshape(-1), made.reshape(-1)
    state = np.empty(2 * LANES, np.int32)
    for r in range(rows):
        backward = (y0 + r) % 2 == 1
        for group in range(errors.shape[0]):
            first = group * LANES
            count = min(LANES, inks - first)
            for k in range(count):
                lines[k, :width] = samples[r, first + k]
            left = errors[group].reshape(-1)
            share = shares[group].reshape(-1)
            limit, amount = limits[group].reshape(-1), amounts[group].reshape(-1)
            state[:] = 0
            if backward:
                for n in range(places // LANES - 1, -1, -1):
                    diffuse_backward(
                        flat, places, n * LANES, left, share, limit, amount, state, target, n * LANES, bits
                    )
            else:
                for n in range(places // LANES):
                    diffuse_forward(
                        flat, places, n * LANES, left, share, limit, amount, state, target, n * LANES, bits
                    )
            # What points past either end stays with the end.
            last, end = (1, places) if backward else (places, 1)
            guard = places + 1 if backward else 0
            for k in range(LANES):
                errors[group, last, k] = state[k] + state[LANES + k]
                errors[group, end, k] += errors[group, guard, k]
            for k in range(count):
                row = out[first + k, r]
                if bits == 1:
                    for n in range(row.shape[0]):
                        row[n] = made[n, k]
                else:
                    for n in range(row.shape[0]):
                        row[n] = made[n // 2, k] >> (0 if n % 2 else 8) & 255
                rest = row.shape[0] * 8 - width * bits
                row[row.shape[0] - 1] &= 255 << rest & 255
