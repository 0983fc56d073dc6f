"""Free shapes on a roll: nothing overlaps, shapes stay congruent on the goods, bounds hold, refusals."""

import json
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest
import shapely

from strikeoff.base.errors import InputError, RangeError, StrikeoffError, UsageError
from strikeoff.layout import shapes_nesting
from strikeoff.layout.contours import Contour
from strikeoff.layout.shape_plans import ShapeJob
from strikeoff.layout.shapes import Shape, read_shapes
from strikeoff.layout.shapes_nesting import check_plan, lower_bound_mm, nest_shapes, turned
from strikeoff.workbench import nest_roll_shapes

TRIANGLE = np.array([[0, 0], [200, 0], [0, 300]], float)
ELBOW = np.array([[0, 0], [300, 0], [300, 100], [100, 100], [100, 400], [0, 400]], float)


def shape(name, points, count=1, turn="180", holes=()):
    return Shape(name, Contour(name, np.asarray(points, float)), holes, count, turn)


JOB = ShapeJob((shape("tri", TRIANGLE, 6), shape("ell", ELBOW, 4, "90")), 820, 10, -6, 4, 3)


@pytest.fixture(scope="module")
def plan():
    return nest_shapes(JOB, seconds=2)


def sides(points):
    return np.hypot(*(np.roll(points, -1, axis=0) - points).T)


