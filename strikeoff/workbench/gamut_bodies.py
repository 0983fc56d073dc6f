"""Gamuts of conditions and profiles as bodies round their greys."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.condition.record import Condition
from strikeoff.icc.evaluate import device_to_lab
from strikeoff.icc.header import channels
from strikeoff.icc.profile import Profile
from strikeoff.model.gamut import lab_to_ok, ok_to_lab
from strikeoff.model.gamut_body import GamutBody, body_of_triangles, face_triangles, mesh_triangles
from strikeoff.model.inverse import solve
from strikeoff.workbench.hue_reach import face_colours

FloatArray = NDArray[np.float64]

# Share of the white's Oklab lightness that lighter colours are brought below it. [-]
_BELOW = 1e-5


def condition_body(record: Condition) -> GamutBody:
    """Return the gamut of a condition under its limits, from the darkest neutral to white.

    The boundary that colours are mapped to lies as far out as nobody would see the difference; here counts
    what the model reaches when it is asked for that boundary, and what recipes at the limits reach between
    its nodes.
    """
    boundary = record.boundary
    hue = np.arange(boundary.chroma.shape[1]) * 2 * np.pi / boundary.chroma.shape[1]
    light = np.repeat(boundary.lightness[:, None], len(hue), axis=1)
    ok = np.stack([light, boundary.chroma * np.cos(hue), boundary.chroma * np.sin(hue)], axis=-1)
    link = record.connection
    wanted = record.greys.onto(link.from_relative(ok_to_lab(ok.reshape(-1, 3))))
    reached = solve(record.inverse, wanted, exact=False).lab
    mesh = link.to_absolute(reached).reshape(ok.shape)
    darkest, (_, faces) = float(mesh[0, :, 0].max()), face_colours(record)
    faces = faces[(faces[..., 0] >= darkest).all(axis=1)]
    white = link.to_absolute(link.media_lab[None])
    return _round_white(np.concatenate([mesh_triangles(mesh), faces]), white)


def _round_white(triangles: FloatArray, white: FloatArray) -> GamutBody:
    """Return the body within triangles of absolute Lab, what is lighter than its white brought down to it.

    A body stands round a line to its lightest colour, which must be its white and no fluorescent solid.
    """
    ok = lab_to_ok(triangles.reshape(-1, 3))
    ok[:, 0] = np.minimum(ok[:, 0], (1.0 - _BELOW) * lab_to_ok(white)[0, 0])
    under = ok_to_lab(ok).reshape(triangles.shape)
    return body_of_triangles(np.concatenate([np.broadcast_to(white, (1, 3, 3)), under]))


def profile_body(profile: Profile) -> GamutBody:
    """Return the gamut of a profile's device, all channels to their full, absolute colorimetric."""
    count = channels(profile.header.colour_space)
    if count == 1 or profile.header.device_class not in ("prtr", "mntr", "scnr", "spac"):
        raise InputError(
            "profile spans no gamut",
            found=f"{profile.header.device_class} {profile.header.colour_space}",
            expected="a device profile of two channels or more",
        )
    # Displays are judged with their white as the perfect diffuser, as they are looked at.
    intent: Literal["relative", "absolute"] = (
        "relative" if profile.header.device_class == "mntr" else "absolute"
    )
    triangles = face_triangles(count, lambda device: device_to_lab(profile, device, intent))
    if profile.header.colour_space in ("CMY", "CMYK") or profile.header.colour_space.endswith("CLR"):
        return _round_white(triangles, device_to_lab(profile, np.zeros((1, count)), intent))
    return body_of_triangles(triangles)
