"""Nesting: valid layouts, known optima, faults, bad lists."""

import itertools
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from drawn_words import faults
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError, UsageError
from strikeoff.layout.kernels_nesting import fill
from strikeoff.layout.layout_checks import check_layout
from strikeoff.layout.nesting import NestPiece, nest
from strikeoff.layout.nesting_drawing import nest_svg, stretches
from strikeoff.layout.nesting_groups import nest_groups
from strikeoff.layout.pieces_file import read_pieces


def cut(n, width, height, seed):
    """Cut a rectangle edge to edge into n pieces: the shortest roll of that width is known."""
    rng = np.random.default_rng(seed)
    boxes = [(width, height)]
    while len(boxes) < n:
        k = int(np.argmax([a * b for a, b in boxes]))
        w, h = boxes.pop(k)
        if rng.random() < w / (w + h):
            c = int(rng.integers(w // 4 + 1, 3 * w // 4 + 1))
            boxes += [(c, h), (w - c, h)]
        else:
            c = int(rng.integers(h // 4 + 1, 3 * h // 4 + 1))
            boxes += [(w, c), (w, h - c)]
    return [boxes[i] for i in rng.permutation(n)]


def pieces_of(boxes, turn="none"):
    return [NestPiece(str(k), a, b, turn) for k, (a, b) in enumerate(boxes)]


def assert_apart(found, gap_mm=0.0, faults=()):
    """Every pair, plainly, in printed millimetres; a micrometre is rounding."""
    boxes = [found.layout.printed_box_mm(p) for p in found.layout.placements]
    wide = found.layout.cuttable_mm[0]
    for left, top, right, bottom in boxes:
        assert left >= -1e-6
        assert right <= wide + 1e-3
        assert bottom <= found.length_mm + 1e-3
        assert top >= -1e-6
        assert not any(top < end - 1e-3 and bottom > start + 1e-3 for start, end in faults)
    for a, b in itertools.combinations(boxes, 2):
        beside = max(a[0], b[0]) - min(a[2], b[2])
        below = max(a[1], b[1]) - min(a[3], b[3])
        assert max(beside, below) >= gap_mm - 1e-3


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_pieces_lie_apart_on_the_cloth(data):
    size = st.floats(5, 300)
    turns = st.sampled_from(["none", "180", "90"])
    count = data.draw(st.integers(1, 12))
    pieces = [NestPiece(str(k), data.draw(size), data.draw(size), data.draw(turns)) for k in range(count)]
    gap = data.draw(st.sampled_from([0.0, 3.0]))
    faults = data.draw(st.sampled_from([(), ((100.0, 180.0),), ((0.0, 20.0), (350.0, 351.0))]))
    found = nest(
        pieces, width_mm=360, margin_mm=5, warp_percent=-5.5, weft_percent=-3, gap_mm=gap,
        faults_mm=faults, seconds=0.02,
    )  # fmt: skip
    check_layout(found.layout)
    assert sorted(p.code for p in found.layout.placements) == sorted(p.code for p in pieces)
    for placed in found.layout.placements:
        asked = next(p for p in pieces if p.code == placed.code)
        assert placed.upright_mm == (asked.width_mm, asked.height_mm)
        assert placed.turn_degrees == 0 or asked.turn == "90"
    assert_apart(found, min(gap / 0.97, gap / 0.945), faults)
    assert found.bound_mm <= found.length_mm + 1e-6


def test_a_turned_piece_takes_the_change_of_its_new_direction():
    """400 x 100 finished, only turned it fits: 100 across (weft -2 %), 400 along (warp -10 %)."""
    found = nest([NestPiece("A", 400, 100, "90")], width_mm=200, warp_percent=-10, weft_percent=-2, seconds=1)
    assert found.length_mm == pytest.approx(400 / 0.9, abs=1e-3)
    assert found.layout.placements[0].turn_degrees == 90


@pytest.mark.parametrize("turn", ["none", "90"])
def test_near_the_known_optimum(turn):
    """Zero-waste cases made by cutting: nothing can be shorter than what was cut."""
    gaps = []
    for n, seed in ((16, 1), (25, 2), (50, 3)):
        found = nest(pieces_of(cut(n, 400, 300, seed), turn), width_mm=400, seconds=2)
        assert_apart(found)
        assert found.bound_mm == pytest.approx(300)
        gaps.append(found.gap_percent)
    assert np.mean(gaps) <= 2


def test_time_holds_for_many_pieces():
    """The first call for work that takes long does few steps; not a measure of speed, so generous."""
    sizes = np.random.default_rng(5).integers(50, 900, (3000, 2))
    pieces = [NestPiece(str(k), int(a), int(b), "90") for k, (a, b) in enumerate(sizes)]
    told = []
    found = nest(pieces, width_mm=3200, seconds=1, progress=lambda what, part: told.append(part))
    assert found.gap_percent < 3
    assert len(told) < 60


def plain_fill(order, wide, tall, faults, width, height, enough):
    """The decoder by columns of cloth, one unit wide: waste (-1 for none), and where pieces lie."""
    top = np.zeros(width, int)
    rest, places, waste = list(order), {}, 0
    while rest and top.min() < height:
        floor = int(top.min())
        left = int(np.flatnonzero(top == floor)[0])
        right = left
        while right < width and top[right] == floor:
            right += 1
        walls = [height if left == 0 else top[left - 1], height if right == width else top[right]]
        ceiling = min([height, *(start for start, end in faults if end > floor)])
        best = None
        for i in rest:
            for t in range(2):
                across, above = wide[t][i], floor + tall[t][i]
                if across == 0 or across > right - left or above > ceiling:
                    continue
                meets = [above == wall for wall in walls]
                if across == right - left:
                    score, side = 4 + 2 * sum(meets), 0
                elif any(meets):
                    score, side = 3, int(not meets[0] or (meets[1] and walls[1] > walls[0]))
                else:
                    score, side = 0, int(walls[1] > walls[0])
                if best is None or score > best[0]:
                    best = score, i, t, side
            if best is not None and best[0] >= enough:
                break
        if best is None:
            up = min([*walls, *(end for start, end in faults if end > floor)])
            waste += (up - floor) * (right - left)
            top[left:right] = up
            continue
        _, i, t, side = best
        x = right - wide[t][i] if side else left
        places[i] = (x, floor, t)
        top[x : x + wide[t][i]] = floor + tall[t][i]
        rest.remove(i)
    return sum(wide[0][i] * tall[0][i] for i in rest), waste, places


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_the_decoder_is_the_plain_one(data):
    n = data.draw(st.integers(1, 9))
    side = st.integers(1, 7)
    size = np.array([(data.draw(side), data.draw(side)) for _ in range(n)])
    turns = np.array([data.draw(st.booleans()) for _ in range(n)])
    wide = np.stack([size[:, 0], np.where(turns, size[:, 1], 0)])
    tall = np.stack([size[:, 1], np.where(turns, size[:, 0], 0)])
    enough = data.draw(st.sampled_from([0, 3, 8]))
    width, height = data.draw(st.integers(7, 15)), data.draw(st.integers(3, 30))
    faults = data.draw(st.sampled_from([[], [(4, 6)], [(0, 1), (9, 13)]]))
    order = np.array(data.draw(st.permutations(range(n))))
    x, y, turned = np.empty(n, np.int64), np.zeros(n, np.int64), np.zeros(n, bool)
    starts, ends = (np.array([f[k] for f in faults], np.int64) for k in range(2))
    narrow = np.argsort(np.where(turns, size.min(axis=1), size[:, 0]), kind="stable")
    work = np.empty(3 * n + 6, np.int64)

    def found(most_waste):
        return fill(
            order, wide, tall, narrow, starts, ends, width, height, most_waste, enough, x, y, turned, work
        )

    left_out, waste, places = plain_fill(order, wide, tall, faults, width, height, enough)
    assert found(10**9) == left_out
    assert {i: (x[i], y[i], int(turned[i])) for i in range(n) if x[i] >= 0} == places
    assert found(waste) == left_out
    if waste:
        assert found(waste - 1) == -1


def test_impossible_work_is_refused():
    for pieces, options, told in (
        ([], {}, "number of pieces"),
        ([NestPiece("A", 1200, 10)], {}, "wider than the cloth"),
        ([NestPiece("A", 0, 10)], {}, "size of a piece"),
        ([NestPiece("A", float("nan"), 10)], {}, "size of a piece"),
        ([NestPiece("A", 9, 10), NestPiece("A", 9, 10)], {}, "one name"),
        ([NestPiece("A", 9, 10)], {"gap_mm": -1}, "gap cannot"),
        ([NestPiece("A", 9, 10)], {"faults_mm": [(5, 5)]}, "faulty stretch"),
        ([NestPiece("A", 9, 10)], {"faults_mm": [(5, 9), (8, 12)]}, "faulty stretch"),
    ):
        with pytest.raises(InputError, match=told):
            nest(pieces, width_mm=1000, **options)
    for seed in (-1, 10**22):
        with pytest.raises(UsageError, match="seed"):
            nest([NestPiece("A", 9, 10)], width_mm=1000, seed=seed)
    with pytest.raises(UsageError, match="unknown turn"):
        nest([NestPiece("A", 9, 10, "once")], width_mm=1000)


def test_a_list_is_read(tmp_path):
    file = tmp_path / "list.csv"
    file.write_text("code;width_mm;height_mm;count;turn\nA;100;50;2;\nB;30;40;;90\n", encoding="utf-8")
    assert [(p.code, p.width_mm, p.height_mm, p.turn) for p in read_pieces(file, "180")] == [
        ("A-1", 100, 50, "180"),
        ("A-2", 100, 50, "180"),
        ("B", 30, 40, "90"),
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "columns"),
        ("code,width_mm\nA,1\n", "columns"),
        ("code,width_mm,height_mm,colour\n", "columns"),
        ("code,width_mm,height_mm\n", "empty"),
        ("code,width_mm,height_mm\nA,1\n", "line 2"),
        ("code,width_mm,height_mm\nA,one,2\n", "line 2, width_mm"),
        ("code,width_mm,height_mm\nA,-1,2\n", "line 2, width_mm"),
        ("code,width_mm,height_mm\n,1,2\n", "no code"),
        ("code,width_mm,height_mm,count\nA,1,2,1.5\n", "count of a piece"),
        ("code,width_mm,height_mm,count\nA,1,2,99999999\n", "count of a piece"),
        ("code,width_mm,height_mm,turn\nA,1,2,upside\n", "unknown turn"),
        ('code,width_mm,height_mm\n"A,1,2\n', "no CSV"),
        ('[{"code": "A", "width_mm": 1, "height_mm": 2}]', "no CSV.*columns code|columns of the list"),
    ],
)
def test_a_bad_list_is_told(tmp_path, text, told):
    file = tmp_path / "list.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=told):
        read_pieces(file)


def test_a_long_nest_is_drawn_in_stretches_to_scale():
    """Strips of the roll side by side: together as long as the roll, every piece on one of them."""
    pieces = [NestPiece(f"P{k}", 900, 700, group="pair" if k in (3, 4) else "") for k in range(14)]
    found = nest_groups(pieces, width_mm=1000, seconds=0.3)
    root = ET.fromstring(nest_svg(found, "List"))

    def boxes(kind):
        seen = [e for e in root.iter() if e.get("class") == kind]
        return [tuple(float(e.get(k)) for k in ("x", "y", "width", "height")) for e in seen]

    strips, drawn = boxes("cloth"), boxes("piece")
    scale = strips[0][2] / 1000
    assert len(strips) > 1
    assert sum(s[3] for s in strips) == pytest.approx(found.length_mm * scale, abs=0.1)
    assert len(drawn) == 14
    assert not boxes("rest")  # rows are free of pieces between them
    assert [b[2:] for b in drawn] == [
        (pytest.approx(900 * scale, 1e-4), pytest.approx(700 * scale, 1e-4))
    ] * 14
    texts = ["".join(e.itertext()) for e in root.iter() if e.tag.endswith("text")]
    assert texts.count("FEED") == len(strips)
    assert texts.count("group pair") == 2
    assert {"groups, each on one stretch:", "pair"} <= set(texts)
    fills = [e.get("fill") for e in root.iter() if e.get("class") == "piece"]
    assert len(set(fills)) == 2
    assert {fills.count(f) for f in set(fills)} == {2, 12}
    # The line around the group is as high as its two pieces.
    assert sum(b[3] for b in boxes("group")) == pytest.approx(2 * 700 * scale, abs=0.1)
    assert any("Rolls are heavy" in text for text in texts)
    assert faults(nest_svg(found, "List")) == ([], [])


def test_turned_pieces_point_to_their_top():
    """A quarter turn clockwise brings the top to the right."""
    found = nest([NestPiece("Long", 300, 900, turn="90")], width_mm=1000, seconds=0.1)
    root = ET.fromstring(nest_svg(found, "List"))
    (box,) = [e for e in root.iter() if e.get("class") == "piece"]
    (top,) = [e for e in root.iter() if e.get("class") == "top"]
    x, y = map(float, top.get("d")[1:].split(" ")[0].split(","))
    left, upper, wide, high = (float(box.get(k)) for k in ("x", "y", "width", "height"))
    assert left + 0.9 * wide < x < left + wide
    assert y == pytest.approx(upper + high / 2, abs=0.1)


def test_stretches_part_between_pieces():
    free = [(0, k * 10, 5, k * 10 + 10) for k in range(10)]
    assert stretches(free, 100, 3) == ((0.0, 30), (30, 70), (70, 100.0))
    # A piece along the whole roll leaves no such place.
    assert stretches([*free, (5, 0, 9, 100)], 100, 2) == ((0.0, 50.0), (50.0, 100.0))


def test_every_piece_is_drawn():
    found = nest(pieces_of(cut(9, 400, 300, 5)), width_mm=400, faults_mm=[(120, 140)], seconds=0.2)
    drawn = nest_svg(found, "List", [(120, 140)])
    assert drawn.count('class="piece"') == 9
    assert drawn.count('class="fault"') == 1
    assert ">8</text>" in drawn
