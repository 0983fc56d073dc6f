"""Cautions by process, one line each."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from functools import cache
from importlib import resources

from strikeoff.base.errors import UsageError

#: Closes every list of cautions.
DEFERS = (
    "The maker's safety data sheets, local rules and licensed trades come first; "
    "these lines replace none of them."
)


def known_processes() -> tuple[str, ...]:
    """Return the processes for which there are cautions, sorted."""
    return tuple(sorted({name for names, _ in _rows() for name in names} - {"always"}))


def cautions(processes: Iterable[str]) -> tuple[str, ...]:
    """Return the cautions for some processes, each once, then what holds everywhere, then what they defer to.

    Parameters
    ----------
    processes : iterable of str
        Of `known_processes`: ``reactive``, ``acid``, ``disperse``, ``uv``, ``calender`` and so on.

    Returns
    -------
    tuple of str

    Raises
    ------
    UsageError
        Unknown process.

    Examples
    --------
    >>> [line.split(":")[0] for line in cautions(["acid"])][:2]
    ['Steamer', 'Rolls are heavy']
    """
    wanted = set(processes)
    unknown = sorted(wanted - set(known_processes()))
    if unknown:
        raise UsageError("no cautions for process", found=unknown[0], expected=", ".join(known_processes()))
    wanted.add("always")
    return (*(text for names, text in _rows() if wanted & set(names)), DEFERS)


@cache
def _rows() -> tuple[tuple[tuple[str, ...], str], ...]:
    source = resources.files("strikeoff.report") / "data" / "cautions.toml"
    document = tomllib.loads(source.read_text(encoding="utf-8"))
    return tuple((tuple(row["processes"]), row["text"]) for row in document["caution"])
