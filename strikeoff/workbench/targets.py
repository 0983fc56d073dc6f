"""Files to write, looked at before long work: none over what it is made from, no two of one name."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from strikeoff.base.errors import UsageError


def check_targets(outputs: Iterable[str | Path | None], inputs: Iterable[str | Path]) -> None:
    """Refuse to write two results to one file, or one over a file that it is made from.

    Parameters
    ----------
    outputs : iterable of str or Path
        Files to write; None for one that is not wanted.
    inputs : iterable of str or Path
        Files that are read.

    Raises
    ------
    UsageError
        One name for two of them.

    Examples
    --------
    >>> check_targets(["roll.tif", None], ["layout.json"])
    >>> check_targets(["roll.tif", "./roll.tif"], [])
    Traceback (most recent call last):
    strikeoff.base.errors.UsageError: two files to write have one name (found ./roll.tif). Give each its own
    """
    sources = {Path(path).resolve() for path in inputs}
    known: set[Path] = set()
    for path in outputs:
        if path is None:
            continue
        file = Path(path).resolve()
        if file in sources:
            raise UsageError(
                "file to write is one that is read", found=path, advice="Give what is written another name"
            )
        if file in known:
            raise UsageError("two files to write have one name", found=path, advice="Give each its own")
        known.add(file)
