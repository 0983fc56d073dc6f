"""Make a condition from readings, and look at it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import keep_inputs, read_bytes
from strikeoff.base.problems import raise_first_error
from strikeoff.base.progress import Progress, silent
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.standing import date_problems, standing_problems
from strikeoff.inks.goods import Goods
from strikeoff.inks.press_file import judged_over_white, read_goods, read_inks
from strikeoff.inks.roles import special_role
from strikeoff.inks.spaces import InkSpaces
from strikeoff.measurement.text import MAX_BYTES
from strikeoff.qualify.build import build_condition as qualify
from strikeoff.qualify.profiles import build_profiles
from strikeoff.qualify.reach import lighter_problem
from strikeoff.workbench.black import make_policy
from strikeoff.workbench.condition_noticed import noticed_line
from strikeoff.workbench.condition_told import describe, summary
from strikeoff.workbench.far_off import far_off_notes
from strikeoff.workbench.readings import InkScale, data_label, load_checked
from strikeoff.workbench.result import Result
from strikeoff.workbench.settled import channel_roles, with_known_roles
from strikeoff.workbench.undecided import mode_notes


def build_condition(
    readings: str | Path,
    out: str | Path,
    *,
    total_ink: float | None = None,
    limits: str | Path | None = None,
    curves: str | Path | None = None,
    ink_scale: InkScale = "percent",
    goods: str | Path | None = None,
    name: str | None = None,
    illuminant: str | None = None,
    observer: str | None = None,
    black_start: float | None = None,
    black_width: float | None = None,
    black_maximum: float | None = None,
    black_strength: float | None = None,
    black_reach: float | None = None,
    black_point: str | None = None,
    grey: str | None = None,
    grey_fade: float | None = None,
    pure_black: bool = False,
    pure_inks: bool = False,
    process_inks: Sequence[str] = (),
    progress: Progress = silent,
) -> Result:
    """Make a condition file from readings.

    Parameters
    ----------
    readings : str or Path
        ISO 28178 text or CSV with inks and spectra, XYZ or Lab.
    out : str or Path
        Condition file to write.
    total_ink : float, optional
        Total ink limit, laid down; that of limits or curves, else the highest sum in the readings. [%]
    limits : str or Path, optional
        File of ink limits for readings that were printed without curves.
    curves : str or Path, optional
        Curves that the readings were printed through; they hold the limits too.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the readings.
    goods : str or Path, optional
        File with the press, cloth and finishing that it holds for; of those in limits or curves it replaces
        the tables that it has.
    name : str, optional
        Name of the condition; that of the file by default.
    illuminant, observer : str, optional
        Light and observer of the condition; the readings' own by default.
    black_start, black_width : float, optional
        Lightness at which black begins, and over which it comes. [L*]
    black_maximum, black_strength : float, optional
        Most black; share of the most black possible. [%]
    black_reach : float, optional
        Chroma at which black has fallen to half: small keeps black to neutrals. [C*]
    black_point : str, optional
        ``neutral``, the darkest neutral that can be reached, by default; ``patch``, the darkest
        patch printed within the limits; or absolute Lab as ``L,A,B``.
    grey : {"cloth", "fading", "absolute"}, optional
        What neutral means; the cloth's own colour scaled down by default.
    grey_fade : float, optional
        With fading greys: share of the cloth's a*, b* gone at black. [%]
    pure_black, pure_inks : bool
        Whether artwork's own black prints with black alone, and full inks with their namesakes alone.
    process_inks : sequence of str
        White, clear, fluorescent or metallic inks that colours are separated into nevertheless.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    keep_inputs(out, readings)
    measured, problems = load_checked(readings, ink_scale)
    raise_first_error(problems, readings)
    spaces, recorded = _spaces(limits, curves)
    if goods is not None:
        recorded = read_goods(goods).over(recorded)
    roles = [special_role(name) for name in measured.inks] if spaces is None else channel_roles(spaces)
    problems += mode_notes(measured.setup, recorded.cloth, problems, glows="fluorescent" in roles)
    if spaces is not None:
        problems = with_known_roles(problems, measured, channel_roles(spaces))
    known = measured.inks if spaces is None else [ink.name for ink in spaces.inks]
    _check_inks(recorded, known, goods or limits or curves)
    condition = qualify(
        measured,
        read_bytes(readings, MAX_BYTES),
        name=name or Path(out).stem,
        label=data_label(measured),
        total_ink=None if total_ink is None else total_ink / 100.0,
        spaces=spaces,
        policy=make_policy(
            start=black_start,
            width=black_width,
            maximum=black_maximum,
            strength=black_strength,
            reach=black_reach,
            point=black_point,
            grey=grey,
            grey_fade=grey_fade,
            pure_black=pure_black,
            pure_inks=pure_inks,
        ),
        process_inks=tuple(process_inks),
        illuminant=illuminant,
        observer=observer,
        problems=tuple(problems),
        progress=progress,
    )
    noticed = (*condition.problems, *far_off_notes(condition, measured))
    profiles = build_profiles(condition, progress)
    over = None if spaces is None else judged_over_white(limits, curves)
    condition = replace(condition, profiles=profiles, goods=recorded, problems=noticed, over_white=over)
    digest = write_condition(out, condition)
    progress("write the condition", 1.0)
    told = (*condition.problems, *date_problems(recorded))
    facts = summary(condition, digest)
    return Result(facts, told, (Path(out),), "done", describe(condition, digest, facts["expected_de00"]))


def _spaces(limits: str | Path | None, curves: str | Path | None) -> tuple[InkSpaces | None, Goods]:
    if limits is not None and curves is not None:
        raise UsageError("curves hold the ink limits already", expected="--limits or --curves")
    return (None, Goods()) if limits is None and curves is None else read_inks(limits, curves)


def _check_inks(goods: Goods, known: Sequence[str], path: str | Path | None) -> None:
    """Refuse lots of inks that the condition will not have."""
    strangers = [ink.name for ink in goods.inks if ink.name not in known]
    if strangers:
        raise InputError(
            "an ink with a lot or a full name is none of the condition's",
            path=path,
            where="ink",
            found=", ".join(strangers),
            expected=", ".join(known),
        )


def show_condition(condition: str | Path) -> Result:
    """Say what is in a condition file.

    Parameters
    ----------
    condition : str or Path
        Condition file.

    Returns
    -------
    Result
    """
    record, digest = read_condition(condition)
    problems = standing_problems(record)
    if record.white_recipe is None and all(known.where != "bare cloth" for known in record.problems):
        # Conditions of before this was told.
        old = lighter_problem(record)
        problems = problems if old is None else (*problems, old)
    facts = summary(record, digest)
    told = noticed_line(record.problems, "the report and --json")
    return Result(facts, problems, (), "done", (*describe(record, digest, facts["expected_de00"]), *told))
