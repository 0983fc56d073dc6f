"""The artwork of a roll of pieces, opened together in bounded memory, turned where it lies turned."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path

from strikeoff.base.errors import InputError
from strikeoff.base.progress import Progress, silent
from strikeoff.layout.lay import Sheet
from strikeoff.layout.lying import PressGrid
from strikeoff.layout.placement import Layout
from strikeoff.raster.bands import BandSource
from strikeoff.raster.resample import limits_of
from strikeoff.raster.turned import turned_clockwise


def artwork_files(layout: Layout, given: Sequence[str], folder: Path) -> dict[str, Path]:
    """Return the file of planes of every artwork that a layout names.

    Parameters
    ----------
    layout : Layout
        Pieces.
    given : sequence of str
        ``NAME=FILE`` for an artwork, or ``FILE`` for the one that has no file of its own.
    folder : Path
        Where names that nothing is given for are looked for as files.

    Raises
    ------
    InputError
        A name given twice or not in the layout, or artwork without planes.
    """
    names = list(dict.fromkeys(piece.artwork for piece in layout.placements))
    files: dict[str, Path] = {}
    for words in given:
        name, sign, file = words.partition("=")
        keys = [name] if sign and name in names else [""] if not sign else []
        if sign and not file:
            raise InputError("no file is given for an artwork", found=words, expected="NAME=FILE")
        if not keys:
            raise InputError(
                "layout has no artwork of this name",
                found=name,
                expected=", ".join(names[:10]) or "a layout that names its artwork",
            )
        if keys[0] in files:
            raise InputError("planes of one artwork are given twice", found=name or words)
        files[keys[0]] = Path(file if sign else words)
    found = {name: files.get(name, files.get("", folder / name)) for name in names}
    missing = [name for name in names if name not in files and "" not in files and not _is_file(folder, name)]
    if missing:
        raise InputError(
            "planes of the artwork are missing",
            where=", ".join(missing[:5]) or "artwork",
            found=f"{len(missing)} of {len(names)} without a file",
            expected="planes for each artwork of the layout",
            advice="Name them with --planes NAME=FILE",
        )
    sharing = [name for name in names if name not in files]
    if "" in files and len(sharing) > 1:
        raise InputError(
            "one file of planes is given for several artworks",
            path=files[""],
            found=", ".join(sharing[:5]),
            expected="planes for each artwork of the layout",
            advice="Name them with --planes NAME=FILE",
        )
    return found


def _is_file(folder: Path, name: str) -> bool:
    return bool(name) and (folder / name).is_file()


@contextmanager
def open_sheets(
    grids: Sequence[PressGrid],
    planes: Mapping[str, BandSource],
    folder: str | Path,
    progress: Progress = silent,
) -> Iterator[dict[PressGrid, Sheet]]:
    """Yield the artwork of every grid; what lies turned stands in nameless files that are gone afterwards.

    Parameters
    ----------
    grids : sequence of PressGrid
        As `press_grids` returns them.
    planes : mapping
        Source of each artwork.
    folder : str or Path
        Where temporary files go.
    progress : Progress
        Told how far all artwork is, read and turned.
    """
    limits = {}
    turned: dict[str, BandSource] = {}
    with ExitStack() as stack:
        names = list(dict.fromkeys(grid.artwork for grid in grids))
        quarters = {grid.artwork for grid in grids if grid.quarter}
        for k, name in enumerate(names):
            part = _part(progress, k, len(names))
            limits[name] = limits_of(planes[name], progress=part)
            if name in quarters:
                turned[name] = stack.enter_context(turned_clockwise(planes[name], folder, progress=part))
        yield {
            grid: Sheet((turned if grid.quarter else planes)[grid.artwork], limits[grid.artwork])
            for grid in grids
        }


def _part(progress: Progress, number: int, count: int) -> Progress:
    """Return the progress of one artwork as a part of that of all."""
    return lambda stage, fraction: progress(stage, (number + fraction) / count)
