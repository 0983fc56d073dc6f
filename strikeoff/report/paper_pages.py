"""Fills pages of paper: what stays together, what may shrink, what goes over to the next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Item:
    """Something at its place on a page.

    Attributes
    ----------
    kind : {"text", "rule", "chip", "drawing"}
        What it is.
    x_mm, y_mm : float
        Left and upper edge, from the upper left corner of the page. [mm]
    payload : object
        Words, length of the rule in mm, colour of the chip, or the drawing.
    style : dict
        How it looks; size of a drawing in mm.
    """

    kind: str
    x_mm: float
    y_mm: float
    payload: Any
    style: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Box:
    """A piece of a page across its whole width.

    Attributes
    ----------
    height_mm : float
        Wanted height. [mm]
    place : callable
        Gets the upper edge and the height in mm, returns its items.
    least_mm, most_mm : float
        How far its height may go, to fill a page; 0 where it is fixed. [mm]
    holds_next : bool
        Whether what follows must stand on the same page.
    again : Box, optional
        What stands above it where it starts a page, as the heading of a table.
    """

    height_mm: float
    place: Callable[[float, float], list[Item]]
    least_mm: float = 0.0
    most_mm: float = 0.0
    holds_next: bool = False
    again: Box | None = None


def fill_pages(boxes: Sequence[Box], top_mm: float, room_mm: float) -> list[list[Item]]:
    """Return the items of each page.

    Parameters
    ----------
    boxes : sequence of Box
        In reading order.
    top_mm, room_mm : float
        Upper edge and height of what a page holds. [mm]

    Returns
    -------
    list of list of Item
        Drawings shrink as far as they may before a page is left early, and grow as far as they may where
        the page could not be filled.
    """
    pages: list[list[Box]] = [[]]
    for group in _groups(boxes):
        page = pages[-1]
        if page and _least(page) + _least(group) > room_mm + 1e-6:
            again = group[0].again
            pages.append([*([again] if again is not None else []), *group])
        else:
            page.extend(group)
    return [
        _placed(page, top_mm, room_mm, stretch=number < len(pages)) for number, page in enumerate(pages, 1)
    ]


def _groups(boxes: Sequence[Box]) -> list[list[Box]]:
    groups: list[list[Box]] = []
    held = False
    for box in boxes:
        if held:
            groups[-1].append(box)
        else:
            groups.append([box])
        held = box.holds_next
    return groups


def _least(boxes: Sequence[Box]) -> float:
    return sum(box.least_mm or box.height_mm for box in boxes)


def _placed(page: Sequence[Box], top_mm: float, room_mm: float, *, stretch: bool) -> list[Item]:
    wanted = sum(box.height_mm for box in page)
    gives = sum(box.height_mm - (box.least_mm or box.height_mm) for box in page)
    takes = sum((box.most_mm or box.height_mm) - box.height_mm for box in page)
    give = max(wanted - room_mm, 0.0) / gives if gives else 0.0
    take = min(max(room_mm - wanted, 0.0) / takes, 1.0) if takes and stretch else 0.0
    items: list[Item] = []
    y_mm = top_mm
    for box in page:
        height = box.height_mm
        if give:
            height -= give * (height - (box.least_mm or height))
        if take:
            height += take * ((box.most_mm or height) - height)
        items += box.place(y_mm, height)
        y_mm += height
    return items
