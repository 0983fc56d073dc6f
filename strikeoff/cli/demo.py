"""``strikeoff demo``: the whole job once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Command
from strikeoff.cli.params import written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("demo", cls=Command)
@click.option("--out", metavar="DIR", type=written_path, required=True, help="Folder to write.")
@click.pass_obj
def demo(call: Call, out: Path) -> Result:
    """Do the whole job once: measured readings in, drop planes and a proof out."""
    from strikeoff import workbench

    return workbench.run_demo(out, progress=call.progress)
