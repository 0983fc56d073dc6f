"""``strikeoff profile``: ICC profiles of a condition."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Group
from strikeoff.cli.params import file_path, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result

group = Group("profile", help="ICC profiles of a condition.")

_Command = TypeVar("_Command", bound=Callable[..., Any])

_INTENTS = ["perceptual", "relative", "relative-bpc", "saturation", "absolute"]


def _version(default: str) -> Callable[[_Command], _Command]:
    return click.option(
        "--version",
        type=click.Choice(["2", "4"]),
        default=default,
        show_default=True,
        help="Profile version: 2 is ICC.1:2001-04 (2.4), 4 is ICC.1:2022 (4.4).",
    )


@group.command("write")
@click.argument("condition", metavar="COND", type=file_path)
@_version("4")
@click.option("--illuminant", metavar="NAME", help="Light, such as D50, D65, A or FL2.")
@click.option("--light", metavar="FILE", type=file_path, help="Measured light: wavelength and power.")
@click.option("--observer", metavar="DEGREES", help="CIE observer, 2 or 10 degrees.")
@click.option("--colours-only", is_flag=True, help="Leave out readings and curves, as for customers.")
@click.option("--out", metavar="FILE.icc", type=written_path, required=True, help="Profile to write.")
@click.pass_obj
def write(call: Call, /, condition: Path, version: str, out: Path, **options: Any) -> Result:
    """Write the output profile of COND."""
    from strikeoff import workbench

    number: Any = int(version)
    return workbench.write_profile(condition, out, version=number, **options, progress=call.progress)


@group.command("inspect")
@click.argument("profile", metavar="PROFILE", type=file_path)
@click.option(
    "--condition", metavar="COND", type=file_path, help="Condition by whose weights the most ink is told."
)
def inspect(profile: Path, condition: Path | None) -> Result:
    """Say what PROFILE holds and what is wrong with it."""
    from strikeoff import workbench

    return workbench.inspect_profile(profile, condition=condition)


@group.command("link")
@click.argument("condition", metavar="COND", type=file_path)
@click.option(
    "--artwork-profile", metavar="FILE.icc", type=file_path, required=True, help="Artwork's profile, or srgb."
)
@click.option(
    "--intent",
    type=click.Choice(_INTENTS),
    default="perceptual",
    show_default=True,
    help="Rule for colours that the inks cannot reach, and for white and black.",
)
@_version("4")
@click.option("--out", metavar="LINK.icc", type=written_path, required=True, help="Device link to write.")
@click.pass_obj
def link(
    call: Call, /, condition: Path, artwork_profile: Path, intent: str, version: str, out: Path
) -> Result:
    """Write a device link from an artwork profile to the inks of COND."""
    from strikeoff import workbench

    number: Any = int(version)
    return workbench.link_profile(
        condition,
        out,
        artwork_profile=artwork_profile,
        intent=intent,
        version=number,
        progress=call.progress,
    )


@group.command("design-rgb")
@click.argument("condition", metavar="COND", type=file_path)
@_version("2")
@click.option("--out", metavar="RGB.icc", type=written_path, required=True, help="Profile to write.")
def design_rgb(condition: Path, version: str, out: Path) -> Result:
    """Write an RGB working space wrapped around the gamut of COND."""
    from strikeoff import workbench

    number: Any = int(version)
    return workbench.design_rgb(condition, out, version=number)
