"""``strikeoff roll marks``: marks in the waste between pieces."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.command import Command
from strikeoff.cli.params import file_path, names, number, size_mm, written_path
from strikeoff.cli.roll_outputs import cutter_options

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("marks", cls=Command)
@click.argument("layout", metavar="LAYOUT.json", type=file_path)
@click.option(
    "--marks", metavar="KIND,..", type=names, help="Of trim, register, cutter, code, fold, eyelet; all."
)
@cutter_options
@click.option(
    "--fold", metavar="WxH", type=size_mm, help="Folds, from the trim at the sides x above and below [mm]."
)
@click.option("--eyelets", metavar="MM", type=number, help="Eyelets at most so far apart [mm].")
@click.option("--job", metavar="TEXT", help="Begins the codes of pieces.")
@click.option("--positions", metavar="FILE", type=written_path, help="Positions to write, JSON or CSV.")
@click.option("--drawing", metavar="FILE", type=written_path, help="Drawing to write, SVG or PDF.")
def marks(layout: Path, **options: Any) -> Result:
    """Place marks in the waste between the pieces of LAYOUT.json."""
    from strikeoff import workbench

    return workbench.roll_marks(layout, **options)
