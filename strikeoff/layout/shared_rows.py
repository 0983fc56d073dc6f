"""Which rows of a roll are equal: those where the same things stand, and show the same of themselves."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import lcm

import numpy as np
from numpy.typing import NDArray

_MOST_STEPS = 1_000_000


@dataclass(frozen=True)
class Standing:
    """Something that stands in rows of a roll.

    Attributes
    ----------
    content : hashable
        What it shows, and where across: equal contents show equal rows.
    top, end : int
        Its first row, and the row after its last.
    period : int
        Rows after which it shows the same again; 0 for never.
    origin : int
        Row at which a period begins; any integer.
    """

    content: Hashable
    top: int
    end: int
    period: int = 0
    origin: int = 0


def shared_rows(height: int, things: Sequence[Standing]) -> NDArray[np.int64]:
    """Return for every row the first that is known to be equal.

    Rows before the first thing and after the last are their own. Bare rows between things belong to the
    things before them, so that equal rows of copies repeat with the gaps between them.

    Parameters
    ----------
    height : int
        Rows of the roll.
    things : sequence of Standing
        In the order in which they are drawn.

    Examples
    --------
    >>> copies = [Standing("fern", y, y + 2) for y in (1, 4)]
    >>> shared_rows(8, copies).tolist()
    [0, 1, 2, 3, 1, 2, 6, 7]
    >>> shared_rows(6, [Standing("cloth", 1, 6, period=2, origin=1)]).tolist()
    [0, 1, 2, 1, 2, 1]
    """
    rows = np.arange(height, dtype=np.int64)
    first: dict[Hashable, tuple[int, int]] = {}
    periods: dict[Hashable, NDArray[np.int64]] = {}
    names: dict[Hashable, int] = {}
    numbers = [names.setdefault(thing.content, len(names)) for thing in things]
    before: Hashable = None
    for start, end, standing in _stretches(things):
        end = min(end, height)
        key: Hashable
        period = lcm(*(things[k].period for k in standing)) if standing else 0
        if 0 < period <= height:
            origin = things[standing[0]].origin
            key = tuple((numbers[k], (things[k].origin - origin) % things[k].period) for k in standing)
            known = periods.setdefault(key, np.full(period, -1, np.int64))
            places = (np.arange(start, end) - origin) % period
            new, index = np.unique(places, return_index=True)
            known[new] = np.where(known[new] < 0, start + index, known[new])
            rows[start:end] = known[places]
        else:
            key = tuple(_shown(things[k], numbers[k], start) for k in standing) or ("gap", before)
            since, count = first.setdefault(key, (start, end - start))
            count = min(count, end - start)
            rows[start : start + count] = np.arange(since, since + count)
        before = key
    return rows


def _shown(thing: Standing, number: int, row: int) -> tuple[int, int]:
    """Return what a thing is, and which of its rows stands at a row of the roll."""
    return number, (row - thing.origin) % thing.period if thing.period else row - thing.top


def _stretches(things: Sequence[Standing]) -> Iterator[tuple[int, int, tuple[int, ...]]]:
    """Yield stretches of rows, and the numbers of the things in them, as far as that does not take long."""
    starts: dict[int, list[int]] = {}
    ends: dict[int, list[int]] = {}
    for number, thing in enumerate(things):
        starts.setdefault(thing.top, []).append(number)
        ends.setdefault(thing.end, []).append(number)
    edges = sorted({*starts, *ends})
    standing: set[int] = set()
    steps = 0
    for edge, end in pairwise(edges):
        standing.difference_update(ends.get(edge, ()))
        standing.update(starts.get(edge, ()))
        steps += 1 + len(standing)
        if steps > _MOST_STEPS:
            return
        yield edge, end, tuple(sorted(standing))
