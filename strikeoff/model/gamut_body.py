"""A gamut as a body in absolute Lab (D50): volume, cuts, what lies inside, what two bodies share.

References
----------
Volume: the divergence theorem over a closed triangle mesh.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from strikeoff.model.gamut import GamutBoundary, lab_to_ok, ok_to_lab

FloatArray = NDArray[np.float64]

_LEVELS, _HUES = 49, 90
_FACE_STEPS = 13
_MOST_FACES = 700
_SPACING = 3.0
_SLACK = 1e-3


@dataclass(frozen=True)
class GamutBody:
    """Everything up to the largest chroma of each lightness and hue, both counted from an axis.

    Attributes
    ----------
    boundary : GamutBoundary
        In Oklab of absolute D50 Lab.
    lean : ndarray, shape (2,)
        Oklab a, b of the axis over its L: a straight line from black to the white of the body, since Oklab
        scales with the cube root of light. Counted from a* = b* = 0, a tinted cloth would be outside its
        own gamut.
    """

    boundary: GamutBoundary
    lean: FloatArray

    def mesh(self) -> FloatArray:
        """Return the surface, shape (levels, hues, 3), as absolute Lab; rows from dark to light."""
        lightness, chroma = self.boundary.lightness, self.boundary.chroma
        hue = np.arange(chroma.shape[1]) * 2 * np.pi / chroma.shape[1]
        light = np.repeat(lightness[:, None], len(hue), axis=1)
        ok = np.stack([light, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)
        ok[..., 1:] += light[..., None] * self.lean
        return ok_to_lab(ok.reshape(-1, 3)).reshape(ok.shape)

    def contains(self, lab: FloatArray, slack: float = _SLACK) -> NDArray[np.bool_]:
        """Say which absolute Lab colours, shape (m, 3), lie inside, within some slack [Oklab chroma]."""
        ok = lab_to_ok(lab)
        ok[:, 1:] -= ok[:, :1] * self.lean
        hue = np.arctan2(ok[:, 2], ok[:, 1])
        largest = self.boundary.largest(ok[:, 0], hue)
        return np.asarray((np.hypot(ok[:, 1], ok[:, 2]) <= largest + slack) & (largest > 0))

    def volume(self) -> float:
        """Return the volume in cubic L*a*b* units."""
        corners = mesh_triangles(self.mesh())
        products = np.einsum("ti,ti->t", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
        return abs(float(products.sum())) / 6.0

    def cut(self, lightness: float) -> FloatArray:
        """Return a* and b*, shape (hues, 2), round the body at one L*; no rows where it does not reach."""
        mesh = self.mesh()
        if not mesh[0, :, 0].max() < lightness < mesh[-1, :, 0].min():
            return np.zeros((0, 2))
        columns = [
            [np.interp(lightness, np.maximum.accumulate(column[:, 0]), column[:, axis]) for axis in (1, 2)]
            for column in mesh.transpose(1, 0, 2)
        ]
        return np.array(columns)


def shared_volume(first: GamutBody, second: GamutBody) -> tuple[float, float, float]:
    """Return the volumes of two bodies and of what they share, counted on one lattice of Lab."""
    both = np.concatenate([body.mesh().reshape(-1, 3) for body in (first, second)])
    axes = [np.arange(np.floor(c.min()), c.max() + _SPACING, _SPACING) for c in both.T]
    lab = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    a, b = first.contains(lab, 0.0), second.contains(lab, 0.0)
    cell = _SPACING**3
    return float(a.sum()) * cell, float(b.sum()) * cell, float((a & b).sum()) * cell


def body_of_triangles(triangles: FloatArray) -> GamutBody:
    """Return the body within triangles, shape (t, 3, 3), of absolute Lab: the farthest crossing counts.

    Parameters
    ----------
    triangles : ndarray, shape (t, 3, 3)
        Surfaces inside or on the gamut; together they close it.
    """
    ok = lab_to_ok(triangles.reshape(-1, 3)).reshape(triangles.shape)
    white = ok.reshape(-1, 3)[int(ok[..., 0].argmax())]
    lean = white[1:] / white[0]
    ok[..., 1:] -= ok[..., :1] * lean
    low, high = float(ok[..., 0].min()), float(ok[..., 0].max())
    margin = 1e-4 * (high - low)
    lightness = np.linspace(low + margin, high - margin, _LEVELS)
    chroma = np.stack([_farthest(ok, level) for level in lightness])
    return GamutBody(GamutBoundary(lightness, chroma), lean)


def mesh_triangles(mesh: FloatArray) -> FloatArray:
    """Return the triangles, shape (t, 3, 3), of a surface of rings, closed at both ends."""
    ends = [np.tile(ring.mean(axis=0), (1, mesh.shape[1], 1)) for ring in (mesh[0], mesh[-1])]
    rows = np.concatenate([ends[0], mesh, ends[1]])
    following = np.roll(rows, -1, axis=1)
    first = np.stack([rows[:-1], following[:-1], following[1:]], axis=2)
    second = np.stack([rows[:-1], following[1:], rows[1:]], axis=2)
    return np.concatenate([first.reshape(-1, 3, 3), second.reshape(-1, 3, 3)])


def face_triangles(count: int, to_lab: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Return triangles of Lab over all faces of the cube of device values: two vary, the others are 0 or 1.

    Parameters
    ----------
    count : int
        Channels; above seven the others are all 0 or all 1.
    to_lab : callable
        Device values, shape (m, count), to absolute Lab, shape (m, 3).
    """
    axis = np.linspace(0.0, 1.0, _FACE_STEPS)
    u, v = (grid.ravel() for grid in np.meshgrid(axis, axis, indexing="ij"))
    at = np.arange(_FACE_STEPS**2).reshape(_FACE_STEPS, _FACE_STEPS)
    a, b, c, d = at[:-1, :-1].ravel(), at[1:, :-1].ravel(), at[1:, 1:].ravel(), at[:-1, 1:].ravel()
    corners = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    if count == 1:
        raise ValueError("one channel spans no gamut")
    every = len(list(combinations(range(count), 2))) << (count - 2)
    found = []
    for pair in combinations(range(count), 2):
        rest = count - 2
        settings = (
            product((0.0, 1.0), repeat=rest) if every <= _MOST_FACES else ((0.0,) * rest, (1.0,) * rest)
        )
        for others in settings:
            device = np.empty((len(u), count))
            device[:, pair[0]], device[:, pair[1]] = u, v
            device[:, [k for k in range(count) if k not in pair]] = others
            found.append(to_lab(device)[corners])
    return np.concatenate(found)


