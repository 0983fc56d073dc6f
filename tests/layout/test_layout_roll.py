"""Roll plans, and composed rolls against a plain composition in memory."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError, UsageError
from strikeoff.layout.compose import compose
from strikeoff.layout.repeat import snap_repeat
from strikeoff.layout.roll import plan_roll
from strikeoff.layout.slug import slug_bitmap
from strikeoff.layout.strip import control_strip
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.planes_tiff import open_planes, write_planes
from strikeoff.raster.resample import PeriodicTile, limits_of
from strikeoff.screening.masks import roll_masks
from strikeoff.screening.screen import screened
from strikeoff.screening.spectrum import radial_spectrum

KINDS = ("straight", "half-drop", "brick")


def unit(width, height, kind, dpi=(100, 100), weft=-3.0, warp=-5.5):
    return snap_repeat(
        width, height, warp_percent=warp, weft_percent=weft, dpi_x=dpi[0], dpi_y=dpi[1], kind=kind
    )


def tile_for(repeat, inks=4, seed=0):
    """A tile at press pitch, so that resampling copies it."""
    rng = np.random.default_rng(seed)
    return rng.integers(0, 65536, (repeat.height_px, repeat.width_px, inks), dtype=np.uint16)


def plain_design(tile, kind, rows, columns, start):
    """Design area by whole-image rolls: vectors (W, H/2), (0, H) for half-drop, (W, 0), (W/2, H) for brick.

    Lattices as textile design teaches them; common practice.
    """
    height, width, _ = tile.shape
    if kind == "half-drop":
        big = np.concatenate([tile, np.roll(tile, height // 2, axis=0)], axis=1)
    elif kind == "brick":
        big = np.concatenate([tile, np.roll(tile, width // 2, axis=1)], axis=0)
    else:
        big = tile
    many = np.tile(big, (rows // big.shape[0] + 1, columns // big.shape[1] + 3, 1))
    return np.roll(many, start, axis=1)[:rows, :columns]


@settings(max_examples=60, deadline=None)
@given(
    kind=st.sampled_from(KINDS), width=st.integers(5, 40), height=st.integers(5, 40),
    anchor=st.sampled_from(["centre", "centre-motif", "centre-gap", "left"]), margin=st.integers(0, 6),
    extra_x=st.floats(0, 90), extra_y=st.floats(0, 90), dpi=st.sampled_from([(100, 100), (60, 120)]),
    cut=st.integers(1, 97),
)  # fmt: skip
def test_every_pixel_of_a_roll(kind, width, height, anchor, margin, extra_x, extra_y, dpi, cut):
    repeat = unit(width, height, kind, dpi)
    plan = plan_roll(
        repeat, width_mm=width * 1.1 + 2 * margin + 2 + extra_x, length_mm=height * 1.2 + 100 + extra_y,
        margin_mm=margin, tail_mm=7, anchor=anchor,
    )  # fmt: skip
    tile = tile_for(repeat)
    roll = compose(ArraySource(tile), plan, ink_names=list("CMYK"))
    whole = np.concatenate([roll.read(y, min(y + cut, roll.height)) for y in range(0, roll.height, cut)])
    start = plan.column_px - plan.margin_px
    expected = np.zeros((plan.height_px, plan.width_px, 4), np.uint16)
    design = plain_design(tile, kind, plan.design_rows, plan.printable_px, start)
    expected[plan.leader_px : plan.height_px - plan.tail_px, margin_slice(plan)] = design
    assert np.array_equal(whole, expected)
    canonical = [roll.canonical_row(y) for y in range(roll.height)]
    assert all(c <= y for y, c in enumerate(canonical))
    assert np.array_equal(whole[canonical], whole)


@pytest.mark.parametrize("kind", KINDS)
def test_no_seam_in_a_resampled_lattice(kind):
    """The roll is the straight repeat of the lattice's whole cell, resampled across every joint."""
    repeat = unit(30, 24, kind, (100, 100))
    plan = plan_roll(repeat, width_mm=120, length_mm=130, margin_mm=3)
    art = np.random.default_rng(1).integers(0, 65536, (16, 22, 4), dtype=np.uint16)
    roll = compose(ArraySource(art), plan, ink_names=list("CMYK"))
    design = roll.read(plan.leader_px, plan.leader_px + plan.design_rows)[:, margin_slice(plan)]
    height, width = repeat.height_px, repeat.width_px
    if kind == "half-drop":
        cell, width = np.concatenate([art, np.roll(art, 8, axis=0)], axis=1), 2 * width
    elif kind == "brick":
        cell, height = np.concatenate([art, np.roll(art, 11, axis=1)], axis=0), 2 * height
    else:
        cell = art
    fine = PeriodicTile(ArraySource(cell), height, width, limits=limits_of(ArraySource(art)))
    fine = fine.read(0, plan.design_rows)
    columns = (np.arange(plan.printable_px) - (plan.column_px - plan.margin_px)) % width
    assert np.array_equal(design, fine[:, columns])


