"""Names of pictures that commands write, which say what kind they are."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from strikeoff.base.errors import UsageError


def check_picture(plot: str | Path | None, endings: Sequence[str] = (".svg",)) -> None:
    """Refuse endings that no picture is written for, before work begins.

    Raises
    ------
    UsageError
        Other than those endings.

    Examples
    --------
    >>> check_picture("curves.svg")
    >>> check_picture("curves.png")
    Traceback (most recent call last):
        ...
    strikeoff.base.errors.UsageError: no picture of this kind (found curves.png; expected .svg)
    """
    if plot is not None and Path(plot).suffix.lower() not in endings:
        raise UsageError("no picture of this kind", found=Path(plot).name, expected=" or ".join(endings))
