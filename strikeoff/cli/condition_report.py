"""``strikeoff condition report``: a condition on a page and on paper."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Command
from strikeoff.cli.params import file_path, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("report", cls=Command)
@click.argument("condition", metavar="COND", type=file_path)
@click.option("--out", metavar="FILE.html", type=written_path, required=True, help="Page or folder to write.")
@click.option("--pdf", metavar="FILE.pdf", type=written_path, help="PDF to write.")
@click.pass_obj
def report(call: Call, /, condition: Path, out: Path, pdf: Path | None) -> Result:
    """Write what is known of COND as a page, and on paper."""
    from strikeoff import workbench

    return workbench.report_condition(condition, out, pdf=pdf, progress=call.progress)
