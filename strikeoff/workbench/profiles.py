"""ICC profiles of a condition: written, linked, and the design space."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal

from strikeoff.artwork.colour import profile_fault, profile_to_lab
from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes, write_bytes
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.condition.archive import read_condition
from strikeoff.condition.links import artwork_table
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import date_problems, print_problems, recipe_problems
from strikeoff.icc.device_link import device_link
from strikeoff.icc.evaluate import media_white
from strikeoff.icc.profile import read_profile
from strikeoff.measurement.light_file import light_name, read_light
from strikeoff.qualify.design_space import design_space
from strikeoff.qualify.profiles import (
    DATE,
    build_profiles,
    colorants,
    colour_space,
    light_words,
    tables_alone,
)
from strikeoff.qualify.reach import lighter_problem, relight
from strikeoff.workbench.result import Result
from strikeoff.workbench.undecided import light_problems

_PROFILE_BYTES = 64 << 20
_KINDS: dict[str, Literal["rgb", "grey", "cmyk"]] = {"RGB ": "rgb", "GRAY": "grey", "CMYK": "cmyk"}
_SPACES = {"rgb": "RGB", "grey": "GRAY", "cmyk": "CMYK"}
_NUMBERS = {"perceptual": 0, "relative": 1, "relative-bpc": 1, "saturation": 2, "absolute": 3}
_LINK_GRID = {"grey": 255}
# Volume of a design space over that of a gamut from which on the gamut is a sheet or a line. [-]
_FLAT = 50.0


def write_profile(
    condition: str | Path,
    out: str | Path,
    *,
    version: Literal[2, 4] = 4,
    illuminant: str | None = None,
    light: str | Path | None = None,
    observer: str | None = None,
    colours_only: bool = False,
    progress: Progress = silent,
) -> Result:
    """Write an ICC output profile of a condition.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    out : str or Path
        Profile to write.
    version : {2, 4}
        ICC version 2.4 or 4.4.
    illuminant : str, optional
        Light; the condition's own by default. Another needs spectra.
    light : str or Path, optional
        File of a measured light, two columns, in place of a named one.
    observer : str, optional
        The condition's own by default.
    colours_only : bool
        Leave out readings, tone curves and all else that its tables do not need, as for customers.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    record, _ = read_condition(condition)
    if illuminant is not None and light is not None:
        raise UsageError("two lights were named", expected="--illuminant or --light")
    own = (record.setup.illuminant, record.setup.observer)
    doubts: list[Problem] = []
    if light is not None:
        doubts = light_problems(record, light_name(light))
        record = relight(record, read_light(light), light_name(light), observer, progress)
    else:
        wanted = record.light(illuminant, observer)
        if wanted != own:
            doubts = light_problems(record, wanted[0])
            record = relight(record, wanted[0], wanted[0], wanted[1], progress)
    profiles = record.profiles or build_profiles(record, progress)
    data = tables_alone(profiles[version]) if colours_only else profiles[version]
    write_bytes(out, data)
    results = {
        "version": version,
        "light": {"illuminant": record.setup.illuminant, "observer": record.setup.observer},
        "bytes": len(data),
        "digest": digest_bytes(data),
    }
    words = light_words(record)
    holds = ", without readings and curves" if colours_only else ""
    line = f"ICC version {version} profile under {words}{holds}, {len(data)} bytes"
    problems = (*doubts, *print_problems(record))
    return Result(results, problems, (Path(out),), "done", (line,))


