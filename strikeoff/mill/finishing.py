"""Steaming, washing and measuring: from printed cloth to readings of finished goods."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.measurement.records import ReadingSet, Setup
from strikeoff.mill.grids import FinishingGrid, read_grid
from strikeoff.mill.physics import with_ink_scaled
from strikeoff.mill.press import Press, ink_columns
from strikeoff.mill.world import LABEL, Fabric, Printer

FloatArray = NDArray[np.float64]

_SPECIMEN_SHARE = 0.3  # scatter between specimens of a lot, in parts of the scatter between lots
_FIXATION_PER_C_BELOW = 0.018
_FIXATION_PER_C_ABOVE = 0.004
_FIXATION_CEILING = 1.02
_BAND_NOISE = 0.0004


@dataclass(frozen=True)
class Finishing:
    """What the finishing aims at.

    Attributes
    ----------
    change_percent : tuple of float
        Dimensional change (warp, weft) that is expected, shrinkage negative as in ISO 5077. [%]
    change_sd_percent : tuple of float
        Spread of it between lots. [%]
    wash_loss_percent : float
        Ink that washing takes away. [%]
    """

    change_percent: tuple[float, float] = (0.0, 0.0)
    change_sd_percent: tuple[float, float] = (0.0, 0.0)
    wash_loss_percent: float = 0.0

    @property
    def ink_kept(self) -> float:
        """Ink per area after over before, at the expected change."""
        return _concentration(self.change_percent) * (1 - self.wash_loss_percent / 100)

    @property
    def specimen_sd_percent(self) -> tuple[float, float]:
        """Spread (warp, weft) between specimens of a lot. [%]."""
        warp, weft = self.change_sd_percent
        return warp * _SPECIMEN_SHARE, weft * _SPECIMEN_SHARE


@dataclass(frozen=True)
class Lot:
    """One make of a fabric: its own dimensional change (warp, weft) [%] and shift of white in b*."""

    change_percent: tuple[float, float]
    white_db: float = 0.0


@dataclass(frozen=True)
class Faults:
    """What goes wrong.

    Attributes
    ----------
    ink_gain_percent : mapping of str to float
        Ink that a head gives beyond its aim, by ink name; ageing heads give less. [%]
    steamer_offset_c : float
        Steamer temperature against its set-point. [degrees C]
    white_db : float
        Shift of the cloth's b*: brightened cloth is negative.
    swapped_rows : tuple of int, optional
        Two patches whose readings were swapped.
    """

    ink_gain_percent: Mapping[str, float] = field(default_factory=dict)
    steamer_offset_c: float = 0.0
    white_db: float = 0.0
    swapped_rows: tuple[int, int] | None = None


@dataclass(frozen=True)
class Goods:
    """What leaves the mill: readings of the patches and the measured grid, both simulated."""

    readings: ReadingSet
    grid: FinishingGrid


def finishing_of(fabric: Fabric, printer: Printer | None = None) -> Finishing:
    """Return the usual finishing of a fabric after a printer; without one nothing washes off."""
    loss = printer.wash_loss_percent if printer else 0.0
    return Finishing(fabric.change_percent, fabric.change_sd_percent, loss)


def draw_lot(finishing: Finishing, seed: int, white_db_sd: float = 0.0) -> Lot:
    """Return a lot drawn from the spread between lots; the same seed gives the same lot."""
    rng = np.random.default_rng([seed, 1])
    warp, weft = rng.normal(finishing.change_percent, finishing.change_sd_percent)
    return Lot((float(warp), float(weft)), float(rng.normal(0.0, 1.0) * white_db_sd))


def fixation(steamer_offset_c: float) -> float:
    """Return the dye fixed against that at the set-point: too cold costs much, too hot gains little.

    Examples
    --------
    >>> round(fixation(-3.0), 3), fixation(0.0), fixation(50.0)
    (0.946, 1.0, 1.02)
    """
    if steamer_offset_c < 0:
        return max(0.1, 1 + _FIXATION_PER_C_BELOW * steamer_offset_c)
    return min(_FIXATION_CEILING, 1 + _FIXATION_PER_C_ABOVE * steamer_offset_c)


def run(
    press: Press,
    coverages: ArrayLike,
    *,
    finishing: Finishing,
    lot: Lot | None = None,
    faults: Faults | None = None,
    noise: float = 0.3,
    repeats: int = 1,
    seed: int = 0,
    sample_ids: Sequence[str] | None = None,
    setup: Setup | None = None,
) -> Goods:
    """Print patches, finish the cloth, measure it.

    Parameters
    ----------
    press : Press
        What prints.
    coverages : array_like, shape (n, n_inks)
        Calibrated ink, 0-1. [-]
    finishing : Finishing
        What the finishing aims at.
    lot : Lot, optional
        The cloth; default one drawn with the seed.
    faults : Faults, optional
        What goes wrong; default nothing.
    noise : float
        Scatter of one reading in L* near L* 60; 0 for a perfect instrument on perfect cloth.
    repeats : int
        Readings of each patch, as rows of their own one after the other.
    seed : int
        Same seed, same goods.
    sample_ids : sequence of str, optional
        Names of the patches; default 1, 2, 3 and so on. Repeats get ``NAME.2``, ``NAME.3``.
    setup : Setup, optional
        Measuring set-up that is stated.

    Returns
    -------
    Goods
        Readings of finished goods under a label that says that they are simulated, and the grid.

    Raises
    ------
    InputError
        For coverages, names, faults or numbers that cannot be.
    """
    faults = faults or Faults()
    amounts = np.asarray(coverages, dtype=np.float64)
    if repeats < 1 or not noise >= 0:
        raise InputError("bad measuring plan", found=f"{repeats} repeats, noise {noise}")
    lot = lot if lot is not None else draw_lot(finishing, seed)
    rng = np.random.default_rng([seed, 2])
    warp, weft = rng.normal(lot.change_percent, finishing.specimen_sd_percent)
    gain = _ink_gain(press.inks, faults)
    printed = press.print(np.vstack([amounts, np.zeros(len(press.inks))]), gain)
    factor = (
        _concentration((warp, weft))
        * (1 - finishing.wash_loss_percent / 100)
        * fixation(faults.steamer_offset_c)
    )
    finished = with_ink_scaled(printed, printed[-1], factor)
    finished = finished * _other_white(printed[-1], press.wavelengths_nm, lot.white_db + faults.white_db)
    truth = finished[:-1]
    if faults.swapped_rows is not None:
        a, b = faults.swapped_rows
        order = np.arange(len(truth))
        order[[a, b]] = b, a
        truth = truth[order]
    read = _measured(np.repeat(truth, repeats, axis=0), press.wavelengths_nm, noise, rng)
    names = [str(i + 1) for i in range(len(amounts))] if sample_ids is None else list(sample_ids)
    if len(names) != len(amounts):
        raise InputError("as many names as patches are needed", found=len(names), expected=len(amounts))
    rows = np.repeat(amounts, repeats, axis=0)
    readings = ReadingSet(
        sample_ids=tuple(name if k == 0 else f"{name}.{k + 1}" for name in names for k in range(repeats)),
        ink_columns=ink_columns(press.inks),
        coverages=rows,
        spectra=read,
        wavelengths_nm=press.wavelengths_nm,
        setup=setup
        or Setup(mode="M1", geometry="45:0", backing="white", side="face", instrument="simulated"),
        keywords={"ORIGINATOR": "simulated mill", "SIMULATED": LABEL, "INKS": " ".join(press.inks)},
        source="simulated mill",
        digest=digest_bytes(rows.astype("<f8").tobytes() + read.astype("<f8").tobytes()),
    )
    return Goods(readings, read_grid((float(warp), float(weft)), rng))


def _concentration(change_percent: tuple[float, float]) -> float:
    warp, weft = change_percent
    return 1.0 / ((1 + warp / 100) * (1 + weft / 100))


def _ink_gain(inks: tuple[str, ...], faults: Faults) -> FloatArray:
    for name in faults.ink_gain_percent:
        if name not in inks:
            raise InputError("fault of an ink that the press has not", found=name, expected=" ".join(inks))
    return np.array([1 + faults.ink_gain_percent.get(ink, 0.0) / 100 for ink in inks])


def _other_white(cloth: FloatArray, wavelengths_nm: FloatArray, db: float) -> FloatArray:
    """Return the factor on reflectance that shifts the bare cloth's b* by ``db`` (D50, 2 degrees)."""
    if db == 0:
        return np.ones_like(cloth)
    # Brightener lifts and yellowing lowers the blue end, falling off toward green.
    shape = np.exp(-(((wavelengths_nm - 430.0) / 45.0) ** 2))
    start = spectra_to_lab(cloth, wavelengths_nm)[2]
    strength = 0.0
    for _ in range(4):
        here = spectra_to_lab(cloth * (1 + strength * shape), wavelengths_nm)[2] - start
        ahead = spectra_to_lab(cloth * (1 + (strength + 1e-3) * shape), wavelengths_nm)[2] - start
        strength += (db - here) / ((ahead - here) / 1e-3)
    return np.asarray(1 + strength * shape)


def _measured(
    truth: FloatArray, wavelengths_nm: FloatArray, noise: float, rng: np.random.Generator
) -> FloatArray:
    """Return readings: weave lightens and darkens all bands, tilts them a little; bands jitter."""
    # dL* = (L* + 16) / 3 dlnR, so this sets the scatter of L* at L* 60.
    level = noise * 3.0 / 76.0
    tilt = (wavelengths_nm - wavelengths_nm.mean()) / np.ptp(wavelengths_nm)
    common = rng.normal(0.0, 1.0, (len(truth), 1))
    slope = rng.normal(0.0, 1.0, (len(truth), 1))
    jitter = rng.normal(0.0, 1.0, truth.shape) * _BAND_NOISE * min(1.0, noise / 0.1)
    return np.asarray(np.maximum(truth * (1 + level * (common + 0.5 * slope * tilt)) + jitter, 1e-5))
