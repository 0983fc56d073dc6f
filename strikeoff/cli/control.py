"""``strikeoff control``: readings against limits."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeoff.cli.command import Group
from strikeoff.cli.params import INK_SCALE, file_path, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.readings import InkScale
    from strikeoff.workbench.result import Result

group = Group("control", help="Readings against limits.")


@group.command("verify")
@click.argument("condition", metavar="COND", type=file_path)
@click.argument("readings", metavar="READINGS", type=file_path)
@click.option("--tolerances", metavar="FILE", type=file_path, help="Limits (TOML); a usual set by default.")
@click.option(
    "--ink-scale", type=INK_SCALE, default="percent", show_default=True, help="What full ink is in the file."
)
@click.option("--out", metavar="FILE.json", type=written_path, help="Verdict to write.")
def verify(
    condition: Path, readings: Path, tolerances: Path | None, ink_scale: InkScale, out: Path | None
) -> Result:
    """Judge READINGS of a control strip against COND: pass, fail or undecided."""
    from strikeoff import workbench

    return workbench.verify(condition, readings, tolerances=tolerances, out=out, ink_scale=ink_scale)
