"""``strikeoff chart``: patches to print and to measure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Group
from strikeoff.cli.params import dpi, file_path, ink_groups, names, number, numbers, size_mm, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result

group = Group("chart", help="Charts to print and to measure.")

_KINDS = [
    "characterisation", "first", "iso12642-2", "lot-check", "strip", "ink-limit", "total-ink",
    "linearisation", "grid",
]  # fmt: skip


def _page_options(command: Any) -> Any:
    """Add the options of everything that is printed as pages."""
    for option in (
        click.option("--out", metavar="DIR", type=written_path, required=True, help="Folder to write."),
        click.option("--seed", metavar="N", type=int, default=0, help="Of random places and points."),
        click.option("--laid-down", is_flag=True, help="Write what the heads get, tone curves applied."),
        click.option(
            "--bits", type=click.Choice(["16", "8"]), default="16", show_default=True, help="Bits per sample."
        ),
        click.option(
            "--dpi", metavar="X[xY]", type=dpi, default="300", help="Addressability, across x along."
        ),
        click.option(
            "--instrument",
            type=click.Choice(["hand", "strip", "table"]),
            default="hand",
            show_default=True,
            help="How the chart is read.",
        ),
        click.option("--patch", metavar="MM", type=number, help="Side of a patch [mm]."),
        click.option("--page", metavar="WxH", type=size_mm, help="Cloth or paper, across x along [mm]."),
        click.option("--repeats", metavar="N", type=int, help="Patches that are printed once more."),
        click.option("--patches", metavar="N", type=int, help="Different recipes."),
    ):
        command = option(command)
    return command


@group.command("make")
@click.option("--kind", type=click.Choice(_KINDS), required=True, help="What the chart is for.")
@click.option("--inks", metavar="C,M,…", type=names, help="Ink names in channel order.")
@click.option("--condition", metavar="COND", type=file_path, help="Condition that it is printed through.")
@click.option(
    "--curves",
    metavar="CURVES.json",
    type=file_path,
    help="Curves, or ink limits (.toml), that it is printed through.",
)
@click.option("--total-ink", metavar="PCT", type=number, help="Most ink in one place [%].")
@click.option("--combine", metavar="C+M,…", type=ink_groups, help="Inks printed together.")
@click.option("--steps", metavar="PCT,…", type=numbers, help="Sums of ink on the total ink page [%].")
@_page_options
@click.pass_obj
def make(call: Call, /, out: Path, **options: Any) -> Result:
    """Make a chart: planes to print, a preview, a reference."""
    from strikeoff import workbench

    return workbench.make_chart(out, **options, progress=call.progress)


@group.command("next")
@click.argument("condition", metavar="COND", type=file_path)
@click.option(
    "--artwork", metavar="FILE", type=file_path, multiple=True, help="Image or page whose colours matter."
)
@click.option("--spots", metavar="FILE.spots", type=file_path, help="Tint tables of its named colours.")
@click.option("--target", metavar="DE00", type=number, help="Expected mean error to stop at.")
@_page_options
@click.pass_obj
def next_(call: Call, /, condition: Path, out: Path, **options: Any) -> Result:
    """Propose the patches that most improve COND, as a chart."""
    from strikeoff import workbench

    return workbench.next_chart(condition, out, **options, progress=call.progress)
