"""Control strip and slug line (common practice, no source)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.base.errors import RangeError, UsageError
from strikeoff.layout.slug import SLUG_MM, slug_bitmap
from strikeoff.layout.strip import control_strip

INKS = ["C", "M", "Y", "K", "Orange", "Red", "Blue", "Grey", "Pink"]


def test_cmyk_strip():
    strip = control_strip(list("CMYK"), 4.0)
    at = dict(zip(strip.ids, strip.coverages.tolist(), strict=True))
    assert at["cloth"] == [0, 0, 0, 0]
    assert at["M 75"] == [0, 0.75, 0, 0]
    assert at["C+Y"] == [1, 0, 1, 0]
    assert at["C+M+Y"] == [1, 1, 1, 0]
    assert at["grey deep"] == [0.64, 0.53, 0.52, 0]
    assert at["dark 3"] == [0.6, 0.5, 0.5, 1]


def test_long_names_and_other_order():
    strip = control_strip(["Black", "Yellow", "Magenta", "Cyan"], 4.0)
    at = dict(zip(strip.ids, strip.coverages.tolist(), strict=True))
    assert at["grey deep"] == [0, 0.52, 0.53, 0.64]


@given(st.integers(1, 9), st.floats(0.2, 9), st.permutations(INKS))
def test_under_the_total_limit(n, limit, order):
    limit = min(limit, n)
    strip = control_strip(order[:n], limit)
    ink = np.rint(strip.coverages * 65535)
    assert ink.sum(axis=1).max() <= limit * 65535 + 1
    assert strip.coverages.min() >= 0
    assert len(set(strip.ids)) == len(strip.ids) == len(strip.coverages)
    for channel, name in enumerate(order[:n]):
        for step in (100, 75, 50, 25):
            row = strip.coverages[strip.ids.index(f"{name} {step}")]
            assert np.flatnonzero(row).tolist() == [channel]
            if step / 100 <= limit:
                assert row[channel] == step / 100


def test_black_is_kept_when_dark_patches_are_cut():
    strip = control_strip(list("CMYK"), 2.0)
    dark = strip.coverages[strip.ids.index("dark 3")]
    assert dark[3] == 1.0
    assert dark[0] / dark[1] == pytest.approx(1.2)
    assert dark.sum() == pytest.approx(2.0, abs=1e-3)


def test_light_inks_are_no_part_of_overprints_and_greys():
    strip, plain = control_strip(list("kcmCMYK"), 7.0), control_strip(list("CMYK"), 4.0)
    for name, row in zip(plain.ids, plain.coverages, strict=True):
        got = strip.coverages[strip.ids.index(name)]
        assert got[:3].tolist() == [0, 0, 0]
        assert got[3:] == pytest.approx(row)
    assert len(strip.ids) == len(plain.ids) + 12


@pytest.mark.parametrize("limit", [0, -1, 300, float("nan")])
def test_limit_in_percent_is_refused(limit):
    with pytest.raises(RangeError, match=r"3\.0 is 300 %"):
        control_strip(list("CMYK"), limit)


def test_lines_fit_the_width():
    strip = control_strip(list("CMYK"), 3.0)
    placed = strip.placed(100)
    assert max(p.x_mm + p.width_mm for p in placed) <= 100
    assert placed[8].x_mm == 0
    assert placed[8].y_mm == 14
    assert strip.height_mm(100) == 3 * 14 + 12
    boxes = {(p.x_mm, p.y_mm) for p in placed}
    assert len(boxes) == len(strip.ids)
    with pytest.raises(UsageError, match="no room"):
        strip.placed(10)


def test_slug_has_the_size_it_claims_and_points_forward():
    bitmap = slug_bitmap("Fern 3 | condition 01234567", 500, 600, 600)
    assert bitmap.shape[0] == round(SLUG_MM * 600 / 25.4)
    assert bitmap.shape[1] <= 500 / 25.4 * 600
    arrow = bitmap[:, : bitmap.shape[0]]
    assert arrow[: len(arrow) // 2].sum() > 1.5 * arrow[len(arrow) // 2 :].sum()
    assert bitmap[:, bitmap.shape[0] * 3 // 2 :].any()


def test_slug_on_oblong_pixels_keeps_its_shape():
    square = slug_bitmap("HHHH", 500, 720, 720)
    oblong = slug_bitmap("HHHH", 500, 360, 720)
    assert oblong.shape[0] == square.shape[0]
    assert abs(oblong.shape[1] * 2 - square.shape[1]) <= 1


def test_slug_shrinks_then_refuses():
    assert slug_bitmap("x" * 100, 150, 300, 300).shape[1] <= 150 / 25.4 * 300
    with pytest.raises(UsageError, match="too long"):
        slug_bitmap("x" * 300, 150, 300, 300)


def test_slug_takes_any_letters():
    assert slug_bitmap("Farn grün 花 \n", 500, 300, 300).any()
    assert np.array_equal(slug_bitmap("grün", 500, 300, 300), slug_bitmap("grun", 500, 300, 300))