def margin_slice(plan):
    return slice(plan.margin_px, plan.width_px - plan.margin_px)


@pytest.mark.parametrize("kind", KINDS)
def test_waste_holds_strip_and_slug_and_nothing_else_is_touched(kind):
    repeat = unit(60, 50, kind, (150, 120))
    strip = control_strip(list("CMYK"), 3.0)
    plan = plan_roll(repeat, width_mm=200, length_mm=320, strip=strip)
    bare = compose(ArraySource(tile_for(repeat)), plan, ink_names=list("CMYK"))
    roll = compose(ArraySource(tile_for(repeat)), plan, ink_names=list("CMYK"), strip=strip, slug="Fern 3")
    whole = np.concatenate([roll.read(y, min(y + 7, roll.height)) for y in range(0, roll.height, 7)])
    assert np.array_equal(whole[plan.leader_px :], bare.read(plan.leader_px, bare.height))
    assert not whole[:, : plan.margin_px].any()
    assert not whole[:, -plan.margin_px :].any()
    assert not whole[-plan.tail_px :].any()
    pitch_x, pitch_y = roll.pitch_mm
    for patch, coverage in zip(roll.patches_mm(), strip.coverages, strict=True):
        x, y = patch.x_mm + patch.width_mm / 2, patch.y_mm + patch.height_mm / 2
        area = whole[
            int((y - 5) / pitch_y) : int((y + 5) / pitch_y), int((x - 5) / pitch_x) : int((x + 5) / pitch_x)
        ]
        assert np.array_equal(area, np.broadcast_to(np.rint(coverage * 65535), area.shape))
    bitmap = slug_bitmap("Fern 3", plan.across_mm(plan.printable_px), 150, 120)
    line = whole[plan.slug_px : plan.slug_px + len(bitmap), plan.margin_px : plan.margin_px + bitmap.shape[1]]
    assert np.array_equal(line[..., 3] == 65535, bitmap)
    assert not line[..., :3].any()
    canonical = [roll.canonical_row(y) for y in range(roll.height)]
    assert np.array_equal(whole[canonical], whole)


def test_nozzles_stand_below_the_strip_and_change_nothing_else():
    repeat = unit(60, 50, "half-drop", (150, 120))
    strip = control_strip(list("CMYK"), 3.0)
    both = []
    for inks in (0, 4):
        plan = plan_roll(repeat, width_mm=200, length_mm=420, strip=strip, nozzle_inks=inks)
        source = ArraySource(tile_for(repeat))
        roll = compose(source, plan, ink_names=list("CMYK"), strip=strip, slug="Fern 3")
        both.append(
            (plan, np.concatenate([roll.read(y, min(y + 7, roll.height)) for y in range(0, roll.height, 7)]))
        )
    (_, bare), (plan, whole) = both
    old = both[0][0].leader_px
    assert np.array_equal(whole[: plan.nozzle_px], bare[: plan.nozzle_px])
    pattern = whole[plan.nozzle_px : plan.leader_px]
    assert not pattern[:, : plan.margin_px].any()
    assert not pattern[:, -plan.margin_px :].any()
    assert (np.count_nonzero(pattern[:, margin_slice(plan)], axis=0) == round(120 / 25.4)).all()
    rows = min(plan.design_rows, both[0][0].design_rows)
    assert np.array_equal(whole[plan.leader_px :][:rows], bare[old:][:rows])


def test_planes_file_of_a_roll_shares_its_repeats(tmp_path):
    repeat = unit(60, 50, "half-drop")
    strip = control_strip(list("CMYK"), 3.0)
    plan = plan_roll(repeat, width_mm=150, length_mm=900, strip=strip)
    roll = compose(ArraySource(tile_for(repeat)), plan, ink_names=list("CMYK"), strip=strip, slug="Fern 3")
    path = tmp_path / "roll.tif"
    write_planes(path, roll, ink_names=list("CMYK"), info={"kind": "half-drop"})
    planes = open_planes(path)
    assert np.array_equal(planes.read(0, roll.height), roll.read(0, roll.height))
    assert planes.pitch_mm == pytest.approx(roll.pitch_mm, rel=1e-12)
    assert planes.row_block > 1
    raw_of_two_periods = 2 * repeat.period_rows * plan.width_px * 8
    assert path.stat().st_size < raw_of_two_periods


