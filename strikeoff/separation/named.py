"""Named colours of artwork to the inks of their name, or through tint tables, together with process colours.

Where a named colour lies over process colours or over another named colour, amounts of ink add: dye on cloth
mixes, and the press lays down both. An ink never passes its full tone and all inks never their total; process
inks give way first. Where nothing lies below, a tint is its table, exactly.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.raster.artwork_kernels import COMPILED, ArtworkKernels
from strikeoff.raster.bands import Band, BandSource, FramedSource, check_rows
from strikeoff.raster.tables import InkTable
from strikeoff.separation.by_class import ClassTables
from strikeoff.separation.covered import Cover
from strikeoff.separation.separate import counted

_FULL = 65535
_PARTED = re.compile(r"[\s_-]+")


def inks_for(named: Sequence[str], *ink_names: Sequence[str]) -> dict[str, int]:
    """Return which named colours have an ink of their name, and its channel.

    Parameters
    ----------
    named : sequence of str
        Named colours.
    *ink_names : sequence of str
        Names of the channels, once or under several spellings, in channel order. Case does not count, nor
        whether words are parted by blanks, hyphens or underlines: readings hold no blanks in names of inks.

    Examples
    --------
    >>> inks_for(["orange ", "Glow"], ["C", "M", "Y", "K", "5"], ["C", "M", "Y", "K", "Orange"])
    {'orange ': 4}
    >>> inks_for(["Clear Gloss"], ["C", "Clear-Gloss"])
    {'Clear Gloss': 1}
    """
    spelt = [(name, channel) for names in ink_names for channel, name in enumerate(names)]
    # As it is written goes before words that are parted otherwise.
    known = {_PARTED.sub("-", name.strip().lower()): channel for name, channel in spelt}
    known |= {name.strip().lower(): channel for name, channel in spelt}
    found = {}
    for name in named:
        plain = name.strip().lower()
        channel = known.get(plain, known.get(_PARTED.sub("-", plain)))
        if channel is not None:
            found[name] = channel
    return found


@dataclass(frozen=True)
class NamedSource(FramedSource):
    """Ink planes of artwork whose named colours pass to inks: process through the table, names beside it.

    Attributes
    ----------
    source : BandSource
        uint8 or uint16; process samples, then named ones, 0 none.
    table : InkTable
        From process samples to inks.
    channels_of : tuple of tuple of int
        Named channel of the source and ink channel, in pairs.
    weights : tuple of float
        Weight of each ink in the total. [-]
    limit : float
        Total ink, 1 = one full ink. [-]
    tints : tuple of (int, ndarray)
        Named channel of the source and its inks by code, uint16, shape (65536, n_inks).
    by_class : ClassTables, optional
        In place of ``table``: one for each class of objects.
    kernels : ArtworkKernels
        How ``table`` is computed; those of classes have their own.
    cover : Cover, optional
        Process inks are laid by it. Named ones have their own amounts.
    counts : ndarray, shape (n_inks, 65536), optional
        What each code of each ink counts in the total, in place of weights. [-]
    """

    source: BandSource
    table: InkTable
    channels_of: tuple[tuple[int, int], ...]
    weights: tuple[float, ...]
    limit: float
    tints: tuple[tuple[int, NDArray[np.uint16]], ...] = ()
    by_class: ClassTables | None = None
    kernels: ArtworkKernels = field(default=COMPILED, repr=False)
    cover: Cover | None = None
    counts: NDArray[np.float64] | None = field(default=None, repr=False, compare=False)

    @property
    def channels(self) -> int:
        """Inks."""
        return self.table.n_inks

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type: uint16."""
        return np.dtype(np.uint16)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        band = self.source.read(y0, y1)
        samples = np.ascontiguousarray(band[..., : self.table.channels])
        if self.by_class is None:
            process = self.kernels.interpolate(samples, self.table, None)
        else:
            process = self.by_class.inks(samples, y0)
        if self.cover is not None:
            process = self.cover.laid(process, samples, y0)
        named = named_inks(band, self.table.n_inks, self.channels_of, self.tints)
        return laid_together(process, named, self.weights, self.limit, self.counts)


