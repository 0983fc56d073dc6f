"""Straight cuts: every layout is taken apart by cuts from edge to edge, by a checker of its own."""

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.layout.kernels_guillotine import fill_straight
from strikeoff.layout.layout_checks import check_layout
from strikeoff.layout.nesting import NestPiece, nest
from strikeoff.layout.nesting_groups import nest_groups


def comes_apart(boxes, slack=1e-3):
    """Whether cuts from edge to edge part all boxes (left, top, right, bottom)."""
    if len(boxes) < 2:
        return True
    for low, high in ((0, 2), (1, 3)):
        ordered = sorted(boxes, key=lambda box: box[low])
        end = ordered[0][high]
        for k in range(1, len(ordered)):
            if ordered[k][low] >= end - slack:
                return comes_apart(ordered[:k]) and comes_apart(ordered[k:])
            end = max(end, ordered[k][high])
    return False


def boxes_of(found):
    return [found.layout.printed_box_mm(p) for p in found.layout.placements]


def test_the_checker_knows_a_pinwheel():
    assert not comes_apart([(0, 0, 2, 1), (2, 0, 3, 2), (1, 2, 3, 3), (0, 1, 1, 3), (1, 1, 2, 2)])
    assert comes_apart([(0, 0, 2, 1), (2, 0, 3, 1), (0, 1, 1, 3), (1, 1, 3, 3)])


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_straight_cuts_free_every_piece(data):
    size = st.floats(5, 300)
    pieces = [
        NestPiece(str(k), data.draw(size), data.draw(size), data.draw(st.sampled_from(["none", "90"])),
                  group=data.draw(st.sampled_from(["", "", "sofa"])))
        for k in range(data.draw(st.integers(1, 14)))
    ]  # fmt: skip
    faults = data.draw(st.sampled_from([(), ((100.0, 180.0),), ((0.0, 20.0), (350.0, 351.0))]))
    gap = data.draw(st.sampled_from([0.0, 3.0]))
    found = nest_groups(
        pieces, width_mm=360, margin_mm=5, warp_percent=-5.5, weft_percent=-3, gap_mm=gap,
        faults_mm=faults, seconds=0.05, straight=True,
    )  # fmt: skip
    check_layout(found.layout)
    boxes = boxes_of(found)
    assert len(boxes) == len(pieces)
    assert comes_apart(boxes)
    assert not any(
        top < end - 1e-3 and bottom > start + 1e-3 for _, top, _, bottom in boxes for start, end in faults
    )
    assert max(box[3] for box in boxes) <= found.length_mm + 1e-3


def test_two_narrow_pieces_that_leave_no_room():
    """Cut along first, the second would fit neither beside nor below the first."""
    found = nest([NestPiece("A", 60, 100), NestPiece("B", 70, 10)], width_mm=100, seconds=0.1, straight=True)
    assert found.length_mm == 110


def test_a_pinwheel_needs_more_cloth():
    pieces = [NestPiece(str(k), a, b) for k, (a, b) in enumerate([(200, 100), (100, 200)] * 2)]
    pieces.append(NestPiece("middle", 100, 100))
    assert nest(pieces, width_mm=300, seconds=1).length_mm == 300
    found = nest(pieces, width_mm=300, seconds=0.3, straight=True)
    assert comes_apart(boxes_of(found))
    assert found.length_mm == 400


def test_a_roll_that_was_cut_straight_is_found_again():
    """Known optimum by construction: 12 pieces cut from 400 x 300 edge to edge."""
    rng = np.random.default_rng(4)
    boxes = []
    for tall in (80, 120, 100):
        edges = [0, *sorted(int(v) for v in rng.choice(np.arange(40, 360, 20), 3, replace=False)), 400]
        boxes += [(b - a, tall) for a, b in itertools.pairwise(edges)]
    pieces = [NestPiece(str(k), a, b) for k, (a, b) in enumerate(boxes)]
    found = nest(pieces, width_mm=400, seconds=1, straight=True)
    assert comes_apart(boxes_of(found))
    assert found.gap_percent <= 5


def plain_fill_straight(order, wide, tall, faults, width, height):
    """The decoder as one would say it: lists, no waste limit. Returns area left out, area lost, places."""
    stack, low = [], 0
    for start, end in faults:
        if min(start, height) > low:
            stack.insert(0, (0, low, width, min(start, height) - low))
        low = max(low, end)
    if low < height:
        stack.insert(0, (0, low, width, height - low))
    rest, places, lost = [int(i) for i in order], {}, 0
    while rest and stack:
        left, top, room, rise = stack.pop()
        fits = [
            (int(wide[t][i] == room) + int(tall[t][i] == rise), -rest.index(i), -t, i, t)
            for i in rest
            for t in (0, 1)
            if 0 < wide[t][i] <= room and tall[t][i] <= rise
        ]
        if not fits:
            lost += room * rise
            continue
        *_, i, t = max(fits)
        rest.remove(i)
        places[i] = (left, top, t)
        a, b = int(wide[t][i]), int(tall[t][i])
        across_first = max(room * (rise - b), (room - a) * b) >= max((room - a) * rise, a * (rise - b))
        beside = (left + a, top, room - a, b if across_first else rise)
        below = (left, top + b, room if across_first else a, rise - b)
        # The smaller is filled first; of two alike, the one beside.
        parts = sorted([below, beside], key=lambda part: -part[2] * part[3])
        stack += [part for part in parts if part[2] * part[3] > 0]
    return sum(int(wide[0][i] * tall[0][i]) for i in rest), lost, places


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_the_decoder_is_the_plain_one(data):
    n = data.draw(st.integers(1, 9))
    side = st.integers(1, 9)
    size = np.array([[data.draw(side), data.draw(side)] for _ in range(n)])
    turns = np.array([data.draw(st.booleans()) for _ in range(n)])
    wide = np.stack([size[:, 0], np.where(turns, size[:, 1], 0)]).astype(np.int64)
    tall = np.stack([size[:, 1], np.where(turns, size[:, 0], 0)]).astype(np.int64)
    faults = data.draw(st.sampled_from([[], [(3, 5)], [(0, 2), (9, 10)], [(4, 30)]]))
    width, height = data.draw(st.integers(4, 14)), data.draw(st.integers(3, 20))
    order = np.array(data.draw(st.permutations(range(n))), np.int64)

    def found(most_waste):
        x, y, turned = np.empty(n, np.int64), np.zeros(n, np.int64), np.zeros(n, np.bool_)
        work = np.empty(5 * n + 4 * len(faults) + 8, np.int64)
        starts = np.array([a for a, _ in faults], np.int64)
        ends = np.array([b for _, b in faults], np.int64)
        area = fill_straight(order, wide, tall, starts, ends, width, height, most_waste, x, y, turned, work)
        return area, {i: (int(x[i]), int(y[i]), int(turned[i])) for i in range(n) if x[i] >= 0}

    left_out, lost, places = plain_fill_straight(order, wide, tall, faults, width, height)
    assert found(1 << 60) == (left_out, places)
    assert found(lost) == (left_out, places)
    if lost:
        assert found(lost - 1)[0] == -1