def test_plan_of_the_furnishing_order():
    """640 x 640 mm half-drop, 1400 mm cuttable: two whole repeats across (calculated by hand)."""
    plan = plan_roll(unit(640, 640, "half-drop", (600, 600)), width_mm=1400, length_mm=3000)
    assert (plan.width_px, plan.height_px) == (33071, 70866)
    assert plan.whole_across == 2
    printed, finished = plan.leftover_across_mm
    assert printed == pytest.approx(1380 - 2 * 640 / 0.97, abs=0.1)
    assert finished == pytest.approx(printed * 0.97)
    left = plan.column_px - plan.margin_px
    right = plan.printable_px - left - 2 * plan.repeat.width_px
    assert abs(left - right) <= 1
    assert plan.whole_along == 4
    assert plan.design_m[1] == pytest.approx(plan.design_m[0] * 0.945)
    assert plan.leader_px % 19 == 0


@pytest.mark.parametrize(
    ("anchor", "whole"), [("centre", 3), ("centre-motif", 3), ("centre-gap", 2), ("left", 3)]
)
def test_anchor(anchor, whole):
    repeat = unit(40, 40, "straight", weft=0, warp=0)
    plan = plan_roll(repeat, width_mm=150, length_mm=300, anchor=anchor)
    assert plan.whole_across == whole
    middle = plan.margin_px + plan.printable_px / 2
    offset = (middle - plan.column_px) / repeat.width_px % 1
    if anchor == "centre-gap":
        assert min(offset, 1 - offset) < 0.02
    elif anchor != "left":
        assert abs(offset - 0.5) < 0.02
    else:
        assert plan.column_px == plan.margin_px


def test_too_narrow_names_the_width_that_would_do():
    repeat = unit(640, 640, "straight", (600, 600))
    with pytest.raises(InputError, match=r"narrower than one repeat .*at least 679.9 mm"):
        plan_roll(repeat, width_mm=679.0, length_mm=3000)
    assert plan_roll(repeat, width_mm=679.9, length_mm=3000).whole_across == 1


def test_too_short_names_the_length_that_would_do():
    repeat = unit(100, 100, "straight")
    with pytest.raises(InputError, match="at least") as caught:
        plan_roll(repeat, width_mm=300, length_mm=100)
    needed = float(caught.value.expected.split()[2])
    assert plan_roll(repeat, width_mm=300, length_mm=needed).whole_along == 1


def test_wrong_use():
    repeat = unit(40, 40, "straight")
    with pytest.raises(UsageError, match="unknown anchor"):
        plan_roll(repeat, width_mm=150, length_mm=300, anchor="middle")
    for bad in (float("nan"), -1, 1e9):
        with pytest.raises(InputError, match="margin cannot be"):
            plan_roll(repeat, width_mm=150, length_mm=300, margin_mm=bad)
    plan = plan_roll(repeat, width_mm=150, length_mm=300)
    with pytest.raises(UsageError, match="other inks"):
        compose(ArraySource(tile_for(repeat)), plan, ink_names=list("CMYO"), strip=control_strip("CMYK", 3.0))
    with pytest.raises(UsageError, match="leader is too short"):
        compose(ArraySource(tile_for(repeat)), plan, ink_names=list("CMYK"), strip=control_strip("CMYK", 3.0))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("tone", [0.1, 0.3])
def test_dots_run_on_over_joins_and_steps(kind, tone):
    """Spectra of windows over joins and half-drop or brick steps are those of the inside."""
    repeat = unit(50, 47, kind, (127, 127), weft=0, warp=0)
    tile = np.full((repeat.height_px, repeat.width_px, 2), round(tone * 65535), np.uint16)
    plan = plan_roll(repeat, width_mm=190, length_mm=280)
    roll = compose(ArraySource(tile), plan, ink_names=["C", "M"])
    dots = screened(roll, roll_masks(2)).read(plan.leader_px, plan.leader_px + plan.design_rows)[..., 0]
    size = 128
    spectra = {}
    joints_y = range(repeat.height_px, plan.design_rows - size, repeat.height_px // 2)
    for name, tops, lefts in (
        ("join", [y - size // 2 for y in joints_y], [plan.column_px + repeat.width_px - size // 2]),
        ("inside", [40, 200, 333], [plan.margin_px + 11]),
    ):
        windows = [dots[y : y + size, x : x + size] for y in tops for x in lefts]
        assert all(w.shape == (size, size) for w in windows)
        spectra[name] = np.mean([radial_spectrum(w).power[1:60] for w in windows], axis=0)
    assert np.abs(spectra["join"] - spectra["inside"]).max() < 1e-9
    # A phase that starts anew at each repeat, as screening the repeat alone would give, shows:
    alone = np.tile(dots[: repeat.height_px], (3, 1))
    broken = radial_spectrum(alone[repeat.height_px - 64 : repeat.height_px + 64, 40:168]).power[1:60]
    assert np.abs(broken - spectra["inside"]).max() > 1e-3
