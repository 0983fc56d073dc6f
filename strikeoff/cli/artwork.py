"""``strikeoff artwork``: customers' images."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Group
from strikeoff.cli.lattice_options import lattice_details
from strikeoff.cli.params import dpi, file_path, number, size_mm, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result

group = Group("artwork", help="Customers' images.")

_INTENTS = ["perceptual", "relative", "relative-bpc", "saturation", "absolute"]
_INTENT = click.option(
    "--intent",
    type=click.Choice(_INTENTS),
    default="perceptual",
    show_default=True,
    help="Rule for colours that the inks cannot reach, and for white and black.",
)
_PROFILE = click.option(
    "--assume-profile", metavar="FILE.icc", type=file_path, help="Profile for an image that carries none."
)
_PAGE = click.option("--page", metavar="N", type=int, default=1, show_default=True, help="Page of a PDF.")
_BOX = click.option(
    "--box",
    type=click.Choice(["trim", "bleed", "crop", "media", "art"]),
    default="trim",
    show_default=True,
    help="Box of the page that is printed.",
)
_SPOTS = click.option(
    "--spots", metavar="FILE.spots", type=file_path, help="Tint tables of a swatch book for named colours."
)
_CONDITION = click.option(
    "--condition", metavar="COND", type=file_path, required=True, help="Condition that it is printed in."
)
_FINISHED = click.option(
    "--finished",
    metavar="WxH",
    type=size_mm,
    required=True,
    help="Size on the finished goods, across x along [mm].",
)


_UNDERBASE = (
    click.option("--underbase", metavar="INK", help="Ink, such as white, to lay under all others but clear."),
    click.option("--underbase-percent", metavar="PCT", type=number, help="Amount of it; 100 by default [%]."),
    click.option(
        "--choke-mm", metavar="MM", type=number, help="How far it ends inside the edge of the others [mm]."
    ),
    click.option("--spread-mm", metavar="MM", type=number, help="How far it ends outside that edge [mm]."),
)


def _underbase(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options of an underbase."""
    for option in reversed(_UNDERBASE):
        command = option(command)
    return command


def _choke(options: dict[str, Any]) -> dict[str, Any]:
    """Return options with choke and spread as one distance, those not given left out."""
    given = {name: value for name, value in options.items() if value is not None}
    choke, spread = given.pop("choke_mm", None), given.pop("spread_mm", None)
    if choke is not None and spread is not None:
        raise click.UsageError("an underbase is drawn in or let out, not both")
    if min(choke or 0, spread or 0) < 0:
        raise click.UsageError("choke and spread are distances of 0 mm or more")
    return given | {"choke_mm": choke if choke is not None else 0.0 - (spread or 0.0)}


@group.command("separate")
@click.argument("condition", metavar="COND", type=file_path)
@click.argument("image", metavar="IMAGE", type=file_path)
@_INTENT
@click.option(
    "--intent-images", type=click.Choice(_INTENTS), help="The same for pictures on a PDF page alone."
)
@click.option("--intent-graphics", type=click.Choice(_INTENTS), help="The same for line work alone.")
@click.option("--intent-text", type=click.Choice(_INTENTS), help="The same for type alone.")
@_PROFILE
@click.option(
    "--dpi", metavar="DPI", type=number, help="Resolution of the image in place of its own; pitch of a page."
)
@_PAGE
@_BOX
@click.option(
    "--named",
    type=click.Choice(["ink", "fallback"]),
    default="ink",
    show_default=True,
    help="Named colours without an ink: refuse, or print a page's own alternate colours.",
)
@_SPOTS
@_underbase
@click.option("--out", metavar="PLANES.tif", type=written_path, required=True, help="Ink planes to write.")
@click.pass_obj
def separate(
    call: Call,
    /,
    condition: Path,
    image: Path,
    out: Path,
    **options: Any,
) -> Result:
    """Turn IMAGE (PDF, TIFF, JPEG, PNG or PSD) into ink planes for COND."""
    from strikeoff import workbench

    return workbench.separate(condition, image, out, **_choke(options), progress=call.progress)


