"""What a set of readings holds."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.inks.roles import names_of_columns

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Setup:
    """How the readings were taken; None where the file does not say.

    Attributes
    ----------
    illuminant : str
        Illuminant of the XYZ and Lab columns, for example ``D50``. Default for print data: D50.
    observer : str
        ``2`` or ``10`` [degrees].
    mode : str, optional
        ISO 13655 measurement condition, ``M0`` to ``M3``.
    geometry, backing, side, instrument : str, optional
        As the file states them.
    aperture_mm : float, optional
        Diameter of the area read. [mm]
    """

    illuminant: str = "D50"
    observer: str = "2"
    mode: str | None = None
    geometry: str | None = None
    backing: str | None = None
    side: str | None = None
    instrument: str | None = None
    aperture_mm: float | None = None


@dataclass(frozen=True)
class ReadingSet:
    """Patches with their ink coverages and what was measured on them.

    Attributes
    ----------
    sample_ids : tuple of str
        One per patch, in file order.
    ink_columns : tuple of str
        Column names as in the file: ``CMYK_C`` or ``7CLR_1`` and so on. Empty when the file has no inks.
    coverages : ndarray, shape (n, n_inks)
        Calibrated ink, 0-1. [-]
    spectra : ndarray, shape (n, n_bands), or None
        Reflectance factor, 0-1 (above 1 only by fluorescence). [-]
    wavelengths_nm : ndarray, shape (n_bands,), or None
        Wavelengths of the spectra. [nm]
    xyz : ndarray, shape (n, 3), or None
        CIE XYZ with Y = 100 for the perfect diffuser, under the set-up's illuminant and observer.
    lab : ndarray, shape (n, 3), or None
        CIELAB under the set-up's illuminant and observer.
    averaged : ndarray, shape (n,), or None
        Readings that each row is the mean of; None where each is one. [-]
    setup : Setup
        How it was measured.
    lines : tuple of int
        Line in the file of each patch; empty when made by a program.
    keywords : dict
        Header keywords, as read.
    source : str
        File name or other origin.
    digest : str
        Digest of the file's bytes.
    """

    sample_ids: tuple[str, ...]
    ink_columns: tuple[str, ...]
    coverages: FloatArray
    spectra: FloatArray | None = None
    wavelengths_nm: FloatArray | None = None
    xyz: FloatArray | None = None
    lab: FloatArray | None = None
    averaged: FloatArray | None = None
    setup: Setup = field(default_factory=Setup)
    lines: tuple[int, ...] = ()
    keywords: dict[str, str] = field(default_factory=dict)
    source: str = ""
    digest: str = ""

    def __post_init__(self) -> None:
        for name in ("coverages", "spectra", "wavelengths_nm", "xyz", "lab", "averaged"):
            value: Any = getattr(self, name)
            if value is not None:
                array = np.array(value, dtype=np.float64)
                array.setflags(write=False)
                object.__setattr__(self, name, array)

    def __len__(self) -> int:
        return len(self.sample_ids)

    @property
    def has_colour(self) -> bool:
        """Whether spectra, XYZ or Lab are there."""
        return self.spectra is not None or self.xyz is not None or self.lab is not None

    @property
    def counts(self) -> FloatArray:
        """Readings behind each row, shape (n,)."""
        return np.ones(len(self)) if self.averaged is None else self.averaged

    @property
    def inks(self) -> tuple[str, ...]:
        """Ink names: ``C M Y K`` by their columns; numbered ones as INK_NAMES has them, else ``1 2 3``."""
        return names_of_columns(self.ink_columns, self.keywords.get("INK_NAMES", "").split())

    def take(self, rows: NDArray[Any]) -> ReadingSet:
        """Return the readings of the given rows, in that order."""
        index = np.asarray(rows)
        if index.dtype == bool:
            index = np.flatnonzero(index)

        def pick(array: FloatArray | None) -> FloatArray | None:
            return None if array is None else array[index]

        return replace(
            self,
            sample_ids=tuple(self.sample_ids[i] for i in index),
            coverages=self.coverages[index],
            spectra=pick(self.spectra),
            xyz=pick(self.xyz),
            lab=pick(self.lab),
            averaged=pick(self.averaged),
            lines=tuple(self.lines[i] for i in index) if self.lines else (),
        )
