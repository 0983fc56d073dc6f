"""``strikeoff readings``: files of measured patches."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeoff.cli.command import Group
from strikeoff.cli.params import INK_SCALE, file_path

if TYPE_CHECKING:
    from strikeoff.workbench.readings import InkScale
    from strikeoff.workbench.result import Result

group = Group("readings", help="Files of measured patches.")


@group.command("check")
@click.argument("readings", metavar="FILE", type=file_path)
@click.option(
    "--ink-scale", type=INK_SCALE, default="percent", show_default=True, help="What full ink is in the file."
)
def check(readings: Path, ink_scale: InkScale) -> Result:
    """Say what FILE holds and what is wrong with it."""
    from strikeoff import workbench

    return workbench.check_readings(readings, ink_scale=ink_scale)
