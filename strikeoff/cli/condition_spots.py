"""``strikeoff condition spots``: named colours of a swatch book."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Command
from strikeoff.cli.params import file_path, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("spots", cls=Command)
@click.argument("condition", metavar="COND", type=file_path)
@click.argument("book", metavar="BOOK.toml", type=file_path)
@click.option("--page", metavar="FILE", type=written_path, help="Page or drawing to write: .html or .svg.")
@click.option("--out", metavar="FILE.spots", type=written_path, required=True, help="Tint tables to write.")
@click.pass_obj
def spots(call: Call, /, condition: Path, book: Path, out: Path, page: Path | None) -> Result:
    """Find how COND prints the named colours of BOOK."""
    from strikeoff import workbench

    return workbench.match_spots(condition, book, out, page=page, progress=call.progress)
