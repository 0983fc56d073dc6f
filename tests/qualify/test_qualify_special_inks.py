"""White, clear, fluorescent and metallic inks print where artwork names them, and nowhere else."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import UsageError
from strikeoff.condition.archive import condition_bytes, read_condition
from strikeoff.condition.ink_space import inks_by_name_only
from strikeoff.condition.rendering import render
from strikeoff.inks.records import Ink, plain_inks
from strikeoff.inks.spaces import identity_spaces
from strikeoff.measurement.records import ReadingSet
from strikeoff.mill.press import WAVELENGTHS_NM, ink_columns, invented_press
from strikeoff.model.inverse import solve
from strikeoff.model.table import tabulate
from strikeoff.qualify.build import build_condition
from strikeoff.qualify.next_patches import next_patches

NAMES = ("C", "M", "Y", "K", "White", "Fluorescent Pink")


def print_six(inks):
    """CMYK of the mill on cloth; then an opaque white, and a pink that gives back light at 610 nm."""
    base = invented_press("T1", inks="CMYK").print(inks[:, :4])
    band = np.exp(-(((WAVELENGTHS_NM - 530.0) / 35.0) ** 2))
    glow = np.exp(-(((WAVELENGTHS_NM - 610.0) / 25.0) ** 2))
    pink, white = inks[:, 5:6], inks[:, 4:5]
    lit = base * np.exp(-1.8 * pink * band) + 0.45 * pink * (base.mean(axis=1, keepdims=True)) * glow
    return lit + 0.55 * white * (0.88 - lit)


@pytest.fixture(scope="module")
def six():
    """Readings of 160 recipes in six named inks."""
    rng = np.random.default_rng(4)
    ramps = np.kron(np.eye(6), np.array([[0.25], [0.5], [0.75], [1.0]]))
    rest = rng.random((135, 6))
    rest[rng.random(rest.shape) < 0.35] = 0.0
    rest /= np.maximum(rest.sum(axis=1) / 3.0, 1.0)[:, None]
    inks = np.vstack([np.zeros(6), ramps, rest])
    return ReadingSet(
        tuple(f"P{n}" for n in range(len(inks))),
        ink_columns("CMYKWF"),
        inks,
        spectra=print_six(inks),
        wavelengths_nm=WAVELENGTHS_NM,
        source="simulated six inks",
    )


def build(readings, *process_inks):
    return build_condition(
        readings,
        b"data",
        name="six",
        label="simulated",
        spaces=identity_spaces(NAMES, 2.8),
        process_inks=process_inks,
        validated=False,
    )


@pytest.fixture(scope="module")
def condition(six, coarse_gamut_of_module):
    """As it is by default."""
    return build(replace(six, digest=digest_bytes(b"data")))


@pytest.fixture(scope="module")
def lively(condition):
    """The same with the pink among the process inks."""
    return replace(condition, process_inks=("Fluorescent Pink",), table=None)


def test_neutrals_use_no_special_ink_and_black_rises_smoothly(condition):
    ramp = np.zeros((101, 3))
    ramp[:, 0] = np.linspace(100.0, float(condition.black_lab[0]), 101)
    found = render(condition, ramp, "relative")
    assert np.array_equal(found.inks[:, 4:], np.zeros((101, 2)))
    assert found.de00.max() < 0.6
    black = found.inks[:, 3]
    assert black[-1] > 0.5
    assert (np.diff(black) > -0.01).all()
    assert np.abs(np.diff(black[:-1], 2)).max() < 0.03  # at the black point itself its limit stops it


def test_no_colour_is_separated_into_special_inks(condition):
    rng = np.random.default_rng(2)
    lab = np.column_stack([rng.uniform(10, 95, 400), rng.uniform(-70, 70, (400, 2))])
    assert solve(condition.inverse, lab).inks[:, 4:].max() == 0.0
    for intent in ("perceptual", "saturation", "absolute"):
        assert render(condition, lab[:60], intent).inks[:, 4:].max() == 0.0
    assert condition.inverse_under("A").limits.per_ink[4:].max() == 0.0
    assert next_patches(condition, 8).recipes[:, 4:].max() == 0.0


def test_round_trip_of_process_inks_stays_exact(condition):
    inks = condition.recipe_limits.random(200, np.random.default_rng(5))
    found = solve(condition.inverse, condition.native.lab(inks))
    assert found.de00.mean() < 0.05
    assert found.de00.max() < 0.5
    assert condition.limits.legal(found.inks, 1e-6).all()


def test_the_model_still_knows_all_solids(condition):
    truth = condition.native.view.lab(print_six(np.eye(6)))
    assert np.abs(condition.native.lab(np.eye(6)) - truth).max() < 1.0
    # The table of the four others hands recipes with special inks to the model itself.
    quick = condition.inverse.quick
    np.testing.assert_array_equal(quick.lab(np.eye(6)[4:]), condition.native.lab(np.eye(6)[4:]))


def test_a_table_of_some_inks_agrees_with_the_model(condition):
    partly = tabulate(condition.native, [0, 1, 2])
    inks = condition.limits.random(60, np.random.default_rng(8))
    inks[:30, 3:] = 0.0
    value, slope = partly.jacobian(inks)
    exact, exact_slope = condition.native.jacobian(inks)
    np.testing.assert_allclose(value[30:], exact[30:])
    np.testing.assert_allclose(slope[30:], exact_slope[30:])
    assert np.abs(value[:30] - exact[:30]).max() < 0.5
    assert np.abs(slope[:30, :, :3] - exact_slope[:30, :, :3]).max() < 15.0
    assert slope[:30, :, 3:].max() == 0.0


def test_an_ink_takes_part_when_it_is_named_a_process_ink(condition, lively, six, monkeypatch):
    # A field of few nodes, which takes less long.
    monkeypatch.setattr("strikeoff.model.node_solving.refine", lambda guide, limits, coarse, *rest: coarse)
    pink = lively.native.lab(np.array([[0, 0, 0, 0, 0, 0.6]]))
    assert solve(lively.inverse, pink).de00[0] < 0.1
    assert solve(lively.inverse, pink).inks[0, 5] > 0.3
    assert solve(condition.inverse, pink).de00[0] > 3.0
    assert lively.by_name_only == ("White",)
    with pytest.raises(UsageError, match="no special ink"):
        build(six, "Pink")


def test_what_takes_part_survives_the_file(condition, lively, tmp_path):
    for number, made in enumerate((condition, lively)):
        (tmp_path / f"{number}.cond").write_bytes(condition_bytes(made))
        again, _ = read_condition(tmp_path / f"{number}.cond")
        assert again.by_name_only == made.by_name_only
        np.testing.assert_array_equal(again.recipe_limits.per_ink, made.recipe_limits.per_ink)
    again, _ = read_condition(tmp_path / "0.cond")
    lab = np.array([[60.0, 20.0, 10.0], [30.0, 0.0, 0.0]])
    np.testing.assert_allclose(solve(again.inverse, lab).inks, solve(condition.inverse, lab).inks, atol=1e-9)


def test_roles_come_from_the_press_first_and_from_names_else():
    names = ["Opaque White", "w", "Clear", "Varnish", "fluo yellow", "FluoPink", "Neon_Orange", "Silver"]
    roles = [ink.role for ink in plain_inks(names)]
    assert roles == ["white", "white", "clear", "clear", *["fluorescent"] * 3, "metallic"]
    assert {ink.role for ink in plain_inks(["Golden Yellow", "Whitewash", "Blue", "Influence"])} == {"extra"}
    spaces = identity_spaces(("C", "White"), 2.0)
    assert inks_by_name_only(spaces) == ("White",)
    assert inks_by_name_only(replace(spaces, inks=(Ink("C"), Ink("White", "extra")))) == ()
    # Where there is nothing else, special inks are what there is.
    assert inks_by_name_only(identity_spaces(("White", "Fluo Pink"), 2.0)) == ()


def test_a_wrong_process_ink_is_refused_before_the_model_is_fitted(six, monkeypatch):
    """With many inks the fit takes minutes."""
    monkeypatch.delattr("strikeoff.qualify.build.fit_forward")
    with pytest.raises(UsageError, match="no special ink"):
        build(six, "Gold")
