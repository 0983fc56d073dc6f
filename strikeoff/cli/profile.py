"""``strikeoff profile``: ICC profiles of a condition."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeoff.cli.command import Group
from strikeoff.cli.params import file_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result

group = Group("profile", help="ICC profiles of a condition.")


@group.command("write")
@click.argument("condition", metavar="COND", type=file_path)
@click.option(
    "--version",
    type=click.Choice(["2", "4"]),
    default="4",
    show_default=True,
    help="Profile version: 2 is ICC.1:2001-04 (2.4), 4 is ICC.1:2022 (4.4).",
)
@click.option("--out", metavar="FILE.icc", type=file_path, required=True, help="Profile to write.")
def write(condition: Path, version: str, out: Path) -> Result:
    """Write the output profile of COND."""
    from strikeoff import workbench

    return workbench.write_profile(condition, out, version=2 if version == "2" else 4)
