"""What a model can reach under its limits: the inverse, the darkest neutral and the gamut boundary."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.colour.weights import Illuminant, canonical_observer, weighting_factors, white_point
from strikeoff.condition.greys import GreyShift
from strikeoff.condition.pcs import Connection
from strikeoff.condition.record import Condition
from strikeoff.model.black import BlackPolicy
from strikeoff.model.forward import LabModel, View
from strikeoff.model.gamut import GamutBoundary, find_boundary
from strikeoff.model.inverse import make_inverse, solve
from strikeoff.model.limits import InkLimits, pairs_never_printed
from strikeoff.model.solved_nodes import SolvedNodes, solved_nodes
from strikeoff.model.table import PartlyTabulated, TabulatedModel
from strikeoff.model.ways import Inverse, has_many
from strikeoff.qualify.media_white import aside_problem, find_white, white_places, white_problem

FloatArray = NDArray[np.float64]

# How far from grey a neutral may be, and whether lighter ones may be further; wider where inks cannot hold
# greys and the darkest neutral would be that much lighter than the black ink. [CIEDE2000], [L*]
_NEUTRAL_REACHED = ((0.5, False), (1.0, False), (2.0, False), (4.0, False), (4.0, True))
_FAR_LIGHTER = 15.0
# How much darker than all patches that were printed a neutral may be: models of few readings see blacks that
# are not there. [L*]
_DEEPER = 2.0
# A black point that was given counts as reached so close to the darkest neutral. [L*]
_BLACK_SLACK = 1.0
_GREY_ROUNDS = 3


@dataclass(frozen=True)
class Reach:
    """What a model can reach.

    Attributes
    ----------
    white_recipe : ndarray, shape (n_inks,), or None
        What white is printed with where inks are lighter than the cloth; None where it is the bare cloth.
    table : TabulatedModel or None
        The model on a grid of the inks that are used, up to four.
    black_lab : ndarray, shape (3,)
        What black is scaled to, media-relative Lab: the darkest neutral unless the policy says otherwise.
    boundary : GamutBoundary
        Media-relative gamut, with the policy's greys on its axis.
    policy : BlackPolicy
        As used.
    neutral_l : float
        Absolute L* of the darkest neutral that can be reached.
    nodes : SolvedNodes
        Of the field of recipes, which need not be solved again.
    """

    white_recipe: FloatArray | None
    table: TabulatedModel | None
    black_lab: FloatArray
    boundary: GamutBoundary
    policy: BlackPolicy
    neutral_l: float
    nodes: SolvedNodes

    def black_problem(self) -> Problem | None:
        """Return a warning where the black point that was given is darker than every neutral."""
        given = self.policy.point_lab
        if given is None or given[0] >= self.neutral_l - _BLACK_SLACK:
            return None
        return Problem(
            "warning",
            "black point",
            "darker than this press prints a neutral on this cloth",
            f"L* {given[0]:.1f} asked for",
            f"L* {self.neutral_l:.1f} or lighter; that is the darkest neutral under the limits",
            f"Black is scaled to L* {given[0]:.1f} as asked, so that neutrals which land between the two all "
            f"print as L* {self.neutral_l:.1f} and shadows lose detail; the black point 'neutral' keeps it",
        )


def find_reach(
    native: LabModel,
    names: tuple[str, ...],
    limits: InkLimits,
    policy: BlackPolicy,
    step: Callable[[float], None] = lambda fraction: None,
    *,
    cloth_is_white: bool = False,
    called_white: Sequence[int] = (),
) -> Reach:
    """Tabulate a model and find how far its colours go; on request the cloth is white whatever inks do.

    Inks that are called white go before others where white is sought.
    """
    inverse = make_inverse(native, names, limits, policy, printed=native.free.centres)
    quick = inverse.quick.table if isinstance(inverse.quick, PartlyTabulated) else inverse.quick
    table = quick if isinstance(quick, TabulatedModel) else None
    white = None if cloth_is_white else find_white(inverse, native, limits, called_white)
    media = np.zeros(limits.per_ink.size) if white is None else white
    connection = Connection(native.view.white, native.lab(media[None])[0])
    deepest = float(darkest_patch(native, limits)[0]) - _DEEPER
    greys, neutral = _darkest_neutral(inverse, connection, deepest)
    black = neutral
    if policy.grey != "cloth":
        black = connection.to_relative(greys.onto(connection.from_relative(neutral[None])))[0]
    if policy.point_lab is not None:
        black = connection.to_relative(np.array([policy.point_lab]))[0]
    elif policy.point == "patch":
        black = connection.to_relative(darkest_patch(native, limits)[None])[0]
    # The greys that the condition will have, whatever black is.
    greys = replace(greys, black_l=float(connection.from_relative(black[None])[0, 0]))
    boundary = find_boundary(
        lambda lab: solve(inverse, greys.onto(connection.from_relative(lab)), exact=False).de00,
        float(neutral[0]),
        step,
    )
    neutral_l = float(connection.from_relative(neutral[None])[0, 0])
    nodes = solved_nodes(inverse.field, inverse.dark_end)
    return Reach(white, table, black, boundary, inverse.policy, neutral_l, nodes)


def darkest_patch(native: LabModel, limits: InkLimits) -> FloatArray:
    """Return the absolute Lab, shape (3,), of the darkest recipe that was printed within the limits."""
    printed = native.free.centres
    legal = printed[limits.legal(printed, 1e-6)]
    lab = native.lab(legal if len(legal) else np.diag(limits.per_ink))
    return np.asarray(lab[lab[:, 0].argmin()])


def apart_problem(native: LabModel, names: tuple[str, ...], limits: InkLimits) -> Problem | None:
    """Return a note of the pairs of inks that recipes for colours keep apart, if any."""
    used = limits.per_ink > 0
    pairs = pairs_never_printed(native.free.centres, used) if has_many(limits) else ()
    if not pairs:
        return None
    return Problem(
        "note",
        "recipes for colours",
        "some pairs of inks were never printed together; no recipe mixes them unless artwork names the inks",
        found=", ".join(f"{names[i]} + {names[j]}" for i, j in pairs),
        advice="Add overprints of a pair to the chart where its colours are wanted",
    )


def lighter_problem(condition: Condition, *, fresh: bool = False) -> Problem | None:
    """Return what white is where recipes for colours reach colours lighter than the bare cloth.

    A fresh condition takes the cloth for white only where no lighter neutral is reached, and is told too of a
    white ink that is left aside.
    """
    if not condition.reaches_beyond_cloth:
        return aside_problem(condition) if fresh else None
    if condition.white_recipe is not None:
        return white_problem(condition)
    advice = "Ask for colours with 'condition match' or as named ones, or separate with --intent absolute"
    if not fresh:
        advice += "; built again, a condition takes the lightest neutral for white where inks reach one"
    return Problem(
        "warning",
        "bare cloth",
        "inks are lighter than the cloth"
        + (", but reach no lighter grey" if fresh else "")
        + ", which this condition takes for white: with its profiles and all intents but absolute, colours "
        "lighter than the cloth come out no lighter than it",
        advice=advice,
    )


def relight(
    condition: Condition,
    light: Illuminant,
    name: str,
    observer: str | None = None,
    progress: Progress = silent,
) -> Condition:
    """Return a condition as it looks under another light, without profiles.

    Parameters
    ----------
    condition : Condition
        With spectra.
    light : str or (wavelengths, power)
        CIE illuminant or measured light.
    name : str
        What the light is called.
    observer : {"2", "10"}, optional
        The condition's own by default. [degrees]
    progress : Progress
        Told what goes on.

    Raises
    ------
    UsageError
        When the condition has no spectra.
    """
    eye = canonical_observer(observer or condition.setup.observer)
    if condition.wavelengths_nm is None:
        raise UsageError(
            "this condition was made from readings without spectra and knows one light only",
            found=f"{name}/{eye}",
            expected=f"{condition.setup.illuminant}/{condition.setup.observer}",
            advice="Measure the chart with a spectral instrument, or leave the light out",
        )
    view = View(weighting_factors(light, eye, condition.wavelengths_nm), white_point(light, eye))
    relit = replace(
        condition,
        setup=replace(condition.setup, illuminant=name, observer=eye),
        native=condition.forward.under(view),
    )
    return reached_again(relit, progress)


def reached_again(condition: Condition, progress: Progress = silent) -> Condition:
    """Return a condition of other light or limits with the reach that it has now, without profiles.

    Where the cloth was white it stays so.
    """
    reach = find_reach(
        condition.native,
        condition.spaces.channels,
        condition.recipe_limits,
        condition.policy,
        lambda f: progress("find the gamut", f),
        cloth_is_white=condition.white_recipe is None,
        called_white=white_places(condition.spaces),
    )
    again = replace(
        condition,
        white_recipe=reach.white_recipe,
        table=reach.table,
        black_lab=reach.black_lab,
        boundary=reach.boundary,
        profiles={},
    )
    return again.keeping(reach.nodes)


def _darkest_neutral(
    inverse: Inverse, connection: Connection, deepest: float
) -> tuple[GreyShift, FloatArray]:
    """Return the greys, and the darkest that can be reached as media-relative Lab before their shift.

    Black alone, or with one more ink, has a hue of its own and holds no grey: its own tints are the neutrals.
    Models of a few dozen readings miss greys here and there, on the way to darker ones that they reach.
    """
    for slack, gaps in _NEUTRAL_REACHED:
        greys, neutral = _darkest_within(inverse, connection, deepest, slack, gaps)
        if inverse.curve is None or inverse.black is None:
            break
        most = inverse.limits.per_ink[inverse.black]
        pure = float(np.interp(most, inverse.curve.ink[::-1], inverse.curve.lightness[::-1]))
        if float(connection.from_relative(neutral[None])[0, 0]) <= pure + _FAR_LIGHTER:
            break
    return greys, neutral


def _darkest_within(
    inverse: Inverse, connection: Connection, deepest: float, slack: float, gaps: bool
) -> tuple[GreyShift, FloatArray]:
    """Return the greys and the darkest, ``deepest`` at most, that is reached; without gaps, all lighter too.

    Fading greys end at black, and where black is depends on them: each round starts from the last.
    """
    ramp = np.zeros((201, 3))
    ramp[:, 0] = np.linspace(100.0, 0.0, 201)
    plain = connection.from_relative(ramp)
    greys = GreyShift(inverse.policy, connection, 0.0)
    darkest = last = max(int((plain[:, 0] >= deepest).sum()) - 1, 1)
    for _ in range(_GREY_ROUNDS if inverse.policy.grey == "fading" else 1):
        errors = solve(inverse, greys.onto(plain), exact=False).de00
        reached = np.append(errors[: darkest + 1] <= slack, False)
        reached[0] = True
        last = int(np.flatnonzero(reached)[-1]) if gaps else int(np.argmin(reached)) - 1
        last = max(last, 1)
        greys = replace(greys, black_l=float(plain[last, 0]))
    # Near enough is not there: black is what is reached, or shadows would end before it.
    reached = solve(inverse, greys.onto(plain[[last]])).lab
    lightness = connection.to_relative(greys.off(reached))[0, 0]
    neutral = np.array([max(float(lightness), float(ramp[last, 0])), 0.0, 0.0])
    return replace(greys, black_l=float(connection.from_relative(neutral[None])[0, 0])), neutral
