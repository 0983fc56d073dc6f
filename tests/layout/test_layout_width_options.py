"""Options across a width against brute force in exact fractions."""

import random
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from math import lcm

import pytest

from strikeoff.base.errors import InputError, RangeError, UsageError
from strikeoff.layout.width_drawing import width_options_svg
from strikeoff.layout.width_options import WidthJob, cloth_width_mm, cuttable_width_mm, width_options
from strikeoff.raster.lattice import Lattice


def exact(value):
    return Fraction(str(value))


def brute_counts(width, cuttable, start):
    """Which repeats of an endless row lie whole inside the width; one of them begins at ``start``."""
    common = lcm(*(Fraction(v).denominator for v in (width, cuttable, start)))
    width, cuttable, start = (int(v * common) for v in (width, cuttable, start))
    return [k for k in range(-170, 170) if start + k * width >= 0 and start + (k + 1) * width <= cuttable]


def brute_length(height, order):
    """Repeats until the order is covered, counted one by one (in leaps that cannot overshoot)."""
    count = int(order / height) - 1 if order > 2 * height else 0
    while count * height < order:
        count += 1
    return max(count, 1)


def brute(job):
    weft, warp = 1 + exact(job.weft_percent) / 100, 1 + exact(job.warp_percent) / 100
    width, height = exact(job.repeat_w_mm) / weft, exact(job.repeat_h_mm)
    cuttable, order = exact(job.cuttable_mm), exact(job.order_mm)
    options = {}

    def add(name, whole, scale, left, right, repeats, shift=0):
        metres = (repeats * height * scale + shift + exact(job.end_loss_mm)) / 1000
        options[name] = (whole, 100 * scale, left, right, repeats, metres / warp, shift)

    repeats = brute_length(height, order)
    anchors = {"left": Fraction(0), "motif": (cuttable - width) / 2, "gap": cuttable / 2}
    for name, start in anchors.items():
        inside = brute_counts(width, cuttable, start)
        left = start + inside[0] * width if inside else (0 if name == "left" else cuttable / 2)
        right = cuttable - start - (inside[-1] + 1) * width if inside else cuttable - left
        add(f"{name}-edge", len(inside), 1, left, right, repeats)
        if inside:
            add(f"{name}-bare", len(inside), 1, left, right, repeats)
    most = len(brute_counts(width, cuttable, Fraction(0)))
    for count in (most, most + 1):
        if count:
            scale = cuttable / (count * width)
            add(f"scaled-{count}", count, scale, 0, 0, brute_length(height * scale, order))
    joined = len(brute_counts(width, cuttable - exact(job.overlap_mm) / weft, Fraction(0)))
    if joined:
        if job.drop_mm is not None:
            each = brute_length(height, exact(job.drop_mm))
            repeats = brute_length(exact(job.drop_mm), order) * each
        shift = height / 2 if job.kind == "half-drop" and joined % 2 == 1 else 0
        add("join", joined, 1, 0, cuttable - joined * width, repeats, shift)
    return options


def random_job(rng):
    cuttable = rng.choice([1400, 1600, 1750, rng.randint(300, 3200)])
    change = rng.choice([0, -4, -3, -20, rng.randint(-120, 60) / 10])
    width = rng.choice([rng.randint(20, 1800), round(cuttable * (1 + change / 100) / rng.randint(1, 9), 3)])
    return WidthJob(
        kind=rng.choice(["straight", "half-drop", "brick"]),
        repeat_w_mm=width,
        repeat_h_mm=rng.randint(20, 1500),
        warp_percent=rng.randint(-120, 60) / 10,
        weft_percent=change,
        cuttable_mm=cuttable,
        order_mm=rng.randint(1, 500) * 1000,
        end_loss_mm=rng.choice([0, 500]),
        overlap_mm=rng.choice([0, 0, 15, 30]),
        drop_mm=rng.choice([None, 2600, rng.randint(300, 4000)]),
    )


def test_equals_brute_force_on_a_thousand_cases():
    rng = random.Random(20)
    for _ in range(1000):
        job = random_job(rng)
        expected = brute(job)
        found = {o.name: o for o in width_options(job)}
        assert found.keys() == expected.keys(), job
        for name, (whole, scale, left, right, repeats, metres, shift) in expected.items():
            o = found[name]
            assert (o.whole_across, o.repeats_along) == (whole, repeats), (job, name)
            assert o.scale_percent == pytest.approx(float(scale), rel=1e-12)
            assert (o.left_mm[0], o.right_mm[0]) == pytest.approx((float(left), float(right)), abs=1e-8)
            assert o.left_mm[1] == pytest.approx(o.left_mm[0] * (1 + job.weft_percent / 100), abs=1e-9)
            assert o.order_m[0] == pytest.approx(float(metres), rel=1e-12)
            assert o.join_shift_mm == pytest.approx(float(shift))


