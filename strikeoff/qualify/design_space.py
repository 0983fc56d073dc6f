"""An RGB working space wrapped around a condition's gamut, as a matrix profile.

References
----------
ICC.1:2022 clause 8.3 and annex F.3: three-component matrix-based profiles.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from strikeoff.base.errors import InputError
from strikeoff.colour.cielab import lab_to_xyz, xyz_to_lab
from strikeoff.condition.pcs import D50
from strikeoff.condition.record import Condition
from strikeoff.icc.matrix import matrix_profile
from strikeoff.icc.profile import read_profile
from strikeoff.icc.tags.text import ascii_only
from strikeoff.model.gamut import ok_to_lab
from strikeoff.model.gamut_body import body_of_triangles, face_triangles, mesh_triangles
from strikeoff.qualify.profiles import DATE

FloatArray = NDArray[np.float64]

GAMMA = 2.2

_START = ((0.68, 0.31), (0.22, 0.70), (0.14, 0.05))
_TOLERANCE_DE = 1.0
_PENALTY = 3.0
_ROUNDS = 1500


@dataclass(frozen=True)
class DesignSpace:
    """A working space.

    Attributes
    ----------
    primaries_xy : ndarray, shape (3, 2)
        Chromaticities of red, green and blue under D50, of media-relative colours.
    primaries : ndarray, shape (3, 3)
        XYZ of the primaries, one in each row; they add up to D50.
    gamma : float
        Exponent of all three curves.
    covered : float
        Share of the gamut's surface that the space holds within one unit of CIELAB. [-]
    largest_loss : float
        Largest distance from the surface to what the space holds. [CIELAB units]
    volume_ratio : float
        Volume of the space over that of the gamut, media-relative CIELAB. [-]
    """

    primaries_xy: FloatArray
    primaries: FloatArray
    gamma: float
    covered: float
    largest_loss: float
    volume_ratio: float

    def profile(self, name: str, condition_digest: str, version: Literal[2, 4]) -> bytes:
        """Return the ICC profile; its description names the condition and its digest."""
        return matrix_profile(
            version=version,
            primaries=self.primaries,
            gamma=self.gamma,
            description=design_description(name, condition_digest),
            copyright_text="Made by strikeoff; free to use.",
            date=DATE,
        )


def design_description(name: str, condition_digest: str) -> str:
    """Return what the profile of a condition's design space calls itself."""
    return f"Design space of {name} {condition_digest.removeprefix('sha256:')[:16]}"


def is_design_space(condition: Condition, condition_digest: str, profile: bytes) -> bool:
    """Say whether a profile is the design space of a condition, byte for byte.

    The description is looked at first, so that other profiles cost nothing.
    """
    try:
        read = read_profile(profile)
        said = getattr(read.decode("desc"), "text", "")
    except InputError:
        return False
    own = design_description(condition.name, condition_digest)
    if said not in (own, ascii_only(own).decode("ascii")):
        return False
    version: Literal[2, 4] = 2 if read.header.major == 2 else 4
    return design_space(condition).profile(condition.name, condition_digest, version) == profile


def design_space(condition: Condition) -> DesignSpace:
    """Find the primaries that cover the gamut with the least waste.

    The area of the triangle in u', v' is made small while what the triangle cannot hold of the gamut's
    surface is held against it, as squared CIELAB distance.

    Parameters
    ----------
    condition : Condition
        Whose media-relative gamut is to be held.
    """
    boundary = condition.boundary
    hue = np.arange(boundary.chroma.shape[1]) * 2 * np.pi / boundary.chroma.shape[1]
    light = np.repeat(boundary.lightness[:, None], len(hue), axis=1)
    mesh = np.stack([light, boundary.chroma * np.cos(hue), boundary.chroma * np.sin(hue)], axis=-1)
    lab = ok_to_lab(mesh.reshape(-1, 3))
    xyz = lab_to_xyz(lab, D50)

    def cost(flat: FloatArray) -> float:
        xy = flat.reshape(3, 2)
        outside = np.maximum(np.concatenate([-xy.ravel(), xy.sum(axis=1) - 1.0]), 0.0).sum()
        primaries = _primaries(xy)
        if primaries is None or outside > 0:
            return 1e3 * (1.0 + float(outside))
        u, v = (4 * xy[:, 0], 9 * xy[:, 1]) / (-2 * xy[:, 0] + 12 * xy[:, 1] + 3)
        area = 0.5 * abs((u[1] - u[0]) * (v[2] - v[0]) - (u[2] - u[0]) * (v[1] - v[0]))
        loss = np.maximum(_losses(primaries, xyz, lab) - 0.5 * _TOLERANCE_DE, 0.0)
        return float(area + _PENALTY * (loss**2).mean())

    found = minimize(
        cost,
        np.ravel(_START),
        method="Nelder-Mead",
        options={"maxiter": _ROUNDS, "xatol": 1e-5, "fatol": 1e-7, "adaptive": True},
    )
    xy = found.x.reshape(3, 2)
    primaries = _primaries(xy)
    assert primaries is not None
    # The profile holds multiples of 1/65536: the figures are those of the numbers written.
    primaries = np.rint(primaries * 65536.0) / 65536.0
    losses = _losses(primaries, xyz, lab)
    whole = body_of_triangles(
        face_triangles(3, lambda rgb: xyz_to_lab(np.maximum(rgb**GAMMA @ primaries, 0.0), D50))
    ).volume()
    gamut = body_of_triangles(mesh_triangles(lab.reshape(mesh.shape))).volume()
    return DesignSpace(
        xy, primaries, GAMMA, float((losses <= _TOLERANCE_DE).mean()), float(losses.max()), whole / gamut
    )


def _primaries(xy: FloatArray) -> FloatArray | None:
    """Return the XYZ of primaries that add up to D50, or None when they cannot with positive amounts."""
    if (xy[:, 1] <= 1e-4).any():
        return None
    columns = np.stack([xy[:, 0] / xy[:, 1], np.ones(3), (1 - xy.sum(axis=1)) / xy[:, 1]])
    if abs(np.linalg.det(columns)) < 1e-6:
        return None
    amounts = np.linalg.solve(columns, D50)
    return None if (amounts <= 0).any() else np.asarray((columns * amounts).T)


def _losses(primaries: FloatArray, xyz: FloatArray, lab: FloatArray) -> FloatArray:
    """Return how far each colour moves when its RGB is limited to 0-1, in CIELAB units."""
    rgb = xyz @ np.linalg.inv(primaries)
    held = xyz_to_lab(np.clip(rgb, 0.0, 1.0) @ primaries, D50)
    return np.asarray(np.linalg.norm(held - lab, axis=1))