def area(points):
    x, y = np.asarray(points).T
    return (x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2


def test_pieces_lie_apart_on_the_cloth(plan):
    shapes = [shapely.Polygon(p.outline) for p in plan.placed]
    assert len(shapes) == 10
    for i, a in enumerate(shapes):
        for b in shapes[:i]:
            assert a.distance(b) >= 3 - 0.03
    wide = 800 * 1.04
    assert plan.cuttable_mm == pytest.approx((800, wide))
    edges = np.concatenate([p.outline for p in plan.placed])
    assert edges.min() > -0.03
    assert edges[:, 0].max() < wide + 0.03
    assert edges[:, 1].max() == pytest.approx(plan.length_mm)
    assert plan.fill == pytest.approx((6 * 30_000 + 4 * 60_000) / (wide * plan.length_mm))
    assert plan.printed_length_mm == pytest.approx(plan.length_mm / 0.94)


def test_pieces_keep_shape_and_hand_on_the_finished_goods(plan):
    drawn = {"tri": TRIANGLE, "ell": ELBOW}
    for placed in plan.placed:
        points = drawn[placed.shape]
        # Congruent and not mirrored, and turned as said.
        assert sides(placed.outline) == pytest.approx(sides(points), abs=1e-6)
        assert area(placed.outline) == pytest.approx(area(points))
        assert placed.turn_degrees % {"tri": 180, "ell": 90}[placed.shape] == 0
        angle = np.deg2rad(placed.turn_degrees)
        first = points[1] - points[0]
        # Clockwise with y downwards: across turns towards along.
        expected = (
            first[0] * np.cos(angle) - first[1] * np.sin(angle),
            first[0] * np.sin(angle) + first[1] * np.cos(angle),
        )
        assert placed.outline[1] - placed.outline[0] == pytest.approx(expected, abs=1e-3)


def test_better_than_boxes_in_rows(plan):
    # The plain way: boxes side by side in rows, highest first; common practice, no source.
    wide, x, y, high = plan.cuttable_mm[1], 0.0, 0.0, 0.0
    for w, h in [(300, 400)] * 4 + [(200, 300)] * 6:
        if x + w > wide:
            x, y, high = 0.0, y + high + 3, 0.0
        x, high = x + w + 3, max(high, h)
    assert plan.length_mm < 0.85 * (y + high)
    assert plan.length_mm >= plan.bound_mm


def test_bounds():
    assert lower_bound_mm((shape("a", ELBOW, 1, "none"),), 1e6) == 400
    assert lower_bound_mm((shape("a", ELBOW, 1, "90"),), 1e6) == 300
    # At the hypotenuse of a triangle 3-4-5 its height is 200 * 300 / hypot(200, 300).
    least = 60_000 / np.hypot(200, 300)
    assert lower_bound_mm((shape("a", TRIANGLE, 1, "any"),), 1e6) == pytest.approx(least)
    by_angle = min(np.ptp(turned(TRIANGLE, a)[:, 1]) for a in np.linspace(0, 180, 7201))
    assert by_angle == pytest.approx(least, rel=1e-3)
    assert lower_bound_mm((shape("a", TRIANGLE, 10, "any"),), 1000) == pytest.approx(300)


def test_cloth_of_known_length_is_nearly_filled():
    # Rectangles cut in two along a diagonal fill 400 x 600 exactly; the cloth is 10 mm wider.
    halves = (shape("half", [[0, 0], [200, 0], [0, 300]], 8, "180"),)
    plan = nest_shapes(ShapeJob(halves, 410, 0, 0, 0, 0), seconds=4)
    assert plan.bound_mm == pytest.approx(240_000 / 410)
    assert plan.length_mm < 600 * 1.06
    fitting = nest_shapes(
        ShapeJob((shape("w", [[0, 0], [400, 0], [400, 50], [0, 50]]),), 400, 0, 0, 0, 2), seconds=1
    )
    assert fitting.length_mm == pytest.approx(50, abs=0.5)


def test_a_plan_that_overlaps_is_never_given_out(plan):
    first, *rest = plan.placed
    twin = next(p for p in rest if p.shape == first.shape)
    moved = replace(twin, outline=first.outline)
    others = [p for p in rest if p is not twin]
    with pytest.raises(StrikeoffError, match="come too close"):
        check_plan(replace(plan, placed=(first, moved, *others)))
    with pytest.raises(StrikeoffError, match="lost a piece"):
        check_plan(replace(plan, placed=plan.placed[1:]))
    with pytest.raises(StrikeoffError, match="beyond the cloth"):
        check_plan(replace(plan, placed=(replace(first, outline=first.outline - 900), *rest)))


def test_a_search_that_breaks_down_says_so(monkeypatch):
    monkeypatch.setattr(shapes_nesting, "_MEMORY_BYTES", 16 << 20)
    with pytest.raises(InputError, match=r"nesting (broke down|failed)"):
        nest_shapes(JOB, seconds=1)


def test_a_person_can_stop_it():
    def stop(stage, fraction):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        nest_shapes(JOB, seconds=60, progress=stop)


@pytest.mark.parametrize(
    ("change", "kind", "said"),
    [
        ({"width_mm": 300}, InputError, "shape ell: piece is wider than the cloth"),
        ({"width_mm": 0}, InputError, "cloth cannot be"),
        ({"margin_mm": 410}, InputError, "cloth cannot be"),
        ({"gap_mm": -1}, InputError, "gap cannot be"),
        ({"warp_percent": 30}, RangeError, "dimensional change"),
        ({"shapes": (shape("a", ELBOW, 0),)}, InputError, "count cannot be"),
        ({"shapes": (shape("a", ELBOW), shape("a", ELBOW))}, InputError, "two shapes have one name"),
    ],
)
def test_refusals(change, kind, said):
    with pytest.raises(kind, match=said):
        nest_shapes(replace(JOB, **change), seconds=1)
    for wrong in ({"seconds": 0}, {"threads": 0}, {"seed": -1}):
        with pytest.raises(UsageError):
            nest_shapes(JOB, **wrong)


@pytest.mark.parametrize(
    ("across", "along", "count", "long"), [(8, 10, 1, 10), (8, 10, 7, 10), (400, 1, 4, 19)]
)
def test_little_cloth_keeps_the_gap(tmp_path, across, along, count, long):
    """By hand: small pieces lie side by side; ribbons of 1 mm lie above each other, 5 mm apart."""
    (tmp_path / "a.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="50mm" viewBox="0 0 500 50">'
        f'<rect width="{across}" height="{along}"/></svg>'
    )
    done = nest_roll_shapes(
        tmp_path / "a.svg", width=500, warp=0, weft=0, seconds=1, count=count, turn="none", gap=5,
        out=tmp_path / "o.json",
    )  # fmt: skip
    assert done.results["pieces"] == count
    assert done.results["length_mm"][1] == pytest.approx(long, abs=0.2)


def test_workbench_writes_places_cuts_and_drawing(tmp_path):
    rows = [
        {"name": "ring", "points": [[0, 0], [90, 0], [90, 90], [0, 90]], "count": 3,
         "holes": [[[30, 30], [60, 30], [60, 60], [30, 60]]]},
        {"name": "tri", "points": TRIANGLE.tolist(), "turn": "any"},
    ]  # fmt: skip
    (tmp_path / "s.json").write_text(json.dumps({"schema": "strikeoff/shapes/1", "shapes": rows}))
    done = nest_roll_shapes(
        tmp_path / "s.json", width=500, warp=-5, weft=-3, seconds=1, count=2,
        drawing=tmp_path / "d.svg", cuts=tmp_path / "c.svg", out=tmp_path / "o.json",
    )  # fmt: skip
    assert [path.name for path in done.outputs] == ["o.json", "c.svg", "d.svg"]
    assert done.results["pieces"] == 5
    record = json.loads((tmp_path / "o.json").read_text())
    for piece in record["pieces"]:
        printed = np.array(piece["printed_mm"])
        assert printed * (0.97, 0.95) == pytest.approx(np.array(piece["finished_mm"]), abs=1e-3)
        assert len(piece["printed_holes_mm"]) == (piece["shape"] == "ring")
    drawing = ET.parse(tmp_path / "d.svg").getroot()
    assert sum(e.get("class") == "piece" for e in drawing.iter()) == 5
    assert sum(e.get("class") == "inner" for e in ET.parse(tmp_path / "c.svg").iter()) == 3


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("[]", "there is no shape"),
        ('[{"name": "a"}]', r"shapes\[0\].points: points expected"),
        ('[{"name": "a", "points": [[0, 0], [1, 1], [1, 0], [0, 1]]}]', "contour a: contour crosses itself"),
        ('[{"name": "a", "points": [[0, 0], [1, NaN], [1, 0]]}]', "points expected"),
        ('[{"name": "a", "points": [[0, 0], [1, 0], [1, 1]], "turn": "45"}]', "unknown turn"),
        ('[{"name": "a", "points": [[0, 0], [1, 0], [1, 1]], "count": 1.5}]', "whole number expected"),
        ('[{"name": "a", "points": [[0, 0], [1, 0], [1, 1]], "colour": 1}]', "unknown fields"),
        ('[{"name": "a", "points": [[0, 0], [9, 0], [9, 9]], "holes": [[[20, 20], [22, 20], [22, 22]]]}]',
         "hole lies outside"),
    ],
)  # fmt: skip
def test_documents_that_are_refused(tmp_path, rows, said):
    (tmp_path / "s.json").write_text(f'{{"schema": "strikeoff/shapes/1", "shapes": {rows}}}')
    with pytest.raises(InputError, match=said):
        read_shapes(tmp_path / "s.json")
    for text in ("", "[1]", '{"schema": "x"}', "[" * 100_000):
        (tmp_path / "s.json").write_text(text)
        with pytest.raises(InputError, match=r"not JSON|not shapes"):
            read_shapes(tmp_path / "s.json")


def test_drawn_shapes_have_their_holes(tmp_path):
    (tmp_path / "a.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
        '<rect id="a" width="4" height="4"/><rect id="h" x="1" y="1" width="2" height="2"/>'
        '<rect id="b" x="5" width="4" height="4"/></svg>'
    )
    a, b = read_shapes(tmp_path / "a.svg", count=7, turn="none")
    assert (a.name, [h.name for h in a.holes], a.count, a.turn) == ("a", ["h"], 7, "none")
    assert (b.name, b.holes) == ("b", ())
