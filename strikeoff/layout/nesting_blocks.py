"""Blocks of pieces that share a side exactly: two pieces of one height side by side waste nothing.

A list of few pieces often holds such pairs, and pairs of pairs. Which of them belong together is not
known, so blocks are drawn by lot, pairs that can hardly be chance first, and the search lays the blocks.

References
----------
Fanslau & Bortfeldt (2010), A tree search algorithm for solving the container loading problem, INFORMS J.
Comput. 22: blocks of pieces with no or little waste within.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Part:
    """A piece within a block: its number, its corner within the block, whether it lies turned."""

    piece: int
    x: int
    y: int
    turned: bool


@dataclass(frozen=True)
class Way:
    """A block as it may lie."""

    wide: int
    tall: int
    parts: tuple[Part, ...]


Block = tuple[Way, Way | None]


def single_blocks(wide: Ints, tall: Ints) -> list[Block]:
    """Return each piece as a block; sizes have shape (2, n): upright and turned, 0 where it may not be."""
    found: list[Block] = []
    for i in range(wide.shape[1]):
        turned = wide[1, i] > 0
        found.append((_piece(wide, tall, i, 0), _piece(wide, tall, i, 1) if turned else None))
    return found


def _piece(wide: Ints, tall: Ints, i: int, way: int) -> Way:
    return Way(int(wide[way, i]), int(tall[way, i]), (Part(i, 0, 0, way == 1),))


def joined(
    blocks: Sequence[Block], *, joins: int, width: int, height: int, random: np.random.Generator
) -> list[Block]:
    """Join blocks that share a side, pair by pair.

    Parameters
    ----------
    blocks : sequence of Block
        What there is.
    joins : int
        At most so many pairs are joined.
    width, height : int
        No block becomes larger than this.
    random : Generator
        Which pairs; those whose side no other block has are the likelier.

    Returns
    -------
    list of Block
        The same pieces in fewer blocks.

    Examples
    --------
    >>> pieces = single_blocks(np.array([[3, 5, 4], [0, 0, 0]]), np.array([[2, 2, 7], [0, 0, 0]]))
    >>> blocks = joined(pieces, joins=9, width=8, height=9, random=np.random.default_rng(0))
    >>> [(way.wide, way.tall) for way, _ in blocks]
    [(4, 7), (8, 2)]
    """
    left = list(blocks)
    for _ in range(joins):
        pairs, weight = _pairs(left, width, height)
        if not len(pairs):
            break
        i, j, way, above = (int(v) for v in pairs[random.choice(len(pairs), p=weight / weight.sum())])
        block = _join(left[i], left[j], way, bool(above))
        left = [b for k, b in enumerate(left) if k not in (i, j)] + [block]
    return left


def _pairs(blocks: Sequence[Block], width: int, height: int) -> tuple[Ints, NDArray[np.float64]]:
    """Return pairs that share a side, rows of (first, second, way of the second, above), and weights."""
    sizes = np.array([[(b.wide, b.tall) if b else (0, 0) for b in block] for block in blocks], np.int64)
    first = sizes[:, None, 0]
    rows, weights = [], []
    for way in (0, 1):
        second = sizes[None, :, way]
        there = (second[..., 0] > 0) & ~np.eye(len(blocks), dtype=bool)
        for above in (0, 1):
            same = there & (first[..., 1 - above] == second[..., 1 - above])
            total = first[..., above] + second[..., above]
            fits = total <= (height if above else width)
            if way == 0:
                # A pair of upright blocks is one pair, whichever is named first.
                fits &= np.triu(np.ones_like(same))
            alike = same.sum(axis=1)
            i, j = np.nonzero(same & fits)
            rows.append(np.stack([i, j, np.full_like(i, way), np.full_like(i, above)], axis=1))
            weights.append(1.0 / (alike[i] * np.maximum(same.sum(axis=0)[j], 1)))
    return np.concatenate(rows), np.concatenate(weights)


def _join(first: Block, second: Block, way: int, above: bool) -> Block:
    upright, beside = first[0], second[way]
    assert beside is not None, "only ways that exist are paired"
    other, beside_other = first[1], second[1 - way]
    turned = None
    if other is not None and beside_other is not None:
        turned = _put(other, beside_other, not above)
    joined_way = _put(upright, beside, above)
    assert joined_way is not None, "a pair shares its side"
    return joined_way, turned


def _put(first: Way, second: Way, above: bool) -> Way | None:
    """Return two ways beside or above one another, None where they do not share that side."""
    dx, dy = (0, first.tall) if above else (first.wide, 0)
    if (first.wide != second.wide) if above else (first.tall != second.tall):
        return None
    moved = tuple(Part(p.piece, p.x + dx, p.y + dy, p.turned) for p in second.parts)
    wide = first.wide if above else first.wide + second.wide
    tall = first.tall + second.tall if above else first.tall
    return Way(wide, tall, first.parts + moved)


def sizes_of(blocks: Sequence[Block]) -> tuple[Ints, Ints]:
    """Return widths and heights, shape (2, n), upright and turned."""
    wide = np.array([[b[0].wide for b in blocks], [b[1].wide if b[1] else 0 for b in blocks]], np.int64)
    tall = np.array([[b[0].tall for b in blocks], [b[1].tall if b[1] else 0 for b in blocks]], np.int64)
    return wide, tall


def places_of(
    blocks: Sequence[Block], x: Ints, y: Ints, turned: NDArray[np.bool_], order: Ints
) -> tuple[Ints, Ints, NDArray[np.bool_], Ints]:
    """Return places and order of the pieces of blocks that lie so."""
    n = sum(len(b[0].parts) for b in blocks)
    piece_x, piece_y = np.empty(n, np.int64), np.empty(n, np.int64)
    piece_turned, pieces = np.zeros(n, np.bool_), []
    for k in order:
        way = blocks[k][1] if turned[k] else blocks[k][0]
        assert way is not None, "only ways that exist are laid"
        for part in way.parts:
            piece_x[part.piece] = x[k] + part.x
            piece_y[part.piece] = y[k] + part.y
            piece_turned[part.piece] = part.turned
            pieces.append(part.piece)
    return piece_x, piece_y, piece_turned, np.array(pieces, np.int64)
