"""Which ink space readings were printed in, and that spaces are never mixed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.inks.calibrated_total import (
    convex_limits,
    most_under_curves,
    most_under_weights,
    straight_limits,
)
from strikeoff.inks.roles import BY_NAME_ONLY
from strikeoff.inks.spaces import IDENTITY, InkSpaces
from strikeoff.measurement.records import ReadingSet
from strikeoff.model.limits import InkLimits

InkSpaceName = Literal["calibrated", "laid-down"]

#: Header keywords of a chart's reference.
INK_SPACE, CURVES_DIGEST = "INK_SPACE", "CURVES_DIGEST"

# Rounding of limits and codes.
_SAME = 1e-6


def ink_space_keywords(spaces: InkSpaces, space: InkSpaceName = "calibrated") -> dict[str, str]:
    """Return the header keywords of a chart: the space of its amounts, and the curves it goes through.

    A chart in laid-down ink is printed without tone curves; light-ink split and drop curves stay.
    """
    through = spaces if space == "calibrated" else spaces.straight()
    return {INK_SPACE: space, CURVES_DIGEST: through.curves_digest}


def check_ink_space(readings: ReadingSet, spaces: InkSpaces | None) -> None:
    """Refuse readings that were printed through other curves than those given.

    Parameters
    ----------
    readings : ReadingSet
        With or without the keywords of `ink_space_keywords`; without them they come from elsewhere,
        and what their amounts mean is their own affair: straight curves.
    spaces : InkSpaces or None
        Curves of the condition; None stands for straight ones.

    Raises
    ------
    InputError
        Readings say other curves, or laid-down ink; or curves stand against readings that say none.
    """
    stated = readings.keywords.get(CURVES_DIGEST)
    wanted = IDENTITY if spaces is None else spaces.curves_digest
    space = readings.keywords.get(INK_SPACE, "calibrated")
    path = readings.source or None
    if (stated or IDENTITY) == wanted == IDENTITY or (stated is None and spaces and spaces.is_straight):
        return
    if stated is None:
        raise InputError(
            "readings do not say which curves they were printed through",
            path=path,
            expected=f"{CURVES_DIGEST} {wanted[:19]} in the header",
            advice="Put the readings on the reference of the chart that was made for these curves, with "
            "'readings assign'",
        )
    if space != "calibrated":
        raise InputError(
            "readings are of laid-down ink, printed without the tone curves",
            path=path,
            where=f"keyword {INK_SPACE}",
            found=space,
            expected="calibrated",
            advice="Find limits and curves with them, then print the characterisation chart",
        )
    if stated != wanted:
        raise InputError(
            "readings were printed through other curves",
            path=path,
            where=f"keyword {CURVES_DIGEST}",
            found=stated[:19],
            expected=wanted[:19],
            advice="Give the curves that the chart was printed through, or print it again through these",
        )


def calibrated_limits(spaces: InkSpaces) -> InkLimits:
    """Return limits in calibrated ink that hold the total of laid-down ink."""
    convex = convex_limits(spaces)
    if convex is not None:
        most, held = convex
        return InkLimits(most, held.weights, held.total, curves=held.curves)
    per_ink, weights, total = straight_limits(spaces)
    return InkLimits(per_ink, weights, min(total, float(per_ink @ weights)))


def held_limits(limits: InkLimits, spaces: InkSpaces) -> InkLimits:
    """Return limits lowered as far as other curves ask for, so that the laid-down total holds.

    Weights stay, so that recipes below the total stay what they were. The same limits where they hold.

    Parameters
    ----------
    limits : InkLimits
        In calibrated ink, found for curves of before.
    spaces : InkSpaces
        With the curves of today.
    """
    if limits.curves is None:
        per_ink, most = most_under_weights(spaces, limits.weights)
    else:
        per_ink, most = most_under_curves(spaces, limits.curves)
    if limits.total <= most + _SAME and (limits.per_ink <= per_ink + _SAME).all():
        return limits
    return replace(limits, per_ink=np.minimum(limits.per_ink, per_ink), total=min(limits.total, most))


def inks_by_name_only(spaces: InkSpaces, process_inks: Sequence[str] = ()) -> tuple[str, ...]:
    """Return the calibrated inks that no colour is separated into.

    White, clear, fluorescent and metallic inks, unless they are named as process inks; where there
    are no other inks, none.
    """
    roles = {ink.name: ink.role for ink in spaces.inks}
    special = tuple(
        name for name in spaces.channels if roles[name] in BY_NAME_ONLY and name not in process_inks
    )
    return special if len(special) < len(spaces.channels) else ()


def without_named(limits: InkLimits, spaces: InkSpaces, process_inks: Sequence[str] = ()) -> InkLimits:
    """Return limits that leave no ink that is reached by name only."""
    named = inks_by_name_only(spaces, process_inks)
    if not named:
        return limits
    return limits.without(np.array([name in named for name in spaces.channels]))


def ramp_space(readings: ReadingSet, spaces: InkSpaces) -> tuple[InkSpaceName, tuple[Problem, ...]]:
    """Return the space of the amounts of a ramp that was printed through ink spaces.

    Parameters
    ----------
    readings : ReadingSet
        Ramps, printed through all curves (calibrated ink) or without the tone curves (laid-down ink).
    spaces : InkSpaces
        What they are to have been printed through.

    Returns
    -------
    space : {"calibrated", "laid-down"}
        Laid-down where there is no difference, and where the readings say nothing.
    problems : tuple of Problem
        A warning in that last case.

    Raises
    ------
    InputError
        When the readings say other curves.
    """
    stated = readings.keywords.get(CURVES_DIGEST)
    straight = spaces.straight().curves_digest
    if stated is None:
        message = "readings do not say what they were printed through; no tone curves are assumed"
        problem = Problem("warning", f"keyword {CURVES_DIGEST}", message, expected=straight[:19])
        return "laid-down", () if spaces.straight().is_straight else (problem,)
    if stated == straight:
        return "laid-down", ()
    if stated == spaces.curves_digest and readings.keywords.get(INK_SPACE, "calibrated") == "calibrated":
        return "calibrated", ()
    known = {straight: "without tone curves"}
    known.setdefault(spaces.curves_digest, "with them")
    raise InputError(
        "readings were printed through other curves",
        path=readings.source or None,
        where=f"keyword {CURVES_DIGEST}",
        found=stated[:19],
        expected=" or ".join(f"{digest[:19]} ({words})" for digest, words in known.items()),
        advice="Print the ramps through these inks and this screen, and read them again",
    )
