"""Recipes that artwork needs from a condition, from some of its pixels."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.colour import profile_to_lab
from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.pdf_wish import PageWish
from strikeoff.artwork.records import CHANNELS
from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.condition.record import Condition
from strikeoff.condition.rendering import render
from strikeoff.separation.named import laid_together, named_inks
from strikeoff.spot.compiled import SpotTables
from strikeoff.workbench.artwork_named import plan_named

FloatArray = NDArray[np.float64]

_ROWS, _PIXELS = 48, 600
_NAMES_SHOWN = 6
_FULL = 65535


def artwork_recipes(
    record: Condition, path: str | Path, seed: int, book: SpotTables | None = None
) -> tuple[FloatArray, tuple[Problem, ...]]:
    """Return recipes that artwork needs, from pixels spread over it, and what was taken otherwise.

    Process colours are rendered perceptually; named ones go by their tint table, else to the ink of their
    name, else in the file's own alternate colours. Of each file at most 600 pixels.

    Parameters
    ----------
    record : Condition
        What it is printed through.
    path : str or Path
        The artwork.
    seed : int
        Of which pixels are taken.
    book : SpotTables, optional
        Tint tables of named colours, of this condition.

    Returns
    -------
    recipes : ndarray, shape (n, n_inks)
        Alike where pixels are alike, so frequent colours count more. [-]
    problems : tuple of Problem
        Named colours that are not printed by a table or an ink.

    Raises
    ------
    InputError
        CMYK artwork without a profile has no known colour.
    """
    image = open_artwork(path)
    plan = plan_named(record, image, book, None)
    others = plan.without(image)
    problems: list[Problem] = []
    if others and image.page is not None:
        image = open_artwork(path, wish=PageWish(fallback=frozenset(others)))
        plan = plan_named(record, image, book, None)
    if others:
        problems.append(_told(path, others, counts=image.page is not None))
    if image.kind == "cmyk" and image.profile is None:
        raise InputError(
            "CMYK artwork without a profile has no known colour",
            path=path,
            advice="Embed the profile that it was made for",
        )
    source = image.planes
    rows = np.unique(np.linspace(0, source.height - 1, min(_ROWS, source.height)).round().astype(int))
    pixels = np.vstack([source.read(int(y), int(y) + 1)[0] for y in rows])
    # One target per pixel: frequent colours count more.
    pixels = np.random.default_rng(seed).permutation(pixels)[:_PIXELS]
    values = pixels[:, : CHANNELS[image.kind]] / float(np.iinfo(source.dtype).max)
    lab = profile_to_lab(image.profile, image.kind, values, "perceptual")
    inks = np.asarray(render(record, lab, "perceptual").inks)
    named = named_inks(pixels, record.n_inks, plan.channels_of(image), plan.tints(image))
    if named.any():
        process = np.round(np.clip(inks, 0.0, 1.0) * _FULL).astype(np.uint16)
        limits = record.limits
        inks = laid_together(process, named, tuple(limits.weights), limits.total, limits.counts()) / _FULL
    return inks, tuple(problems)


def _told(path: str | Path, names: list[str], *, counts: bool) -> Problem:
    shown = ", ".join(names[:_NAMES_SHOWN]) + (", ..." if len(names) > _NAMES_SHOWN else "")
    return Problem(
        "warning",
        Path(path).name,
        "named colours without a tint table or an ink of their name "
        + ("count as the file's own alternate colours" if counts else "do not count"),
        found=shown,
        advice="Give --spots with tint tables that hold them",
    )
