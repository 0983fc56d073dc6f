"""``strikeoff condition import``: a condition from a profile alone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Command
from strikeoff.cli.params import file_path, number, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("import", cls=Command)
@click.option("--profile", metavar="FILE.icc", type=file_path, required=True, help="Profile of the press.")
@click.option(
    "--total-ink",
    metavar="PCT",
    type=number,
    help="Most ink in one place; by default what the tables use [%].",
)
@click.option("--name", metavar="TEXT", help="Name of the condition.")
@click.option("--out", metavar="COND", type=written_path, required=True, help="Condition to write.")
@click.pass_obj
def import_condition(call: Call, /, profile: Path, out: Path, **options: Any) -> Result:
    """Make a condition from an ICC profile alone, without error figures."""
    from strikeoff import workbench

    return workbench.import_condition(profile, out, **options, progress=call.progress)