def named_inks(
    band: Band,
    n_inks: int,
    channels_of: Sequence[tuple[int, int]],
    tints: Sequence[tuple[int, NDArray[np.uint16]]],
) -> NDArray[np.uint16]:
    """Return what named colours lay down by themselves.

    Parameters
    ----------
    band : ndarray of uint8 or uint16, shape (..., n_channels)
        Samples of all channels, named ones 0 none.
    n_inks : int
        Inks.
    channels_of, tints
        As of `NamedSource`.

    Returns
    -------
    ndarray of uint16, shape (..., n_inks)
        Amounts, 65535 = full tone; those of several named colours add up to it.

    Examples
    --------
    >>> named_inks(np.array([[9, 255, 128]], np.uint8), 2, [(1, 1), (2, 0)], []).tolist()
    [[32896, 65535]]
    """
    wide = np.uint16(257 if band.dtype == np.uint8 else 1)
    named = np.zeros((*band.shape[:-1], n_inks), dtype=np.uint16)
    for source, ink in channels_of:
        named[..., ink] = np.maximum(named[..., ink], band[..., source].astype(np.uint16) * wide)
    for source, by_code in tints:
        # 16 bits hold no more than full tone, so a sum that is smaller than a part has passed it.
        added = by_code[band[..., source].astype(np.uint16) * wide]
        named += added
        named[named < added] = _FULL
    return named


def laid_together(
    process: NDArray[np.uint16],
    named: NDArray[np.uint16],
    weights: Sequence[float],
    limit: float,
    counts: NDArray[np.float64] | None = None,
) -> NDArray[np.uint16]:
    """Return process and named amounts in one, under the total.

    Parameters
    ----------
    process, named : ndarray of uint16, shape (..., n_inks)
        Amounts, 65535 = full tone.
    weights : sequence of float
        Weight of each ink in the total. [-]
    limit : float
        Total, 1 = one full ink of weight 1. [-]
    counts : ndarray, shape (n_inks, 65536), optional
        What each code of each ink counts in the total, in place of weights: along convex curves. [-]

    Returns
    -------
    ndarray of uint16, shape (..., n_inks)
        Where both together pass the total, process inks yield in one proportion, and named ones only
        when those are gone.

    Raises
    ------
    InputError
        When the shapes differ.

    Examples
    --------
    >>> process, named = np.array([[65535, 65535, 0]], np.uint16), np.array([[0, 0, 65535]], np.uint16)
    >>> laid_together(process, named, (1, 1, 1), 2.0).tolist()
    [[32767, 32767, 65535]]
    """
    if process.shape != named.shape:
        raise InputError("planes do not fit", found=named.shape, expected=str(process.shape))
    free = _FULL - named.astype(np.int64)
    # An ink that a named colour fills already takes from the process only what still fits.
    yielding = np.minimum(process, free)
    load = np.asarray(weights, dtype=np.float64)
    most = limit * _FULL
    if counts is None:
        firm, soft = named @ load, yielding @ load
    else:
        # A share of the process counts no more than that share of what the whole adds: curves are convex.
        firm = _FULL * counted(named, counts)
        soft = _FULL * counted(yielding + named, counts) - firm
    over = firm + soft > most
    if over.any():
        room = np.maximum(most - firm[over], 0.0) / np.maximum(soft[over], 1.0)
        yielding[over] = np.floor(yielding[over] * np.minimum(room, 1.0)[..., None])
        firm_share = np.minimum(most / np.maximum(firm[over], 1.0), 1.0)
        held = np.floor(named[over] * firm_share[..., None]).astype(np.uint16)
        named = named.copy()
        named[over] = held
    return np.asarray(yielding + named, dtype=np.uint16)
