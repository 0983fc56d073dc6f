"""ICC output profiles of a condition."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.progress import Progress, silent
from strikeoff.condition.record import Condition
from strikeoff.icc.colorants import Colorant
from strikeoff.icc.output import TableIntent, output_profile
from strikeoff.icc.output_tables import A2BTable, B2ATable
from strikeoff.icc.profile import Profile, read_profile, write_profile
from strikeoff.icc.tags.clrt import NAME_BYTES
from strikeoff.icc.tags.dictionary import Dictionary, encode
from strikeoff.icc.tags.view import ILLUMINANTS, ViewingConditions
from strikeoff.qualify.profile_facts import facts_metadata
from strikeoff.qualify.profile_grids import InkGrid, colour_axes, colour_to_inks, inks_to_colour

FloatArray = NDArray[np.float64]

# Tags with readings, curves and drop volumes.
_OF_THE_HOUSE = {"targ", "meta"}
_GAMUT_DE00 = 0.6
#: Date in all profiles, so that equal input gives equal bytes.
DATE = (2026, 1, 1, 0, 0, 0)
_TARG_LIMIT = 8 << 20
# ISO 3664:2009 P1: 2000 lx on a perfect diffuser is 637 cd/m2; the surround reflects a fifth of that.
_LUMINANCE, _SURROUND = 2000.0 / np.pi, 0.2


@dataclass(frozen=True)
class ProfileTables:
    """What profiles of either version hold.

    Attributes
    ----------
    a2b : A2BTable
        Inks to media-relative Lab, for all intents.
    b2a : dict of intent to B2ATable
        Colour to inks.
    gamut : B2ATable
        Out-of-gamut alarm.
    a2b_error : float
        Mean CIEDE2000 that reading the table adds to the model.
    b2a_errors : dict of intent to float
        The same of the tables to inks.
    """

    a2b: A2BTable
    b2a: dict[TableIntent, B2ATable]
    gamut: B2ATable
    a2b_error: float
    b2a_errors: dict[TableIntent, float]


def profile_tables(condition: Condition, progress: Progress = silent) -> ProfileTables:
    """Compute the tables of a condition's profiles."""
    progress("compute profile tables", 0.0)
    a2b, a2b_error = inks_to_colour(condition)
    axes = colour_axes(a2b)
    intents: tuple[TableIntent, ...] = ("relative", "perceptual", "saturation")
    grids: dict[TableIntent, InkGrid] = {}
    for number, intent in enumerate(intents):

        def step(fraction: float, done: int = number) -> None:
            progress("compute profile tables", 0.1 + 0.9 * (done + fraction) / len(intents))

        grids[intent] = colour_to_inks(condition, axes, intent, reach=grids.get("relative"), step=step)
    alarm = (grids["relative"].de00 > _GAMUT_DE00).astype(float)[..., None]
    return ProfileTables(
        a2b,
        {intent: B2ATable(grid.inks, axes) for intent, grid in grids.items()},
        B2ATable(alarm, axes),
        a2b_error,
        {intent: grid.error for intent, grid in grids.items()},
    )


def build_profiles(
    condition: Condition, progress: Progress = silent, *, tables: ProfileTables | None = None
) -> dict[int, bytes]:
    """Return the ICC v2 and v4 output profiles of a condition, by version.

    Parameters
    ----------
    condition : Condition
        Complete but for its profiles.
    progress : Progress
        Told what goes on.
    tables : ProfileTables, optional
        Those of the condition, when they have been computed.

    Returns
    -------
    dict of int to bytes
        ``{2: ..., 4: ...}``. The date in them is fixed, so that equal conditions are equal bytes.
    """
    tables = tables or profile_tables(condition, progress)
    link = condition.connection
    light = light_words(condition)
    white = "" if condition.white_recipe is None else f", white is {condition.white_words}"
    space = colour_space(condition)
    targ = condition.readings.decode("latin-1") if len(condition.readings) <= _TARG_LIMIT else None
    out = {}
    versions: tuple[tuple[int, FloatArray | None], ...] = ((2, None), (4, link.adaptation))
    for version, chad in versions:
        out[version] = output_profile(
            version=2 if version == 2 else 4,
            colour_space=space,
            description=f"{condition.name} ({light}{white})",
            copyright_text="Made by strikeoff from the readings inside; free to use.",
            white_xyz=link.media_white,
            a2b={"perceptual": tables.a2b, "relative": tables.a2b, "saturation": tables.a2b},
            b2a=tables.b2a,
            gamut=tables.gamut,
            date=DATE,
            chad=chad if condition.setup.illuminant != "D50" else None,
            targ=targ,
            colorants=colorants(condition),
            viewing=f"View under {light}{white}",
            viewing_light=_viewing(condition),
            technology="ijet",
            metadata=facts_metadata(condition.spaces, condition.process_inks),
        )
    return out


def with_facts(condition: Condition) -> dict[int, bytes]:
    """Return a condition's profiles with the same tables and what it knows of its inks today, by version.

    Tone curves that were made again leave the tables as they are, for these hold calibrated ink.
    """
    tag = encode(Dictionary(tuple(facts_metadata(condition.spaces, condition.process_inks).items())))
    profiles = {version: read_profile(data) for version, data in condition.profiles.items()}
    return {
        version: write_profile(Profile(profile.header, {**profile.tags, "meta": tag}))
        for version, profile in profiles.items()
    }


def tables_alone(data: bytes) -> bytes:
    """Return a profile without its readings and what it tells of its inks, as for eyes outside the house."""
    profile = read_profile(data)
    kept = {name: tag for name, tag in profile.tags.items() if name not in _OF_THE_HOUSE}
    return write_profile(Profile(profile.header, kept))


def light_words(condition: Condition) -> str:
    """Return the light and observer of a condition in words."""
    return f"{condition.setup.illuminant}, {condition.setup.observer} degree observer"


def colour_space(condition: Condition) -> str:
    """Return the ICC signature of a condition's inks."""
    if condition.inks == ("C", "M", "Y", "K"):
        return "CMYK"
    return "GRAY" if condition.n_inks == 1 else f"{condition.n_inks:X}CLR"


def colorants(condition: Condition) -> list[Colorant] | None:
    """Return names and media-relative Lab of the inks of an nCLR condition; None for other spaces.

    The table holds no L* above 100: inks lighter than what counts as white stand there with its lightness.
    It only names the inks; colours come from the other tables.
    """
    if not colour_space(condition).endswith("CLR"):
        return None
    solids = condition.connection.to_relative(condition.native.lab(np.eye(condition.n_inks)))
    names = [f"Ink {name}" if name.isdigit() else name[:NAME_BYTES] for name in condition.inks]
    return [
        (name, (min(100.0, float(lab[0])), float(lab[1]), float(lab[2])))
        for name, lab in zip(names, solids, strict=True)
    ]


def _viewing(condition: Condition) -> ViewingConditions:
    white = condition.native.view.white / condition.native.view.white[1] * _LUMINANCE
    number = ILLUMINANTS.get(condition.setup.illuminant, 0)
    return ViewingConditions(white, _SURROUND * white, number)
