"""What came from what, as a drawing of boxes and arrows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from strikeoff.base.errors import InputError
from strikeoff.report.figures import svg_open
from strikeoff.report.style import ACCENT, FONTS, INK, LABELS, LINE, MUTED, PAPER

_BOX = (156, 88)
_GAP = (40, 20)
_EDGE = 6
_CHARACTERS = 17
_LINES = 3
_LANE = "\0lane"
_LANE_HEIGHT = 14
_FILLS = {
    "measured": "#e6f0e8",
    "smoothed data": "#e4eef7",
    "reference engine": "#efe9f5",
    "simulated": "#fbeedd",
}


@dataclass(frozen=True)
class Node:
    """One artefact.

    Attributes
    ----------
    key : str
        By which others name it.
    title : str
        As shown, on up to three short lines.
    digest : str
        Of its content, ``sha256:`` and hexadecimal; shown short. Empty where there is none.
    inputs : tuple of str
        Keys of what it was made from.
    label : str
        One of `LABELS`, or empty for plain computation.
    href : str
        File to open, relative to the page; empty for none.
    """

    key: str
    title: str
    digest: str = ""
    inputs: tuple[str, ...] = ()
    label: str = ""
    href: str = ""


def lineage_graph(nodes: Sequence[Node], *, ident: str = "lineage-drawing") -> str:
    """Return the graph of artefacts, inputs at the left, as SVG.

    Parameters
    ----------
    nodes : sequence of Node
        All artefacts.
    ident : str
        Unique on the page.

    Returns
    -------
    str
        SVG.

    Raises
    ------
    InputError
        An input that is no node, a key used twice, or a circle.
    """
    by_key = {node.key: node for node in nodes}
    if len(by_key) != len(nodes):
        raise InputError("two artefacts have one key")
    columns, ways = _columns(nodes, by_key)
    place = _places(columns)
    width = len(columns) * (_BOX[0] + _GAP[0]) - _GAP[0] + 2 * _EDGE
    height = max(y for _, y in place.values()) + _BOX[1] + _EDGE
    words = "; ".join(
        f"{node.title} from {', '.join(by_key[key].title for key in node.inputs)}"
        for node in nodes
        if node.inputs
    )
    style = f' style="max-width:{1.1 * width:.0f}px;min-width:{0.74 * width:.0f}px"'
    parts = [
        svg_open(ident, "What came from what", words, f"0 0 {width} {height:.0f}", style),
        f'<defs><marker id="{ident}-head" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="7" '
        f'markerHeight="7" orient="auto"><path d="M0,0 L10,5 L0,10 z" fill="{ACCENT}"/></marker></defs>',
    ]
    for (start, end), lanes in ways.items():
        parts.append(_arrow([place[key] for key in (start, *lanes, end)], ident))
    parts += [_box(node, *place[node.key]) for node in nodes]
    return "".join([*parts, "</svg>"])


def _depths(nodes: Sequence[Node], by_key: Mapping[str, Node]) -> dict[str, int]:
    """Return the column of each key: the longest way from an input."""
    depth: dict[str, int] = {}

    def visit(key: str, trail: tuple[str, ...]) -> int:
        if key in trail:
            raise InputError("artefacts come from each other in a circle", found=" < ".join((*trail, key)))
        if key not in by_key:
            raise InputError(
                "artefact is made from an unknown one", where=trail[-1] if trail else None, found=key
            )
        if key not in depth:
            depth[key] = 1 + max((visit(up, (*trail, key)) for up in by_key[key].inputs), default=-1)
        return depth[key]

    for node in nodes:
        visit(node.key, ())
    for node in nodes:
        # An input that is first needed late stands just before its use.
        if not node.inputs:
            uses = [depth[other.key] for other in nodes if node.key in other.inputs]
            depth[node.key] = max(0, min(uses, default=1) - 1)
    return depth


def _columns(
    nodes: Sequence[Node], by_key: Mapping[str, Node]
) -> tuple[list[list[str]], dict[tuple[str, str], list[str]]]:
    """Return keys by column and the lanes through which each arrow passes the columns between its ends."""
    depth = _depths(nodes, by_key)
    columns: list[list[str]] = [[] for _ in range(max(depth.values(), default=0) + 1)]
    before: dict[str, list[str]] = {node.key: [] for node in nodes}
    ways: dict[tuple[str, str], list[str]] = {}
    for node in nodes:
        columns[depth[node.key]].append(node.key)
    for node in nodes:
        for key in node.inputs:
            lanes = [f"{key}{_LANE}{column}" for column in range(depth[key] + 1, depth[node.key])]
            for column, lane in enumerate(lanes, depth[key] + 1):
                # Arrows from one box share their lanes.
                if lane not in columns[column]:
                    columns[column].append(lane)
                before.setdefault(lane, [lanes[lanes.index(lane) - 1] if lane != lanes[0] else key])
            ways[key, node.key] = lanes
            before[node.key].append(lanes[-1] if lanes else key)
    rank: dict[str, float] = {}
    for column_keys in columns:
        for position, key in enumerate(column_keys):
            ups = [rank[up] for up in before[key]]
            rank[key] = sum(ups) / len(ups) if ups else float(position)
        column_keys.sort(key=lambda key: rank[key])
        for position, key in enumerate(column_keys):
            rank[key] = position - (len(column_keys) - 1) / 2
    return columns, ways


def _places(columns: Sequence[Sequence[str]]) -> dict[str, tuple[float, float]]:
    """Return the left upper corner of each box; a lane's corner is as if a box were centred on it."""
    heights = [[_LANE_HEIGHT if _LANE in key else _BOX[1] for key in column] for column in columns]
    used = [sum(column) + _GAP[1] * (len(column) - 1) for column in heights]
    place: dict[str, tuple[float, float]] = {}
    for index, column in enumerate(columns):
        y = _EDGE + (max(used) - used[index]) / 2
        for key, height in zip(column, heights[index], strict=True):
            place[key] = (_EDGE + index * (_BOX[0] + _GAP[0]), y + (height - _BOX[1]) / 2)
            y += height + _GAP[1]
    return place