def test_a_half_drop_on_satin():
    # Worked example (computed by hand): 640 / 0.97 = 659.79; 1400 - 2 x 659.79 = 80.41 printed, 78 finished.
    job = WidthJob("half-drop", 640, 640, -5.5, -3.0, cuttable_width_mm(1450, 15, 10), 420_000)
    options = {o.name: o for o in width_options(job)}
    assert options["left-bare"].right_mm == pytest.approx((80.412, 78.0), abs=1e-3)
    assert options["motif-edge"].whole_across == 1
    assert options["gap-edge"].left_mm[1] == pytest.approx(39.0)
    assert options["scaled-2"].scale_percent == pytest.approx(106.094, abs=1e-3)
    assert options["left-bare"].repeats_along == 657  # 656.25 repeats, rounded up
    assert options["left-bare"].order_m[0] == pytest.approx(657 * 0.64 / 0.945)


def test_the_same_half_drop_on_a_width_that_is_stated_finished():
    """By hand: 1400 finished hold 2 x 640 and 120 more, 123.71 printed."""
    cloth = cloth_width_mm(1400, "finished", -3.0)
    job = WidthJob("half-drop", 640, 640, -5.5, -3.0, cuttable_width_mm(cloth, 0, 0), 420_000)
    options = {o.name: o for o in width_options(job)}
    assert options["left-bare"].whole_across == 2
    assert options["left-bare"].right_mm == pytest.approx((123.711, 120.0), abs=1e-3)
    with pytest.raises(UsageError, match="basis"):
        cloth_width_mm(1400, "washed", -3.0)
    with pytest.raises(RangeError):
        cloth_width_mm(1400, "finished", -60)


def test_stripes_stand_once_across():
    """By counting in exact fractions: one column at the left, in the middle or as wide as the cloth."""
    rng = random.Random(21)
    for _ in range(200):
        job = replace(random_job(rng), kind=Lattice(repeats="along", turned=rng.random() < 0.5))
        width = exact(job.repeat_w_mm) / (1 + exact(job.weft_percent) / 100)
        spare = exact(job.cuttable_mm) - width
        places = {"scaled-1": (0, 0)}
        if spare >= 0:
            places |= {"left-bare": (0, spare), "motif-bare": (spare / 2, spare / 2)}
        found = {o.name: o for o in width_options(job)}
        assert found.keys() == places.keys(), job
        for name, (left, right) in places.items():
            o = found[name]
            scale = job.cuttable_mm / width if name == "scaled-1" else 1
            assert (o.whole_across, o.edge) == (1, "bare")
            assert o.repeats_along == brute_length(exact(job.repeat_h_mm) * exact(scale), exact(job.order_mm))
            assert (o.left_mm[0], o.right_mm[0]) == pytest.approx((float(left), float(right)), abs=1e-8)
            assert o.repeat_printed_mm[0] == pytest.approx(float(width * scale))


def test_borders_stand_once_along():
    """By hand: 42 m ordered are 42 m of cloth with one border; 17 drops of 2.6 m have one each."""
    job = WidthJob(Lattice(repeats="across"), 640, 640, -5.5, -3.0, 1430, 42_000, 0, 0, 2600)
    options = {o.name: o for o in width_options(job)}
    assert options.keys() == {o.name for o in width_options(replace(job, kind="straight"))}
    assert (options["left-bare"].repeats_along, options["left-bare"].order_m[1]) == (1, 42.0)
    assert options["left-bare"].order_m[0] == pytest.approx(42 / 0.945)
    assert (options["join"].repeats_along, options["join"].order_m[1]) == (17, pytest.approx(44.2))
    # A border longer than the order still takes its own length: 0.64 m.
    short = width_options(replace(job, order_mm=500))[0]
    assert short.order_m[1] == pytest.approx(0.64)


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"kind": Lattice(repeats="none")}, InputError),
        ({"repeat_w_mm": 0}, InputError),
        ({"repeat_h_mm": -1}, InputError),
        ({"order_mm": float("nan")}, InputError),
        ({"cuttable_mm": -5}, InputError),
        ({"overlap_mm": 5000}, InputError),
        ({"drop_mm": 0}, InputError),
        ({"weft_percent": -60}, RangeError),
        ({"kind": "tossed"}, UsageError),
    ],
)
def test_refusals(change, error):
    good = {
        "kind": "straight", "repeat_w_mm": 640, "repeat_h_mm": 640, "warp_percent": -5, "weft_percent": -3,
        "cuttable_mm": 1400, "order_mm": 1000,
    }  # fmt: skip
    with pytest.raises(error):
        width_options(WidthJob(**(good | change)))


@pytest.mark.parametrize("bad", [(0, 0, 0), (100, 60, 0), (1000, -1, 0), (float("nan"), 0, 0)])
def test_widths_that_cannot_be(bad):
    with pytest.raises(InputError):
        cuttable_width_mm(*bad)


def test_drawing_is_to_scale():
    job = WidthJob("straight", 300, 300, 0, -4, 1400, 10_000, overlap_mm=20)
    options = width_options(job)
    root = ET.fromstring(width_options_svg(options, 1450, 1400, "a < b"))
    whole = [r for r in root.iter() if r.get("class") == "whole"]
    assert len(whole) == sum(o.whole_across for o in options)
    assert float(whole[0].get("width")) == pytest.approx(312.5 * 1280 / 1450, abs=0.01)
    parts = [float(r.get("width")) for r in root.iter() if r.get("class") == "part"]
    asked = [s[0] for o in options if o.edge == "parts" for s in (o.left_mm, o.right_mm) if s[0] > 0.1]
    assert parts == pytest.approx([v * 1280 / 1450 for v in asked], abs=0.01)
