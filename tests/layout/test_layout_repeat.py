"""Repeats on every lattice: whole pixels, periods, finished error, composed rolls and joined widths."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import UsageError
from strikeoff.layout.compose import compose
from strikeoff.layout.repeat import lattice_of, snap_repeat
from strikeoff.layout.roll import plan_roll
from strikeoff.layout.width_options import WidthJob, width_options
from strikeoff.raster.bands import ArraySource, canonical_rows
from strikeoff.raster.lattice import Lattice

LATTICES = [
    lattice_of(),
    lattice_of("half-drop"),
    lattice_of("brick"),
    lattice_of("drop", "1/3"),
    lattice_of("drop", "2/5"),
    lattice_of("brick", "2/5"),
    lattice_of("brick", "3/4"),
    lattice_of(mirror="across"),
    lattice_of(mirror="along"),
    lattice_of(mirror="both"),
    lattice_of("half-drop", mirror="across"),
    lattice_of("brick", mirror="along"),
    lattice_of(turned=True),
    lattice_of("drop", "1/3", turned=True),
    lattice_of("brick", "1/3", turned=True),
    lattice_of("brick", "2/5", turned=True),
    lattice_of(only="along"),
    lattice_of(only="across"),
    lattice_of(only="along", mirror="along"),
    lattice_of(only="across", turned=True),
]
by_name = pytest.mark.parametrize("lattice", LATTICES, ids=lambda lattice: lattice.name)


def unit(lattice, width=23, height=31):
    return snap_repeat(width, height, warp_percent=-5.5, weft_percent=-3, dpi_x=80, dpi_y=60, kind=lattice)


def plane(tile, lattice, rows, columns):
    """The plane sample by sample, by the words of the trade (common practice, no source)."""
    h, w = tile.shape[:2]
    out = np.zeros((len(rows), len(columns), *tile.shape[2:]), tile.dtype)
    for a, y in enumerate(rows):
        for b, x in enumerate(columns):
            if lattice.offset == "drop":
                i, u = divmod(x, w)
                j, v = divmod(y - i * h * lattice.share.numerator // lattice.share.denominator, h)
            else:
                j, v = divmod(y, h)
                moved = j * w * lattice.share.numerator // lattice.share.denominator
                i, u = divmod(x - moved, w)
            if (lattice.repeats == "along" and i) or (lattice.repeats == "across" and j):
                continue
            odd = lattice.turned and (i + j) % 2
            if odd or (lattice.mirror in ("across", "both") and i % 2):
                u = w - 1 - u
            if odd or (lattice.mirror in ("along", "both") and j % 2):
                v = h - 1 - v
            out[a, b] = tile[v, u]
    return out


@by_name
def test_every_pixel_of_a_roll_of_every_lattice(lattice):
    repeat = unit(lattice)
    plan = plan_roll(repeat, width_mm=130, length_mm=380, margin_mm=4, tail_mm=9)
    tile = np.random.default_rng(3).integers(
        1, 65536, (repeat.height_px, repeat.width_px, 2), dtype=np.uint16
    )
    roll = compose(ArraySource(tile), plan, ink_names=("C", "K"))
    whole = np.concatenate([roll.read(y, min(y + 37, roll.height)) for y in range(0, roll.height, 37)])
    columns = np.arange(plan.printable_px) - (plan.column_px - plan.margin_px)
    expected = np.zeros_like(whole)
    design = plane(tile, lattice, range(plan.design_rows), columns)
    expected[plan.leader_px : plan.leader_px + plan.design_rows, plan.margin_px : -plan.margin_px] = design
    assert np.array_equal(whole, expected)
    assert np.array_equal(whole[canonical_rows(roll)], whole)


@by_name
def test_the_period_is_the_least(lattice):
    """Rows and columns come again after the stated number of tiles, and after no smaller one."""
    tile = np.random.default_rng(1).integers(0, 65536, (15, 15), dtype=np.uint16)
    if lattice.offset != "none":
        tile = np.kron(tile, np.ones((lattice.height_parts, lattice.width_parts), np.uint16))
    h, w = tile.shape
    for period, size, axis in ((lattice.period_heights, h, 0), (lattice.period_widths, w, 1)):
        if lattice.repeats == ("across", "along")[axis]:
            continue
        far = [range(3 * h), range(3 * w)]
        first = plane(tile, lattice, *far)
        same = []
        for times in range(1, period + 1):
            moved = list(far)
            moved[axis] = range(times * size, times * size + 3 * size)
            other = plane(tile, lattice, *moved)
            same.append(bool(np.array_equal(first, other)))
        if lattice.repeats == "both":
            assert same.index(True) == period - 1


@by_name
def test_resampled_joints_have_no_seam(lattice):
    """Differences over the joints lie among those of the lines inside: no doubled line, no step.

    A random field that is smooth on the lattice is cut to one tile, enlarged three times and laid out.
    The mean difference of neighbours over a joint is compared with those of all inner lines of the same
    phase.
    """
    if lattice.repeats != "both":
        pytest.skip("has no joint in one direction")
    art = smooth_tile(lattice, 60, 60)
    repeat = snap_repeat(91.44, 91.44, warp_percent=0, weft_percent=0, dpi_x=50, dpi_y=50, kind=lattice)
    assert (repeat.width_px, repeat.height_px) == (180, 180)
    plan = plan_roll(repeat, width_mm=480, length_mm=620, margin_mm=0, anchor="left")
    roll = compose(ArraySource(art[..., None]), plan, ink_names=("K",))
    design = roll.read(plan.leader_px, plan.leader_px + plan.design_rows)[..., 0].astype(float)
    plain = lattice.offset == "none"  # with an offset a mirror glides: its sides differ
    if lattice.offset != "brick":
        compare(np.abs(np.diff(design, axis=1)).T, plain and lattice.mirror in ("across", "both"))
    if lattice.offset != "drop":
        compare(np.abs(np.diff(design, axis=0)), plain and lattice.mirror in ("along", "both"))


def compare(steps, mirrored):
    lines = steps.mean(axis=1)[2 : 2 + (len(steps) - 2) // 3 * 3 : 3]
    at = np.arange(len(lines)) % 60 == 59
    if mirrored:  # both sides of a mirror are equal, each way exactly
        assert not lines[at].any()
        return
    assert at.sum() >= 2
    inside = lines[~at]
    # Beyond all inner lines by no more than they are spread themselves.
    assert inside.min() - inside.std() < lines[at].min()
    assert lines[at].max() < inside.max() + inside.std()
    assert inside.min() > 0.25 * inside.mean()  # a doubled line would be told apart


def smooth_tile(lattice, h, w):
    """White noise laid out on the lattice, blurred there, and the first cell cut out."""
    from scipy.ndimage import gaussian_filter

    noise = np.random.default_rng(11).integers(0, 65536, (h, w), dtype=np.uint16)
    cells = plane(noise, lattice, range(-h, 2 * h), range(-w, 2 * w)).astype(float)
    smooth = gaussian_filter(cells, 1.2, truncate=5)[h : 2 * h, w : 2 * w]
    low, high = smooth.min(), smooth.max()
    return np.rint(5000 + 50000 * (smooth - low) / (high - low)).astype(np.uint16)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["drop", "brick"]), st.integers(2, 12), st.data(), st.floats(20, 900), st.floats(20, 900)
)
def test_divisible_and_nearest(kind, parts, data, width, height):
    top = data.draw(st.integers(1, parts - 1))
    share = Fraction(top, parts)
    repeat = snap_repeat(
        width, height, warp_percent=-5, weft_percent=2, dpi_x=600, dpi_y=720, kind=Lattice(kind, share)
    )
    size, step = (
        (repeat.height_px, 25.4 / 720 * 0.95) if kind == "drop" else (repeat.width_px, 25.4 / 600 * 1.02)
    )
    assert size % share.denominator == 0
    error = repeat.error_mm()[1 if kind == "drop" else 0]
    assert abs(error) <= share.denominator * step / 2 * (1 + 1e-9)


def test_the_order_of_the_job():
    """320 mm, 4 % shrinkage, 600 dpi: calculated by hand for the trade's two usual slips."""
    right = snap_repeat(320, 320, warp_percent=-4, weft_percent=-4, dpi_x=600, dpi_y=600, kind="straight")
    assert right.width_px == 7874
    assert abs(right.error_mm()[0]) < 0.001
    assert abs(right.error_mm(100)[1]) < 0.1

    # Entered as a scale in percent of the finished size, without whole pixels:
    assert pytest.approx(0.10, abs=0.005) == 320 * 1.042 * 0.96 - 320
    assert pytest.approx(-51, abs=0.5) == 100 * (320 * 1.04 * 0.96 - 320)
    # The tool divides; it does not multiply.
    assert right.printed_width_mm == pytest.approx(320 / 0.96, abs=0.002)