def _arrow(stops: Sequence[tuple[float, float]], ident: str) -> str:
    x, y = stops[0][0] + _BOX[0], stops[0][1] + _BOX[1] / 2
    path = [f"M{x:.1f},{y:.1f}"]
    for left, top in stops[1:]:
        x1, y1 = left, top + _BOX[1] / 2
        bend = (x1 - x) * 0.5
        path.append(f"C{x + bend:.1f},{y:.1f} {x1 - bend:.1f},{y1:.1f} {x1:.1f},{y1:.1f}")
        x, y = x1 + _BOX[0], y1
        path.append(f"H{x:.1f}")
    # Arrows end at the box, not behind it.
    drawn = " ".join(path[:-1])
    return (
        f'<path d="{drawn}" fill="none" stroke="{ACCENT}" stroke-width="1.8" '
        f'marker-end="url(#{ident}-head)"/>'
    )


def _box(node: Node, x: float, y: float) -> str:
    if node.label and node.label not in LABELS:
        raise InputError("unknown label", where=node.key, found=node.label, expected=", ".join(LABELS))
    fill = _FILLS.get(node.label, PAPER)
    lines = _wrapped(node.title)
    text = [
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{_BOX[0]}" height="{_BOX[1]}" rx="6" fill="{fill}" '
        f'stroke="{LINE}" stroke-width="1.5"/>'
    ]
    for row, line in enumerate(lines):
        text.append(_words(x + 10, y + 21 + 17 * row, line, 14, INK, bold=True))
    foot = y + _BOX[1] - 9
    if node.digest:
        text.append(_words(x + 10, foot, node.digest.removeprefix("sha256:")[:10], 12, MUTED, mono=True))
    if node.label:
        text.append(_words(x + _BOX[0] - 10, foot, node.label, 11, INK, anchor="end"))
    body = "".join(text)
    return f'<a href="{escape(node.href)}">{body}</a>' if node.href else body


def _wrapped(title: str) -> list[str]:
    lines = [""]
    for word in title.split():
        joined = f"{lines[-1]} {word}".strip()
        if len(joined) <= _CHARACTERS or not lines[-1]:
            lines[-1] = joined
        else:
            lines.append(word)
    lines = [line if len(line) <= _CHARACTERS else line[: _CHARACTERS - 1] + "…" for line in lines]
    if len(lines) > _LINES:
        lines = [*lines[: _LINES - 1], lines[_LINES - 1][: _CHARACTERS - 1] + "…"]
    return lines


def _words(
    x: float, y: float, text: str, size: float, colour: str, *, bold: bool = False, mono: bool = False,
    anchor: str = "start",
) -> str:  # fmt: skip
    family = "ui-monospace, 'DejaVu Sans Mono', Consolas, monospace" if mono else FONTS
    weight = ' font-weight="600"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" fill="{colour}" text-anchor="{anchor}" '
        f'style="font-family:{escape(family)}"{weight}>{escape(text)}</text>'
    )
