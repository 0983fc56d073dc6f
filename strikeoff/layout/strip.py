"""A control strip: few patches that travel with every roll and tell what the press is doing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import RangeError, UsageError
from strikeoff.inks.roles import process_channels

PATCH_MM = 12.0
_LINE_GAP_MM = 2.0
_STEPS_PERCENT = (100, 75, 50, 25)

#: C, M, Y [%] that come out near a grey of K 30, 50 and 70 on coated stock. Grey balance check
#: values of a public 1,617-patch characterisation; on cloth they show drift, they are not an aim.
_GREYS_PERCENT: dict[str, tuple[int, ...]] = {
    "grey light": (25, 18, 17),
    "grey middle": (43, 33, 32),
    "grey deep": (64, 53, 52),
}
#: C, M, Y, K [%]: common practice for shadows, no source.
_DARKS_PERCENT: dict[str, tuple[int, ...]] = {
    "dark 1": (30, 25, 25, 60),
    "dark 2": (50, 40, 40, 80),
    "dark 3": (60, 50, 50, 100),
}


@dataclass(frozen=True)
class PlacedPatch:
    """A patch on the strip: left upper corner and size in millimetres."""

    sample_id: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class StripPatches:
    """Patches of a control strip in reading order.

    Attributes
    ----------
    ids : tuple of str
        One per patch.
    ink_names : tuple of str
        Channel order of the coverages.
    coverages : ndarray, shape (n, n_inks)
        Calibrated ink, 0-1. [-]
    patch_mm : float
        Side of a patch. [mm]
    """

    ids: tuple[str, ...]
    ink_names: tuple[str, ...]
    coverages: NDArray[np.float64]
    patch_mm: float = PATCH_MM

    def placed(self, width_mm: float) -> tuple[PlacedPatch, ...]:
        """Return where the patches stand when lines may be ``width_mm`` long.

        Raises
        ------
        UsageError
            When not even one patch fits.
        """
        per_line = int((width_mm + 1e-9) / self.patch_mm)
        if per_line < 1:
            raise UsageError(
                "no room for the control strip", found=f"{width_mm:g} mm", expected=self.patch_mm
            )
        step = self.patch_mm + _LINE_GAP_MM
        return tuple(
            PlacedPatch(
                name, i % per_line * self.patch_mm, i // per_line * step, self.patch_mm, self.patch_mm
            )
            for i, name in enumerate(self.ids)
        )

    def height_mm(self, width_mm: float) -> float:
        """Return the height of the strip when lines may be ``width_mm`` long, in millimetres."""
        return max(p.y_mm + p.height_mm for p in self.placed(width_mm))


def control_strip(ink_names: Sequence[str], total_limit: float, patch_mm: float = PATCH_MM) -> StripPatches:
    """Return the patches of a control strip: cloth, single inks, overprints, greys, darks.

    Parameters
    ----------
    ink_names : sequence of str
        Inks in channel order.
    total_limit : float
        Highest sum of coverages (3.0 is 300 %). Patches above it keep their black and lose the other
        inks in proportion. [-]
    patch_mm : float
        Side of a patch. [mm]

    Returns
    -------
    StripPatches
        Names are unique.

    Examples
    --------
    >>> strip = control_strip(["C", "M", "Y", "K"], 3.0)
    >>> len(strip.ids), strip.ids[0], bool(strip.coverages.sum(axis=1).max() <= 3.0)
    (27, 'cloth', True)
    """
    inks = tuple(ink_names)
    if not inks or len(set(inks)) != len(inks):
        raise UsageError("inks of a strip must have different names", found=inks)
    if not 0.0 < total_limit <= len(inks):
        raise RangeError(
            "total ink limit cannot be",
            found=total_limit,
            expected=f"above 0, at most {len(inks)} (3.0 is 300 %)",
        )
    patches: dict[str, dict[str, float]] = {"cloth": {}}
    for ink in inks:
        patches |= {f"{ink} {step}": {ink: step / 100} for step in _STEPS_PERCENT}
    role = {letter: inks[channel] for letter, channel in process_channels(inks).items()}
    chromatic = [ink for ink in inks if ink in [role.get(letter) for letter in "CMY"]] or list(inks[:3])
    for pair in combinations(chromatic, 2):
        patches["+".join(pair)] = dict.fromkeys(pair, 1.0)
    if len(chromatic) == 3:
        patches["+".join(chromatic)] = dict.fromkeys(chromatic, 1.0)
    if all(name in role for name in "CMY"):
        for name, amounts in _GREYS_PERCENT.items():
            patches[name] = {role[r]: a / 100 for r, a in zip("CMY", amounts, strict=True)}
        if "K" in role:
            for name, amounts in _DARKS_PERCENT.items():
                patches[name] = {role[r]: a / 100 for r, a in zip("CMYK", amounts, strict=True)}
    coverages = np.array([[patch.get(ink, 0.0) for ink in inks] for patch in patches.values()])
    black = np.array([ink == role.get("K") for ink in inks])
    coverages = _limited(coverages, black, total_limit)
    coverages.setflags(write=False)
    return StripPatches(tuple(patches), inks, coverages, patch_mm)


def _limited(
    coverages: NDArray[np.float64], black: NDArray[np.bool_], total_limit: float
) -> NDArray[np.float64]:
    """Bring every patch under the limit: black is cut only when it alone is over it."""
    key = np.minimum(coverages * black, total_limit)
    rest = coverages * ~black
    room = total_limit - key.sum(axis=1, keepdims=True)
    total = np.maximum(rest.sum(axis=1, keepdims=True), 1e-12)
    # One 16-bit step of every ink is left free, so that rounding cannot pass the limit.
    limited = key + rest * np.minimum(1.0, np.maximum(0.0, room - coverages.shape[1] / 65535) / total)
    fits = coverages.sum(axis=1, keepdims=True) <= total_limit
    return np.where(fits, coverages, limited)