def link_profile(
    condition: str | Path,
    out: str | Path,
    *,
    artwork_profile: str | Path,
    intent: str = "perceptual",
    version: Literal[2, 4] = 4,
    progress: Progress = silent,
) -> Result:
    """Write an ICC device link from an artwork profile to a condition's inks.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    out : str or Path
        Device link to write.
    artwork_profile : str or Path
        ICC profile of the artwork, or ``srgb``.
    intent : {"perceptual", "relative", "relative-bpc", "absolute", "saturation"}
        Rendering intent.
    version : {2, 4}
        ICC version 2.4 or 4.4.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    record, digest = read_condition(condition)
    data, kind, source, white = _artwork_profile(artwork_profile)
    reading = "perceptual" if intent == "perceptual" else "relative"
    table = artwork_table(
        record,
        kind,
        lambda values: profile_to_lab(data, kind, values, reading),
        intent,
        source_white=white,
        size=_LINK_GRID.get(kind),
        step=lambda f: progress("compute the link", f),
    )
    made = device_link(
        version=version,
        source_space=_SPACES[kind],
        target_space=colour_space(record),
        nodes=table.nodes,
        shapers=table.shapers,
        intent=_NUMBERS[intent],
        description=f"{source} to {record.name}, {intent}",
        copyright_text="Made by strikeoff; free to use.",
        sequence=(source, record.name),
        date=DATE,
        colorants=colorants(record),
    )
    write_bytes(out, made)
    results = {
        "version": version,
        "intent": intent,
        "source": source,
        "source_digest": None if data is None else digest_bytes(data),
        "colour_spaces": [_SPACES[kind], colour_space(record)],
        "grid": table.grid,
        "bytes": len(made),
        "digest": digest_bytes(made),
        "link": table.digest,
        "condition": digest,
    }
    problems = (*recipe_problems(record), *_old_white(record))
    line = f"device link {_SPACES[kind]} to {colour_space(record)}, {intent}, {table.grid} nodes per channel"
    return Result(results, problems, (Path(out),), "done", (line,))


def _old_white(record: Condition) -> tuple[Problem, ...]:
    problem = None if record.white_recipe is not None else lighter_problem(record)
    return () if problem is None else (problem,)


def design_rgb(condition: str | Path, out: str | Path, *, version: Literal[2, 4] = 2) -> Result:
    """Write an RGB working space wrapped around a condition's gamut.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    out : str or Path
        ICC profile to write.
    version : {2, 4}
        ICC version 2.4, which every application reads, or 4.4.

    Returns
    -------
    Result
    """
    record, digest = read_condition(condition)
    space = design_space(record)
    made = space.profile(record.name, digest, version)
    write_bytes(out, made)
    results = {
        "version": version,
        "bytes": len(made),
        "digest": digest_bytes(made),
        "condition": digest,
        "primaries_xy": [[round(float(v), 4) for v in xy] for xy in space.primaries_xy],
        "gamma": space.gamma,
        "covered_share": round(space.covered, 4),
        "largest_loss_de": round(space.largest_loss, 2),
        "volume_ratio": round(space.volume_ratio, 3),
    }
    lines = (
        f"covers {100 * space.covered:.1f} % of the gamut of {record.name}, "
        f"largest loss {space.largest_loss:.1f} CIELAB units",
        f"{_volume_words(space.volume_ratio)}; gamma {space.gamma:g}",
    )
    return Result(results, date_problems(record.goods), (Path(out),), "done", lines)


def _volume_words(ratio: float) -> str:
    """Return how much larger than the gamut a space is; that of one or two inks is a line or a sheet.

    Examples
    --------
    >>> _volume_words(3.3), _volume_words(707996.9)
    ('3.30 times its volume', 'the gamut is too flat to compare volumes')
    """
    return f"{ratio:.2f} times its volume" if ratio < _FLAT else "the gamut is too flat to compare volumes"


def _artwork_profile(
    path: str | Path,
) -> tuple[bytes | None, Literal["rgb", "grey", "cmyk"], str, Any]:
    """Return bytes, kind of artwork, name and media white of a profile; None and sRGB for ``srgb``."""
    if str(path).lower() == "srgb":
        return None, "rgb", "sRGB", None
    data = read_bytes(path, _PROFILE_BYTES)
    try:
        profile = read_profile(data)
    except InputError as error:
        error.path = error.path or str(path)
        raise
    kind = _KINDS.get(profile.header.colour_space)
    if kind is None:
        raise UsageError(
            "no profile of artwork",
            found=profile.header.colour_space.strip(),
            expected="a profile for RGB, grey or CMYK",
        )
    fault = profile_fault(data, kind)
    if fault is not None:
        raise InputError(
            "the artwork profile cannot be used",
            path=path,
            found=fault,
            expected="a display, scanner, printer or colour space profile of that artwork",
            advice="Take the profile that the artwork carries, or srgb",
        )
    white = None if profile.header.device_class == "mntr" else media_white(profile)
    return data, kind, Path(path).name, white