@group.command("check")
@click.argument("image", metavar="IMAGE", type=file_path)
@_CONDITION
@_FINISHED
@click.option(
    "--repeat",
    type=click.Choice(["none", "straight", "half-drop", "drop", "brick"]),
    default="none",
    show_default=True,
    help="How it repeats: its edges are then compared.",
)
@lattice_details
@click.option("--bleed", metavar="MM", type=number, help="Bleed needed at each edge, finished [mm].")
@click.option("--least-ppi", metavar="PPI", type=number, help="Resolution below which pixels may show.")
@click.option("--least-line", metavar="MM", type=number, help="Thinnest line that the cloth holds [mm].")
@_INTENT
@_PROFILE
@_PAGE
@_BOX
@_SPOTS
@click.option("--out", metavar="FILE.html", type=written_path, help="Page with pictures to write.")
@click.pass_obj
def check(call: Call, /, image: Path, condition: Path, **options: Any) -> Result:
    """Say what is wrong with IMAGE before anything is printed."""
    from strikeoff import workbench

    given = {name: value for name, value in options.items() if value is not None}
    return workbench.check_artwork(condition, image, **given, progress=call.progress)


@group.command("proof")
@click.argument("image", metavar="IMAGE", type=file_path)
@_CONDITION
@_FINISHED
@click.option(
    "--view",
    type=click.Choice(["proof", "before-after", "gamut"]),
    default="proof",
    show_default=True,
    help="The cloth; artwork and cloth; or what the inks cannot reach.",
)
@_INTENT
@click.option("--illuminant", metavar="NAME", help="Light; the condition's own by default.")
@click.option("--observer", type=click.Choice(["2", "10"]), help="Observer; the condition's own by default.")
@click.option("--weave", type=click.Choice(["plain", "twill", "satin"]), help="Binding to suggest.")
@click.option("--yarn", metavar="MM", type=number, help="Distance between yarns, finished [mm].")
@_PROFILE
@_PAGE
@_BOX
@_SPOTS
@_underbase
@click.option("--out", metavar="FILE.png", type=written_path, required=True, help="Picture to write.")
@click.pass_obj
def proof(call: Call, /, image: Path, condition: Path, out: Path, **options: Any) -> Result:
    """Show IMAGE as the finished cloth will show it."""
    from strikeoff import workbench

    return workbench.proof_artwork(condition, image, out, **_choke(options), progress=call.progress)


@group.command("palette")
@click.argument("image", metavar="IMAGE", type=file_path)
@click.option("--colours", metavar="N", type=int, help="How many colours there are, where you know better.")
@_PROFILE
@click.option("--out", metavar="FILE.toml", type=written_path, required=True, help="Palette to write.")
@click.pass_obj
def palette(call: Call, /, image: Path, out: Path, **options: Any) -> Result:
    """Find the colours of IMAGE, artwork of few colours."""
    from strikeoff import workbench

    return workbench.artwork_palette(image, out, **options, progress=call.progress)


@group.command("repeat")
@click.argument("image", metavar="IMAGE", type=file_path)
@click.option(
    "--finished",
    metavar="WxH",
    type=size_mm,
    help="Size of one repeat on the finished goods, across x along [mm].",
)
@click.option("--ppi", metavar="X[xY]", type=dpi, help="Resolution of IMAGE in place of its own.")
@click.option("--out", metavar="TILE.tif", type=written_path, help="One clean repeat to write.")
@click.pass_obj
def repeat(call: Call, /, image: Path, out: Path | None, **options: Any) -> Result:
    """Find the repeat of IMAGE, a swatch that holds two or more each way."""
    from strikeoff import workbench

    return workbench.artwork_repeat(image, out, **options, progress=call.progress)


@group.command("recolour")
@click.argument("image", metavar="IMAGE", type=file_path)
@click.argument("palette", metavar="PALETTE", type=file_path)
@click.argument("colourways", metavar="COLOURWAY", type=file_path, nargs=-1, required=True)
@_CONDITION
@click.option("--book", metavar="BOOK.toml", type=file_path, help="Swatch book that colourways name.")
@click.option(
    "--make",
    type=click.Choice(["both", "planes", "picture"]),
    default="both",
    show_default=True,
    help="Write ink planes, an sRGB picture, or both for each colourway.",
)
@click.option(
    "--sheet", metavar="FILE", type=written_path, help="Sheet of all colourways: .html, .pdf or .png."
)
@click.option(
    "--merge-de", metavar="DE", type=number, help="CIEDE2000 below which two colours merge; 2 by default."
)
@click.option("--dpi", metavar="DPI", type=number, help="Resolution in place of the image's own.")
@_PROFILE
@click.option("--out", metavar="FOLDER", type=written_path, required=True, help="Folder for the files.")
@click.pass_obj
def recolour(
    call: Call, /, image: Path, palette: Path, colourways: tuple[Path, ...], **options: Any
) -> Result:
    """Print flat IMAGE, of the colours of PALETTE, in other COLOURWAYs."""
    from strikeoff import workbench

    given = {name: value for name, value in options.items() if value is not None}
    return workbench.recolour_artwork(image, palette, colourways, **given, progress=call.progress)
