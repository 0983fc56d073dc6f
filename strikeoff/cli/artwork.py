"""``strikeoff artwork``: customers' images."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Group
from strikeoff.cli.params import file_path, number

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result

group = Group("artwork", help="Customers' images.")


@group.command("separate")
@click.argument("condition", metavar="COND", type=file_path)
@click.argument("image", metavar="IMAGE", type=file_path)
@click.option(
    "--intent",
    type=click.Choice(["perceptual", "relative", "relative-bpc", "saturation", "absolute"]),
    default="perceptual",
    show_default=True,
    help="Rule for colours that the inks cannot reach, and for white and black.",
)
@click.option(
    "--assume-profile", metavar="FILE.icc", type=file_path, help="Profile for an image that carries none."
)
@click.option("--dpi", metavar="DPI", type=number, help="Resolution of the image, in place of its own.")
@click.option("--out", metavar="PLANES.tif", type=file_path, required=True, help="Ink planes to write.")
@click.pass_obj
def separate(
    call: Call,
    condition: Path,
    image: Path,
    intent: str,
    assume_profile: Path | None,
    dpi: float | None,
    out: Path,
) -> Result:
    """Turn IMAGE (TIFF, JPEG or PNG) into ink planes for COND."""
    from strikeoff import workbench

    return workbench.separate(
        condition,
        image,
        out,
        intent=intent,
        assume_profile=assume_profile,
        dpi=dpi,
        progress=call.progress,
    )