def _farthest(triangles: FloatArray, level: float) -> FloatArray:
    """Return the largest chroma at each hue where a plane of constant lightness cuts triangles."""
    above = triangles[..., 0] > level
    mixed = triangles[above.any(axis=1) & ~above.all(axis=1)]
    chroma = np.zeros(_HUES)
    if len(mixed) == 0:
        return chroma
    ends: list[FloatArray] = []
    crossing: list[NDArray[np.bool_]] = []
    for i, j in ((0, 1), (1, 2), (2, 0)):
        p, q = mixed[:, i], mixed[:, j]
        cut = (p[:, 0] > level) != (q[:, 0] > level)
        share = np.where(cut, (level - p[:, 0]) / np.where(cut, q[:, 0] - p[:, 0], 1.0), 0.0)
        ends.append(p[:, 1:] + share[:, None] * (q[:, 1:] - p[:, 1:]))
        crossing.append(cut)
    order = np.argsort(~np.stack(crossing, axis=1), axis=1, kind="stable")[:, :2]
    points = np.stack(ends, axis=1)
    p, q = (points[np.arange(len(points)), order[:, k]] for k in (0, 1))
    along = q - p
    for number in range(_HUES):
        angle = 2 * np.pi * number / _HUES
        ray, side = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        before, slope = p @ side, along @ side
        hit = np.abs(slope) > 1e-15
        share = np.where(hit, -before / np.where(hit, slope, 1.0), -1.0)
        hit &= (share >= -1e-9) & (share <= 1 + 1e-9)
        reach = (p + share[:, None] * along) @ ray
        chroma[number] = max(float(reach[hit].max(initial=0.0)), 0.0)
    return chroma
