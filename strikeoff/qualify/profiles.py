"""ICC output profiles of a condition."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.progress import Progress, silent
from strikeoff.condition.record import Condition
from strikeoff.condition.rendering import render
from strikeoff.icc.output import TableIntent, output_profile
from strikeoff.icc.output_tables import A2BTable, Axis, B2ATable, axis_nodes, curve_nodes
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

#: Nodes per ink of the table from inks to colour, by number of inks.
A2B_GRID = {1: 129, 2: 65, 3: 33, 4: 17, 5: 11, 6: 8, 7: 6, 8: 5}
_B2A_GRID: dict[TableIntent, int] = {"perceptual": 29, "relative": 37, "saturation": 29}
_RENDER: dict[TableIntent, str] = {
    "perceptual": "perceptual",
    "relative": "relative",
    "saturation": "saturation",
}
_CURVE_SAMPLES = 1024
_STRAIGHT_SHARE = 0.3
_MARGIN = 6.0
_GAMUT_DE00 = 0.6
_DATE = (2026, 1, 1, 0, 0, 0)
_TARG_LIMIT = 8 << 20


def build_profiles(condition: Condition, progress: Progress = silent) -> dict[int, bytes]:
    """Return the ICC v2 and v4 output profiles of a condition, by version.

    Parameters
    ----------
    condition : Condition
        Complete but for its profiles.
    progress : Progress
        Told what goes on.

    Returns
    -------
    dict of int to bytes
        ``{2: ..., 4: ...}``. The date in them is fixed, so that equal conditions are equal bytes.
    """
    a2b = inks_to_colour(condition)
    axes = _axes(condition, a2b)
    b2a: dict[TableIntent, B2ATable] = {}
    gamut = None
    for number, (intent, size) in enumerate(_B2A_GRID.items()):

        def step(fraction: float, done: int = number) -> None:
            progress("compute profile tables", (done + fraction) / len(_B2A_GRID))

        inks, error = _colour_to_inks(condition, axes, size, _RENDER[intent], step)
        b2a[intent] = B2ATable(inks, axes)
        if intent == "relative":
            gamut = B2ATable((error > _GAMUT_DE00).astype(float)[..., None], axes)
    assert gamut is not None
    link = condition.connection
    light = f"{condition.setup.illuminant}, {condition.setup.observer} degree observer"
    space = "CMYK" if condition.inks == ("C", "M", "Y", "K") else _colour_space(condition.n_inks)
    colorants = None
    if space.endswith("CLR"):
        solids = link.to_relative(condition.native.lab(np.eye(condition.n_inks)))
        colorants = [(f"Ink {n}", tuple(lab)) for n, lab in zip(condition.inks, solids, strict=True)]
    targ = condition.readings.decode("latin-1") if len(condition.readings) <= _TARG_LIMIT else None
    out = {}
    versions: tuple[tuple[int, FloatArray | None], ...] = ((2, None), (4, link.adaptation))
    for version, chad in versions:
        out[version] = output_profile(
            version=2 if version == 2 else 4,
            colour_space=space,
            description=f"{condition.name} ({light})",
            copyright_text="Made by strikeoff from the readings inside; free to use.",
            white_xyz=link.media_white,
            a2b={"perceptual": a2b, "relative": a2b, "saturation": a2b},
            b2a=b2a,
            gamut=gamut,
            date=_DATE,
            chad=chad if condition.setup.illuminant != "D50" else None,
            targ=targ,
            colorants=colorants,
            viewing=f"View under {light}",
            technology="ijet",
        )
    return out


def inks_to_colour(condition: Condition) -> A2BTable:
    """Return the table from inks to media-relative Lab, its axes spaced by colour distance."""
    model: InksToLab = condition.native if condition.table is None else condition.table
    count = condition.n_inks
    size = A2B_GRID.get(count, 4 if count <= 9 else 3)
    curves = _spacing_curves(model, count)
    nodes = [curve_nodes(curve, size) for curve in curves]
    grid = np.stack(np.meshgrid(*nodes, indexing="ij"), axis=-1)
    lab = condition.connection.to_relative(model.lab(grid.reshape(-1, count)))
    return A2BTable(_encodable(lab).reshape((size,) * count + (3,)), curves)


def _spacing_curves(model: InksToLab, count: int) -> FloatArray:
    """Curves along which each single ink moves in nearly even steps of colour distance."""
    ink = np.linspace(0.0, 1.0, _CURVE_SAMPLES)
    curves = np.empty((count, _CURVE_SAMPLES))
    for k in range(count):
        ramp = np.zeros((_CURVE_SAMPLES, count))
        ramp[:, k] = ink
        steps = np.linalg.norm(np.diff(model.lab(ramp), axis=0), axis=1)
        distance = np.concatenate([[0.0], np.cumsum(steps)])
        curves[k] = (1 - _STRAIGHT_SHARE) * distance / max(distance[-1], 1e-9) + _STRAIGHT_SHARE * ink
    return np.clip(curves, 0.0, 1.0)


def _axes(condition: Condition, a2b: A2BTable) -> tuple[Axis, Axis, Axis]:
    """Spread the nodes over the gamut; neutrals lie on the middle nodes."""
    lab = a2b.grid.reshape(-1, 3)
    floor = max(float(lab[:, 0].min()) - 1.0, 0.0)

    def opponent(values: FloatArray) -> Axis:
        low = max(min(float(values.min()) - _MARGIN, -20.0), -127.0)
        high = min(max(float(values.max()) + _MARGIN, 20.0), 126.0)
        return Axis(np.array([low, 0.0, high]), np.array([0.0, 0.5, 1.0]))

    lightness = Axis(np.array([floor, 100.0]), np.array([0.0, 1.0]))
    return lightness, opponent(lab[:, 1]), opponent(lab[:, 2])


def _colour_to_inks(
    condition: Condition,
    axes: tuple[Axis, Axis, Axis],
    size: int,
    intent: str,
    step: Callable[[float], None],
) -> tuple[FloatArray, FloatArray]:
    nodes = [axis_nodes(axis, size) for axis in axes]
    grid = np.stack(np.meshgrid(*nodes, indexing="ij"), axis=-1).reshape(-1, 3)
    recipes = render(condition, grid, intent, step=step)
    shape = (size, size, size)
    return np.clip(recipes.inks, 0.0, 1.0).reshape((*shape, condition.n_inks)), recipes.de00.reshape(shape)


def _encodable(lab: FloatArray) -> FloatArray:
    """Limit to what the connection space can hold; fluorescent colours can pass it."""
    return np.clip(lab, [0.0, -127.9, -127.9], [100.0, 126.9, 126.9])


def _colour_space(count: int) -> str:
    if count == 1:
        return "GRAY"
    return f"{count:X}CLR"
