"""Light-ink split from ramps of the physical inks."""

from __future__ import annotations

from pathlib import Path

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.inks.press_file import PressFile, write_curves
from strikeoff.inks.spaces import InkSpaces
from strikeoff.measurement.records import ReadingSet
from strikeoff.qualify.light_split import LightPair, SplitChoice, choose_split, light_pair
from strikeoff.qualify.ramps import Ramp, ink_ramps
from strikeoff.workbench.ink_limits import read_physical
from strikeoff.workbench.readings import InkScale, data_label
from strikeoff.workbench.result import Result
from strikeoff.workbench.settled import with_known_roles, without_settled

_ADDED = {
    "density": "their densities add up",
    "absorption": "they mix in one layer, where what they absorb adds up",
}
# Below this a light ink is of no use; beyond that no pair comes. [%]
_BOUNDS = (10.0, 400.0)


def split_light_inks(
    readings: str | Path,
    out: str | Path,
    *,
    limits: str | Path,
    most_laid_down: float | None = None,
    ink_scale: InkScale = "percent",
) -> Result:
    """Share each colour that has a light ink between that and its dark one.

    Parameters
    ----------
    readings : str or Path
        Ramps of the physical inks, printed without split and tone curves.
    out : str or Path
        Curves to write.
    limits : str or Path
        File of ink limits that says which inks are light ones.
    most_laid_down : float, optional
        Most that dark and light ink lay down together, 10 to 400, 100 for the dark one at its limit; below
        100 in the lightest tones, rising straight to 100 at the limit. Without it the total ink limit
        decides: as much as leaves room for overprints. [%]
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the readings.

    Returns
    -------
    Result
    """
    if most_laid_down is not None and not _BOUNDS[0] <= most_laid_down <= _BOUNDS[1]:
        raise UsageError(
            "most laid down is out of range",
            found=f"{most_laid_down:g} %",
            expected=f"{_BOUNDS[0]:g} to {_BOUNDS[1]:g} % of the full tone of the dark ink",
        )
    measured, press, problems = read_physical(readings, limits, ink_scale)
    ramps = dict(zip([ink.name for ink in press.inks], ink_ramps(measured, press.over_white), strict=True))
    pairs = _pairs(press, ramps, limits)
    if not pairs:
        raise InputError("no ink is a light one", path=limits, expected='role = "light" and light_of')
    bound = None if most_laid_down is None else most_laid_down / 100.0
    choice = choose_split(press, pairs, [ramps[name] for name in press.channels], bound)
    spaces = press.spaces(choice.splits)
    write_curves(out, spaces, press.goods, over_white=press.over_white)
    problems = without_settled(problems, measured, [ink.limit for ink in press.inks])
    problems = with_known_roles(problems, measured, [ink.role for ink in press.inks])
    added = {name: "density" if pair.adds is None else "absorption" for name, pair in pairs.items()}
    return _told(choice, added, spaces, measured, tuple(problems), Path(out), by_total=bound is None)


def _pairs(press: PressFile, ramps: dict[str, Ramp], limits: str | Path) -> dict[str, LightPair]:
    """Return dark and light inks by the dark one's name; refuse a second light ink of one."""
    place = {ink.name: n for n, ink in enumerate(press.inks)}
    loads = press.each_ink().spaces().loads
    pairs: dict[str, LightPair] = {}
    for ink in press.inks:
        if ink.role != "light" or ink.channel not in ramps:
            continue
        if ink.channel in pairs:
            raise InputError(
                f"{ink.channel} has more than one light ink",
                path=limits,
                found=ink.name,
                expected="one light ink for each colour",
            )
        dark = place[ink.channel]
        both = (float(loads[dark]), float(loads[place[ink.name]]))
        pairs[ink.channel] = light_pair(ramps[ink.channel], ramps[ink.name], (press.inks[dark], ink), both)
    return pairs


def _told(
    choice: SplitChoice,
    added: dict[str, str],
    spaces: InkSpaces,
    measured: ReadingSet,
    problems: tuple[Problem, ...],
    out: Path,
    *,
    by_total: bool,
) -> Result:
    bound = choice.bound
    results = {
        "splits": [
            {
                "ink": name,
                "adds_up": added[name],
                "dark_starts_percent": round(split.start * 100, 2),
                "light_peak_percent": round(split.peak * 100, 2),
                "most_laid_down_percent": round(split.most_laid_down * 100, 2),
                "graininess_percent": round(choice.grain[name] * 100, 1),
                "free_graininess_percent": round(choice.grain_free[name] * 100, 1),
            }
            for name, split in choice.splits.items()
        ],
        "bound_percent": None if bound is None else round(bound * 100, 2),
        "overprints_percent": round(choice.printed * 100, 1),
        "free_overprints_percent": round(choice.printed_free * 100, 1),
        "dark_overprints_percent": round(choice.printed_dark * 100, 1),
        "curves_digest": spaces.curves_digest,
        "label": data_label(measured),
    }
    lines = tuple(
        f"{name:<12} dark ink from {split.start * 100:.0f} %, light ink up to {split.peak * 100:.0f} %, "
        f"together {split.most_laid_down * 100:.0f} % at most, before the tone curve; "
        f"{_ADDED[added[name]]}"
        for name, split in choice.splits.items()
    )
    notes = (_traded(choice, spaces.total, by_total=by_total),) if choice.is_held else ()
    return Result(results, (*problems, *notes), (out,), "done", lines)


def _traded(choice: SplitChoice, total: float, *, by_total: bool) -> Problem:
    """Say what the bound costs and what it brings."""
    grains = ", ".join(
        f"{name} {100 * grain:.0f} % for {100 * choice.grain_free[name]:.0f} %"
        for name, grain in choice.grain.items()
    )
    bound = 100 * (choice.bound or 0.0)
    reach = "" if bound >= 100 else " in the lightest tones, rising to 100 %"
    grainier = any(round(100 * (choice.grain[n] - choice.grain_free[n])) > 0 for n in choice.grain)
    cost = ", at the cost of grain" if grainier else ", hardly at the cost of grain"
    why = f"so that the total of {100 * total:.0f} % leaves room for overprints" if by_total else "as asked"
    return Problem(
        "note",
        "light inks",
        f"dark and light lay down {bound:g} % of a full tone together at most{reach}, {why}: "
        f"{100 * choice.printed:.0f} % of full overprints print instead of {100 * choice.printed_free:.0f} % "
        f"(dark inks alone {100 * choice.printed_dark:.0f} %){cost}",
        found=f"graininess of light and middle tones, of the dark ink's: {grains}",
        advice="Set another balance with --most-laid-down: more for less grain, less for deeper overprints",
    )