def test_words_that_cannot_be():
    for words, told in (
        ({"repeat": "ogee"}, "unknown kind"),
        ({"repeat": "drop"}, "needs its offset"),
        ({"repeat": "drop", "offset": "0/3"}, "offset of a repeat"),
        ({"repeat": "drop", "offset": "3/3"}, "offset of a repeat"),
        ({"repeat": "drop", "offset": "1/0"}, "no fraction"),
        ({"repeat": "drop", "offset": "-1/3"}, "no fraction"),
        ({"repeat": "drop", "offset": "0.3"}, "no fraction"),
        ({"repeat": "brick", "offset": "1/51"}, "offset of a repeat"),
        ({"offset": "1/3"}, "takes no offset"),
        ({"mirror": "sideways"}, "unknown mirror"),
        ({"mirror": "both", "turned": True}, "not both"),
        ({"repeat": "drop", "offset": "1/3", "mirror": "across"}, "do not meet"),
        ({"repeat": "half-drop", "mirror": "along"}, "do not meet"),
        ({"repeat": "half-drop", "only": "along"}, "no neighbours"),
        ({"mirror": "across", "only": "along"}, "no neighbours"),
    ):
        with pytest.raises(UsageError, match=told):
            lattice_of(**words)


@by_name
def test_joined_widths_go_on(lattice):
    """The second of two equal widths, moved as told, shows what one wide cloth would show."""
    if lattice.repeats == "along":
        # A stripe stands once across: there is nothing to go on with.
        options = width_options(WidthJob(lattice, 100, 100, 0, 0, 350, 1000))
        assert [o.name for o in options if o.name == "join"] == []
        return
    w = h = 30
    tile = np.random.default_rng(2).integers(0, 65536, (h, w), dtype=np.uint16)
    for cuttable in (110.0, 210.0, 310.0, 410.0):
        joins = [
            o for o in width_options(WidthJob(lattice, 100, 100, 0, 0, cuttable, 1000)) if o.name == "join"
        ]
        if not joins:
            assert cuttable == 110.0
            continue
        (join,) = joins
        wide = join.whole_across * w
        shift = round(join.join_shift_mm / 100 * h)
        expected = plane(tile, lattice, range(4 * h), range(wide, wide + 2 * w))
        assert np.array_equal(plane(tile, lattice, range(-shift, 4 * h - shift), range(2 * w)), expected)
