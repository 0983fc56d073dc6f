"""Finished and printed sizes, repeats snapped to press pixels."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.base.errors import InputError, RangeError, UsageError
from strikeoff.layout.finishing import finished_mm, finishing_factor, printed_mm
from strikeoff.layout.repeat import snap_repeat


def snapped(width, height, weft, warp, kind="straight", dpi_x=600, dpi_y=600):
    return snap_repeat(
        width, height, warp_percent=warp, weft_percent=weft, dpi_x=dpi_x, dpi_y=dpi_y, kind=kind
    )


def test_printed_size():
    """ISO 5077 sign; figures calculated by hand: 1000 / 0.97, 1000 / (0.97 x 0.98)."""
    assert round(printed_mm(1000, -3), 2) == 1030.93
    assert round(printed_mm(1000, [-3, -2]), 2) == 1051.97
    assert round(printed_mm(1000, [-2, -3]), 2) == 1051.97
    assert printed_mm(1000, 0) == 1000
    assert printed_mm(1000, 2) < 1000


def test_the_usual_slip_is_not_made():
    """Multiplying by (1 + s) instead of dividing by (1 - s) loses 19 mm on 3 m at 8 % (calculated)."""
    right, slip = printed_mm(3000, -8), 3000 * 1.08
    assert round(finished_mm(right, -8), 9) == 3000
    assert round(3000 - finished_mm(slip, -8), 1) == 19.2


@given(st.floats(1, 1e5), st.lists(st.floats(-15, 6), min_size=1, max_size=3))
def test_there_and_back(size, steps):
    assert math.isclose(finished_mm(printed_mm(size, steps), steps), size, rel_tol=1e-12)
    assert (printed_mm(size, steps) > size) == (finishing_factor(steps) < 1)


@pytest.mark.parametrize("bad", [-50.1, 20.1, 104.2, 96, math.nan, math.inf, -math.inf])
def test_outside_the_range(bad):
    with pytest.raises(RangeError, match=r"-50 to \+20 %"):
        printed_mm(1000, bad)
    with pytest.raises(RangeError):
        printed_mm(1000, [-2, bad])
    with pytest.raises(RangeError):
        snapped(320, 320, 0, bad)


def test_steps_together_stay_in_range():
    with pytest.raises(RangeError, match="found -64 %"):
        printed_mm(1000, [-40, -40])


def test_worked_example():
    """320 mm at 4 % and 600 dpi: 7874 px, less than 0.001 mm off per repeat (calculated by hand)."""
    repeat = snapped(320, 320, -4, -4)
    assert (repeat.width_px, repeat.height_px) == (7874, 7874)
    assert 0 < abs(repeat.error_mm()[0]) < 0.001
    assert math.isclose(repeat.error_mm(100)[1], 100 * repeat.error_mm()[1])
    # Entering a scale of 104.2 % or 104 % in place of the dimensional change (calculated):
    assert round(320 * 1.042 * 0.96 - 320, 2) == 0.10
    assert round(100 * (320 * 1.04 * 0.96 - 320)) == -51


def test_axes_are_not_swapped():
    """Warp runs along the roll (height), weft across (width)."""
    repeat = snapped(100, 200, weft=-3, warp=-6, dpi_x=300, dpi_y=600)
    assert repeat.width_px == round(100 / 0.97 / 25.4 * 300)
    assert repeat.height_px == round(200 / 0.94 / 25.4 * 600)
    assert abs(repeat.finished_width_mm - 100) < 0.05
    assert abs(repeat.finished_height_mm - 200) < 0.03
    assert repeat.printed_height_mm > 212


@given(
    st.floats(5, 2000), st.floats(5, 2000), st.floats(-15, 5), st.floats(-15, 5),
    st.sampled_from(["straight", "half-drop", "brick"]),
    st.sampled_from([(600, 600), (540, 720), (360, 1200)]),
)  # fmt: skip
def test_nearest_whole_pixels(width, height, weft, warp, kind, dpi):
    repeat = snapped(width, height, weft, warp, kind, *dpi)
    step_x = (2 if kind == "brick" else 1) * 25.4 / dpi[0] * (1 + weft / 100)
    step_y = (2 if kind == "half-drop" else 1) * 25.4 / dpi[1] * (1 + warp / 100)
    error_x, error_y = repeat.error_mm()
    assert abs(error_x) <= step_x / 2 * (1 + 1e-9)
    assert abs(error_y) <= step_y / 2 * (1 + 1e-9)
    assert kind != "half-drop" or repeat.height_px % 2 == 0
    assert kind != "brick" or repeat.width_px % 2 == 0
    assert repeat.period_rows == repeat.height_px * (2 if kind == "brick" else 1)


def test_wrong_values():
    with pytest.raises(UsageError, match="straight, half-drop, brick"):
        snapped(100, 100, 0, 0, kind="ogee")
    for size in (0, -5, math.nan, math.inf, 1e9):
        with pytest.raises(InputError, match="finished width"):
            snapped(size, 100, 0, 0)
    with pytest.raises(InputError, match="addressability across"):
        snapped(100, 100, 0, 0, dpi_x=0)
