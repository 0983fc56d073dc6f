"""Colourways through a condition: what each palette colour shall be, its recipe, and its print."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.colour import srgb_to_lab
from strikeoff.base.errors import InputError
from strikeoff.condition.record import Condition
from strikeoff.spot.book import Swatch, SwatchBook
from strikeoff.spot.colourway import Change, Colourway
from strikeoff.spot.recipes import Printed, print_swatches

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Wish:
    """What a palette colour shall be in a colourway.

    Attributes
    ----------
    kind : {"stays", "hex", "lab", "swatch", "spectrum", "recipe"}
        How it was said.
    words : str
        As it was said.
    swatch : Swatch
        The same as a swatch.
    """

    kind: str
    words: str
    swatch: Swatch


@dataclass(frozen=True)
class ColourwayPrint:
    """A colourway as a condition prints it.

    Attributes
    ----------
    name : str
        Of the colourway.
    wishes : tuple of Wish
        One for each palette colour.
    prints : tuple of Printed
        Likewise.
    """

    name: str
    wishes: tuple[Wish, ...]
    prints: tuple[Printed, ...]

    @property
    def recipes(self) -> FloatArray:
        """Ink of each palette colour, shape (n, n_inks), 0-1."""
        return np.array([one.inks for one in self.prints])

    def print_lab(self, condition: Condition) -> FloatArray:
        """Return the predicted colours under the condition's own light, shape (n, 3)."""
        return condition.native.lab(self.recipes)

    def wished_lab(self, condition: Condition) -> FloatArray:
        """Return what was wished, under that light; where no colour was, that of the recipe."""
        lab = self.print_lab(condition)
        own = condition.light()
        for k, one in enumerate(self.prints):
            if one.target_lab is not None and one.light == own:
                lab[k] = one.target_lab
        return lab


def print_colourways(
    condition: Condition,
    colourways: Sequence[Colourway],
    names: Sequence[str],
    lab: FloatArray,
    book: SwatchBook | None,
    step: Callable[[float], None] = lambda fraction: None,
) -> tuple[ColourwayPrint, ...]:
    """Return colourways as a condition prints them.

    Parameters
    ----------
    condition : Condition
        Where they are printed.
    colourways : sequence of Colourway
        What is wished.
    names : sequence of str
        Palette colours.
    lab : ndarray, shape (n, 3)
        CIELAB D50 of the palette in the artwork, whose white stands for that of the condition.
    book : SwatchBook, optional
        Swatches that colourways name.
    step : callable
        Told the fraction done, 0-1.

    Raises
    ------
    InputError
        When a swatch is in no book, or a recipe does not fit the condition; colourway and colour are named.
    """
    known = {swatch.name: swatch for swatch in book.swatches} if book is not None else {}
    relative = condition.connection.from_relative(lab)
    wishes = [
        tuple(
            _wish(condition, way, name, way.changes.get(name), relative[k], known)
            for k, name in enumerate(names)
        )
        for way in colourways
    ]
    # Colours that several colourways share are matched once.
    different: dict[Swatch, int] = {}
    for wish in (wish for row in wishes for wish in row):
        different.setdefault(wish.swatch, len(different))
    prints = print_swatches(condition, list(different), step)
    return tuple(
        ColourwayPrint(way.name, row, tuple(prints[different[wish.swatch]] for wish in row))
        for way, row in zip(colourways, wishes, strict=True)
    )


def _wish(
    condition: Condition,
    way: Colourway,
    name: str,
    change: Change | None,
    stays: FloatArray,
    known: dict[str, Swatch],
) -> Wish:
    called = f"{way.name}, {name}"
    if change is None:
        return Wish("stays", "as in the artwork", _of_lab(condition, name, stays))
    if change.rgb is not None:
        lab = condition.connection.from_relative(srgb_to_lab(np.array(change.rgb) / 255.0)[None])[0]
        return Wish("hex", "#" + bytes(change.rgb).hex(), _of_lab(condition, called, lab))
    if change.lab is not None:
        words = "L*a*b* " + " ".join(f"{v:g}" for v in change.lab)
        return Wish("lab", words, _of_lab(condition, called, np.array(change.lab)))
    if change.swatch is not None:
        if change.swatch not in known:
            raise InputError(
                "no such swatch",
                where=f"colourway {called}",
                found=change.swatch[:60],
                expected=", ".join(known)[:300] or "a swatch book",
                advice=None if known else "Give the book with --book FILE.toml",
            )
        return Wish("swatch", change.swatch, known[change.swatch])
    if change.recipe is not None:
        words = " ".join(f"{ink} {amount * 100:g}" for ink, amount in change.recipe)
        return Wish("recipe", words, Swatch(called, recipe=change.recipe))
    swatch = Swatch(called, wavelengths_nm=change.wavelengths_nm, spectrum=change.spectrum)
    return Wish("spectrum", f"spectrum of {len(change.spectrum)} bands", swatch)


def _of_lab(condition: Condition, name: str, lab: FloatArray) -> Swatch:
    light, eye = condition.light()
    low, a, b = (round(float(v), 6) for v in lab)
    return Swatch(name, lab=(low, a, b), illuminant=light, observer=eye)
