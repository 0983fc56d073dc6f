"""Ink spaces: curves, laydown, guard, digests."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_inks import random_spaces

from strikeoff.base.errors import InputError
from strikeoff.inks.drops import drop_shares
from strikeoff.inks.guard import guard_plain, ink_guard, laid_down_plain
from strikeoff.inks.kernels import lay_down
from strikeoff.inks.records import Ink, Screen
from strikeoff.inks.spaces import IDENTITY, InkSpaces, identity_spaces, spaces_from_record
from strikeoff.inks.tables import NODES, full_table, look_up, straight_curves, to_codes


@settings(max_examples=40)
@given(seed=st.integers(0, 10_000), rows=st.integers(1, 5), width=st.integers(1, 40))
def test_kernel_equals_the_definition_and_holds_the_total(seed, rows, width):
    spaces = random_spaces(seed)
    rng = np.random.default_rng(seed)
    band = rng.integers(0, 65536, (rows, width, 4), dtype=np.uint16)
    band[rng.random(band.shape) < 0.2] = 65535
    band[rng.random(band.shape) < 0.3] = 0
    guard = ink_guard(spaces)
    lines = np.empty((rows, 5, width), np.uint16)
    touched = np.full(rows, -1, np.int64)
    rest = (guard.loads, guard.spared, guard.limit, guard.slack)
    by_ink = np.ascontiguousarray(np.moveaxis(band, 2, 1))
    lay_down(by_ink, np.array(spaces.source), spaces.tables, *rest, lines, touched)
    out = np.moveaxis(lines, 1, 2)
    held, marks = laid_down_plain(band, spaces)
    np.testing.assert_array_equal(out, held)
    np.testing.assert_array_equal(touched, marks.sum(axis=1))
    assert spaces.load(out).max() <= spaces.total * (1 + 2e-6)
    assert (out <= spaces.to_laid_down(band)).all()


def test_guard_takes_process_inks_together_before_named_ones():
    inks = [Ink("C"), Ink("M"), Ink("Orange", "extra")]
    spaces = identity_spaces(("C", "M", "Orange"), 1.5, inks=inks)
    planes = to_codes([[0.8, 0.4, 0.9], [1, 1, 1], [0.5, 0.5, 0.5], [0.0, 0.0, 1.0]])
    held, touched = guard_plain(planes, ink_guard(spaces))
    amounts = held / 65535
    # 0.9 orange leaves 0.6 for cyan and magenta, which keep their ratio of two to one.
    np.testing.assert_allclose(amounts[0], [0.4, 0.2, 0.9], atol=2e-5)
    np.testing.assert_allclose(amounts[1], [0.25, 0.25, 1.0], atol=2e-5)
    # Three half tones round up to one code above the total: taken away, not counted.
    assert np.abs(held[2:].astype(int) - planes[2:]).max() <= 1
    assert touched.tolist() == [True, True, False, False]
    tight, _ = guard_plain(planes[:1], ink_guard(replace(spaces, total=0.6)))
    np.testing.assert_allclose(tight[0] / 65535, [0, 0, 0.6], atol=2e-5)


def test_a_light_ink_goes_with_its_dark_one():
    """A pale orange is spared as orange is."""
    inks = [Ink("C"), Ink("Orange", "extra"), Ink("pale", "light", "Orange")]
    curves = straight_curves(3)
    spaces = InkSpaces(("C", "Orange"), tuple(inks), curves[:2], curves, curves[:, None], total=1.0)
    assert ink_guard(spaces).spared.tolist() == [False, True, True]


def test_an_ink_without_weight_is_left_alone():
    inks = [Ink("C"), Ink("Clear", "clear", weight=0.0)]
    spaces = identity_spaces(("C", "Clear"), 0.5, inks=inks)
    held, _ = guard_plain(to_codes([[0.9, 1.0]]), ink_guard(spaces))
    np.testing.assert_allclose(held[0] / 65535, [0.5, 1.0], atol=2e-5)


# Check values of ml/m2 at full tone: (dpi / 0.0254)^2 x pL x 1e-9, arithmetic.
@pytest.mark.parametrize(
    ("dpi", "pl", "ml"), [(600, 7, 3.906), (720, 12, 9.642), (1200, 5, 11.16), (360, 35, 7.031)]
)
def test_laydown_in_ml(dpi, pl, ml):
    spaces = identity_spaces(
        "CM", 2.0, inks=[Ink("C", drop_pl=(pl,)), Ink("M", drop_pl=(pl,))], screen=Screen(dpi, dpi)
    )
    full = spaces.ml_m2(np.array([65535, 0], np.uint16))
    assert full == pytest.approx([ml, 0], rel=2e-4)
    assert spaces.total_ml_m2 == pytest.approx(2 * ml, rel=2e-4)


@settings(max_examples=40)
@given(steps=st.lists(st.floats(1.0, 20.0), min_size=1, max_size=4), overlap=st.floats(0, 1))
def test_drop_levels_keep_the_volume(steps, overlap):
    volumes = np.cumsum(steps)
    shares = drop_shares(volumes, overlap).astype(np.int64)
    assert (np.diff(shares, axis=1) >= 0).all()
    assert (np.diff(shares, axis=0) <= 0).all()
    amount = np.diff(volumes, prepend=0.0) @ shares / volumes[-1] / 65535
    np.testing.assert_allclose(amount, np.linspace(0, 1, NODES), atol=3e-5)


def test_tables_of_nodes():
    curve = to_codes(np.linspace(0, 1, NODES) ** 2)
    full = full_table(curve)
    assert (np.diff(full.astype(int)) >= 0).all()
    np.testing.assert_array_equal(full[::257], curve)
    np.testing.assert_array_equal(full_table(straight_curves(1)[0]), np.arange(65536))
    assert look_up(curve, np.array([128], np.uint16))[0] == round(float(curve[1]) * 128 / 257)


def test_digests_and_records():
    spaces = random_spaces(3)
    again = spaces_from_record(spaces.as_record())
    assert again.as_record() == spaces.as_record()
    assert identity_spaces("CMYK", 3.0).curves_digest == IDENTITY
    assert identity_spaces("CMYK", 2.0).is_plain
    bent = spaces.tone.copy()
    bent[1, 100:] += 1
    others = [
        spaces.with_tone(bent, "x"),
        spaces.straight(),
        replace(spaces, screen=Screen(600, 600, passes=2)),
    ]
    assert len({s.curves_digest for s in [spaces, *others]}) == 4
    damaged = spaces.as_record()
    damaged["tone"][0][200] += 1
    with pytest.raises(InputError, match="digest"):
        spaces_from_record(damaged)
    with pytest.raises(InputError, match="damaged"):
        spaces_from_record({})


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("inks",), "x"),
        (("inks", 0), [1]),
        (("inks", 0, "solid_lab"), []),
        (("inks", 0, "solid_lab"), 10**400),
        (("channels",), 3),
        (("screen",), "x"),
        (("tone",), {"a": 1}),
        (("total",), 10**400),
    ],
    ids=lambda part: str(part)[:30],
)
def test_damage_of_any_kind_is_told(place, value):
    """Curves come from files, and from profiles that anybody may have written."""
    damaged = identity_spaces(["C", "M"], 2.0).as_record()
    within = damaged
    for step in place[:-1]:
        within = within[step]
    within[place[-1]] = value
    with pytest.raises(InputError):
        spaces_from_record(damaged)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"passes": 8}, "passes 8, was 1"),
        ({"direction": "one way"}, "direction one way"),
        ({"dpi_x": 720.0}, "dpi_x 720"),
        ({"method": "error diffusion"}, "method error diffusion"),
    ],
)
def test_a_changed_screen_asks_for_new_curves(change, word):
    spaces = random_spaces(1)
    other = replace(spaces, screen=replace(spaces.screen, **change))
    moved = spaces.with_press(other)
    assert any(word in reason for reason in moved.stale)
    np.testing.assert_array_equal(moved.tone, spaces.tone)
    assert moved.total_ml_m2 == pytest.approx(spaces.total_ml_m2)
    assert moved.with_tone(spaces.tone, "again").stale == ()
    assert spaces.with_press(spaces).stale == ()


def test_changed_drop_curves_ask_for_new_curves():
    spaces = random_spaces(1)
    drops = spaces.drops.copy()
    drops[0] = drop_shares((4.0, 7.0), 0.0)
    assert spaces.with_press(replace(spaces, drops=drops)).stale == ("drop curves changed",)


@pytest.mark.parametrize(
    "bad",
    [
        {"name": " "},
        {"role": "pale"},
        {"role": "light"},
        {"light_of": "M"},
        {"limit": 0.0},
        {"limit": float("nan")},
        {"weight": -1.0},
        {"drop_pl": (7.0, 4.0)},
        {"drop_pl": (0.0,)},
    ],
)
def test_inks_that_cannot_be(bad):
    with pytest.raises(InputError):
        Ink(**{"name": "C", **bad})


def test_spaces_that_cannot_be():
    spaces = random_spaces(2)
    falling = spaces.tone[:, ::-1]
    for change in (
        {"tone": falling},
        {"tone": spaces.tone[:2]},
        {"split": spaces.split[:, :9]},
        {"channels": ("C", "M", "Orange", "Violet")},
        {"inks": (spaces.inks[0],) * 5},
        {"total": 0.0},
        {"total": float("inf")},
    ):
        with pytest.raises(InputError):
            replace(spaces, **change)
    with pytest.raises(InputError, match="uint16"):
        spaces.to_laid_down(np.zeros((3, 4)))
