"""``strikeoff artwork``: customers' images."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

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
@click.option(
    "--dpi", metavar="DPI", type=number, help="Resolution of the image in place of its own; pitch of a page."
)
@click.option("--page", metavar="N", type=int, default=1, show_default=True, help="Page of a PDF.")
@click.option(
    "--box",
    type=click.Choice(["trim", "bleed", "crop", "media", "art"]),
    default="trim",
    show_default=True,
    help="Box of the page that is printed.",
)
@click.option(
    "--named",
    type=click.Choice(["ink", "fallback"]),
    default="ink",
    show_default=True,
    help="Named colours without an ink: refuse, or print a page's own alternate colours.",
)
@click.option("--out", metavar="PLANES.tif", type=file_path, required=True, help="Ink planes to write.")
@click.pass_obj
def separate(call: Call, /, condition: Path, image: Path, out: Path, **options: Any) -> Result:
    """Turn IMAGE (PDF, TIFF, JPEG, PNG or PSD) into ink planes for COND."""
    from strikeoff import workbench

    return workbench.separate(condition, image, out, **options, progress=call.progress)
