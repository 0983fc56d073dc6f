"""Presses of the mill: one with invented physics, one that repeats real readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.measurement.records import ReadingSet
from strikeoff.mill import world
from strikeoff.mill.physics import (
    absorption_ratio_kubelka_munk_1931,
    reflectance_kubelka_munk_1931,
    with_ink_scaled,
)

FloatArray = NDArray[np.float64]

#: Wavelengths that the mill's instrument reads. [nm]
WAVELENGTHS_NM = np.arange(380.0, 731.0, 10.0)

_WHITE_AT_NM = (400.0, 450.0, 550.0, 700.0)
_NEIGHBOURS = 64
_DARKEST = 1e-4


class Press(Protocol):
    """Anything that puts ink on cloth."""

    @property
    def inks(self) -> tuple[str, ...]:
        """Ink names in column order."""

    @property
    def wavelengths_nm(self) -> FloatArray:
        """Wavelengths of the spectra in nm, shape (n_bands,)."""

    def print(self, coverages: ArrayLike, ink_gain: ArrayLike | None = None) -> FloatArray:
        """Return reflectance spectra before finishing.

        Parameters
        ----------
        coverages : array_like, shape (n, n_inks)
            Calibrated ink, 0-1. [-]
        ink_gain : array_like, shape (n_inks,), optional
            Ink that a head really gives over what it should. [-]

        Returns
        -------
        ndarray, shape (n, n_bands)
            Reflectance factor. [-]
        """


@dataclass(frozen=True)
class InventedPress:
    """A press whose truth is invented: inks add up as K/S on cloth, with gain and interaction.

    Attributes
    ----------
    printer : Printer
    fabric : Fabric
    inks : tuple of str
        Letters of the inks in use, in printing order.
    """

    printer: world.Printer
    fabric: world.Fabric
    inks: tuple[str, ...]

    @property
    def wavelengths_nm(self) -> FloatArray:
        """Wavelengths of the spectra in nm."""
        return WAVELENGTHS_NM

    @cached_property
    def _truth(self) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        inks = [world.ink_truth(letter) for letter in self.inks]
        curves = np.array([ink.floor + _bells(ink.peaks) for ink in inks]) * self.printer.strength
        from scipy.interpolate import PchipInterpolator

        low, high = WAVELENGTHS_NM[0] - 1, WAVELENGTHS_NM[-1] + 1
        knots = np.array([low, *_WHITE_AT_NM, high])
        white = self.fabric.white
        cloth = PchipInterpolator(knots, [white[0] * 0.86, *white, white[-1] * 1.002])(WAVELENGTHS_NM)
        tone, fill = np.array([ink.tone for ink in inks]), np.array([ink.fill for ink in inks])
        return curves, np.asarray(cloth), tone, fill

    def print(self, coverages: ArrayLike, ink_gain: ArrayLike | None = None) -> FloatArray:
        """Return reflectance spectra before finishing; see `Press`."""
        amount = _checked(coverages, len(self.inks))
        curves, cloth, tone, fill = self._truth
        # Calibrated ink became drops by a tone curve; a head's gain is volume, so it comes after.
        rising = (1 - np.exp(-fill * amount**tone)) / (1 - np.exp(-fill))
        amount = rising * _gain(ink_gain, len(self.inks))
        # Ink that fell earlier keeps part of the later ink from going in.
        before = np.cumsum(amount, axis=1) - amount
        amount = amount / (1 + self.printer.uptake_loss * before)
        ks = absorption_ratio_kubelka_munk_1931(_below_surface(cloth, self.printer.surface)) + amount @ curves
        ks = ks / (1 + ks / 90.0)  # dye that crowds absorbs less than its share
        inside = reflectance_kubelka_munk_1931(ks)
        return self.printer.surface + (1 - self.printer.surface) * inside


@dataclass(frozen=True)
class ReadingsPress:
    """A press that repeats measured goods: local interpolation of log reflectance between its patches.

    Attributes
    ----------
    inks : tuple of str
        Ink names of the readings.
    wavelengths_nm : ndarray, shape (n_bands,)
        As in the readings. [nm]
    points : ndarray, shape (n, n_inks)
        Distinct recipes.
    log_reflectance : ndarray, shape (n, n_bands)
        Natural logarithm of what was measured on them.
    ink_kept : float
        Ink per area after over before the finishing that the readings had been through; `print`
        takes it off again, so that the same finishing brings back the readings.
    """

    inks: tuple[str, ...]
    wavelengths_nm: FloatArray
    points: FloatArray
    log_reflectance: FloatArray
    ink_kept: float

    @cached_property
    def _interpolator(self) -> Any:
        from scipy.interpolate import RBFInterpolator

        return RBFInterpolator(
            self.points,
            self.log_reflectance,
            kernel="linear",
            degree=1,
            neighbors=min(_NEIGHBOURS, len(self.points)),
        )

    def print(self, coverages: ArrayLike, ink_gain: ArrayLike | None = None) -> FloatArray:
        """Return reflectance spectra before finishing; see `Press`."""
        amount = _checked(coverages, len(self.inks)) * _gain(ink_gain, len(self.inks))
        finished = np.exp(np.asarray(self._interpolator(np.vstack([amount, np.zeros(len(self.inks))]))))
        return with_ink_scaled(finished[:-1], finished[-1], 1.0 / self.ink_kept)


def invented_press(
    name: str = "T1", fabric: str = "cotton satin", inks: Sequence[str] | None = None
) -> InventedPress:
    """Return a press of the invented world.

    Parameters
    ----------
    name : str
        Printer: ``T1``, ``T2``, ``T3`` or ``O2``.
    fabric : str
        Fabric by name, for example ``cotton satin``.
    inks : sequence of str, optional
        Letters of a subset of the printer's inks; default all.

    Raises
    ------
    UsageError
        For a printer, fabric or ink that the mill does not have.

    Examples
    --------
    >>> invented_press("T1", inks="CMYK").inks
    ('C', 'M', 'Y', 'K')
    """
    machine = world.printer(name)
    chosen = tuple(inks) if inks is not None else machine.inks
    for letter in chosen:
        if letter not in machine.inks:
            raise UsageError("printer has no such ink", found=letter, expected=" ".join(machine.inks))
    return InventedPress(machine, world.fabric(fabric), chosen)


def press_from_readings(readings: ReadingSet, *, ink_kept: float = 1.0) -> ReadingsPress:
    """Return a press that prints as the goods behind some readings were printed.

    Parameters
    ----------
    readings : ReadingSet
        With spectra and a patch without ink; recipes read several times are averaged.
    ink_kept : float
        `Finishing.ink_kept` of the finishing that the goods had been through, above 0. [-]

    Raises
    ------
    InputError
        When spectra, inks or the bare cloth are missing, or there are too few distinct recipes.
    """
    if readings.spectra is None or readings.wavelengths_nm is None:
        raise InputError(
            "a press needs spectra to repeat", path=readings.source, expected="spectral readings"
        )
    if not ink_kept > 0:
        raise InputError("share of ink kept must be above 0", found=ink_kept)
    points, index = np.unique(np.round(readings.coverages, 6), axis=0, return_inverse=True)
    if len(points) < points.shape[1] + 2 or points.shape[1] == 0 or points[0].any():
        raise InputError(
            "too few recipes for a press, or none without ink",
            path=readings.source,
            found=f"{len(points)} recipes of {points.shape[1]} inks",
        )
    logs = np.log(np.maximum(readings.spectra, _DARKEST))
    means = np.zeros((len(points), logs.shape[1]))
    np.add.at(means, index.ravel(), logs)
    means /= np.bincount(index.ravel())[:, None]
    return ReadingsPress(readings.inks, readings.wavelengths_nm, points, means, float(ink_kept))


def ink_columns(inks: Sequence[str]) -> tuple[str, ...]:
    """Return the column names of inks in a file of readings.

    Examples
    --------
    >>> ink_columns("CMYK")
    ('CMYK_C', 'CMYK_M', 'CMYK_Y', 'CMYK_K')
    >>> ink_columns("CMYKRG")[-1]
    '6CLR_6'
    """
    if tuple(inks) == ("C", "M", "Y", "K"):
        return tuple(f"CMYK_{ink}" for ink in inks)
    return tuple(f"{len(inks)}CLR_{number}" for number in range(1, len(inks) + 1))


def _bells(peaks: tuple[tuple[float, float, float], ...]) -> FloatArray:
    centre, width, height = np.array(peaks).T[:, :, None]
    return np.asarray((height * np.exp(-(((WAVELENGTHS_NM - centre) / width) ** 2))).sum(axis=0))


def _below_surface(reflectance: FloatArray, surface: float) -> FloatArray:
    return (reflectance - surface) / (1 - surface)


def _gain(ink_gain: ArrayLike | None, n_inks: int) -> FloatArray:
    gain = np.ones(n_inks) if ink_gain is None else np.asarray(ink_gain, dtype=np.float64)
    if gain.shape != (n_inks,) or not (gain > 0).all():
        raise InputError("bad ink gain", found=gain.tolist(), expected=f"{n_inks} numbers above 0")
    return gain


def _checked(coverages: ArrayLike, n_inks: int) -> FloatArray:
    amount = np.asarray(coverages, dtype=np.float64)
    if amount.ndim != 2 or amount.shape[1] != n_inks:
        raise InputError("bad shape of coverages", found=amount.shape, expected=f"(n, {n_inks})")
    if not ((amount >= 0) & (amount <= 1)).all():
        raise InputError("coverages outside their range or NaN", expected="0-1")
    return amount
