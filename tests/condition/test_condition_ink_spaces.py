"""A condition with curves: limits hold in laid-down ink, spaces are not mixed, old files open."""

import io
import json
import zipfile
from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.condition.archive import condition_bytes, read_condition
from strikeoff.condition.ink_space import calibrated_limits, check_ink_space, ink_space_keywords, ramp_space
from strikeoff.condition.links import artwork_table
from strikeoff.inks.guard import laid_down_plain
from strikeoff.inks.records import Ink, Screen
from strikeoff.inks.spaces import identity_spaces
from strikeoff.inks.tables import FULL, NODES, to_codes
from strikeoff.layout.compose import compose
from strikeoff.layout.repeat import snap_repeat
from strikeoff.layout.roll import plan_roll
from strikeoff.model.expert_share import EVEN
from strikeoff.model.inverse import solve
from strikeoff.model.neugebauer import fit_area_coverage
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.tables import apply_table
from strikeoff.screening.laid_down import LaidDownSource
from strikeoff.screening.masks import roll_masks
from strikeoff.screening.screen import ScreenedSource


@pytest.fixture(scope="module")
def bent(small_readings):
    """The small condition with curves, weights and a total that bind."""
    names = ("C", "M", "Y")
    inks = [
        Ink(name, limit=limit, drop_pl=(7.0,), weight=weight)
        for name, limit, weight in zip(names, (0.9, 0.8, 1.0), (1.0, 1.0, 0.7), strict=True)
    ]
    x = np.linspace(0, 1, NODES)
    tone = np.stack([ink.limit * x**power for ink, power in zip(inks, (1.6, 1.2, 0.9), strict=True)])
    spaces = identity_spaces(names, 1.4, inks=inks, screen=Screen(600, 600)).with_tone(
        to_codes(tone), "colour"
    )
    return replace(small_readings.condition, spaces=spaces, limits=calibrated_limits(spaces))


def most(spaces):
    """Total with the rounding of one code of each ink."""
    return spaces.total + spaces.loads.sum() / FULL


def laid(condition, inks):
    return condition.spaces.load(condition.spaces.to_laid_down(to_codes(np.clip(inks, 0, 1))))


def test_recipes_keep_the_laid_down_total(bent):
    lab = np.random.default_rng(0).uniform([0, -80, -80], [60, 80, 80], (300, 3))
    found = solve(bent.inverse, lab)
    load = laid(bent, found.inks)
    assert load.max() <= most(bent.spaces)
    # It binds: the limit is used, not just kept.
    assert load.max() > 0.9 * bent.spaces.total
    assert (found.inks <= bent.limits.per_ink + 1e-9).all()


def test_links_and_resampled_planes_keep_the_laid_down_total(bent):
    table = artwork_table(
        bent, "grey", lambda grey: np.hstack([100 * grey, np.zeros((len(grey), 2))]), "relative"
    )
    dark = np.zeros((40, 60, 1), np.uint8)
    dark[::2, ::3] = 255
    dark[5:20, 5:25] = np.arange(20, dtype=np.uint8)[:, None]
    planes = apply_table(dark, table)
    spaces = bent.spaces
    assert spaces.load(spaces.to_laid_down(planes)).max() <= most(spaces)
    unit = snap_repeat(20, 15, warp_percent=-3, weft_percent=-2, dpi_x=120, dpi_y=100, kind="half-drop")
    roll = compose(
        ArraySource(planes),
        plan_roll(unit, width_mm=90, length_mm=70, margin_mm=5),
        ink_names=("C", "M", "Y"),
    )
    source = LaidDownSource(roll, spaces)
    out = source.read(0, roll.height)
    assert spaces.load(out).max() <= spaces.total * (1 + 2e-6)
    assert source.share_touched() < 0.01
    held, touched = laid_down_plain(roll.read(0, roll.height), spaces)
    np.testing.assert_array_equal(out, held)
    assert source.share_touched() == pytest.approx(touched.mean())


def test_profile_tables_keep_the_laid_down_total(bent):
    from strikeoff.icc.evaluate import lab_to_device
    from strikeoff.icc.profile import read_profile
    from strikeoff.qualify.profiles import build_profiles

    profile = read_profile(build_profiles(bent)[4])
    lab = np.random.default_rng(1).uniform([0, -60, -60], [70, 60, 60], (2000, 3))
    for intent in ("perceptual", "relative"):
        assert laid(bent, lab_to_device(profile, lab, intent)).max() <= most(bent.spaces) + 2e-3


def test_guard_counts_and_periodic_rows(bent):
    planes = np.zeros((12, 5, 3), np.uint16)
    planes[3, 1] = FULL

    class Twice(ArraySource):
        row_block = 6

        def canonical_row(self, y):
            return y % 6

    source = LaidDownSource(Twice(np.concatenate([planes[:6], planes[:6]])), bent.spaces)
    with pytest.raises(RuntimeError, match="not read"):
        source.share_touched()
    source.read(0, 6)
    assert source.share_touched() == 2 / 60
    assert (source.canonical_row(9), source.row_block, source.channels) == (3, 6, 3)


def test_levels_lay_down_the_volume():
    inks = [Ink("C", drop_pl=(4.0, 9.0)), Ink("M", drop_pl=(5.0, 7.0, 14.0))]
    from strikeoff.inks.drops import drop_shares

    drops = np.zeros((2, 3, NODES), np.uint16)
    for j, ink in enumerate(inks):
        drops[j, : ink.levels] = drop_shares(ink.drop_pl)
    planes = np.zeros((64, 64, 2), np.uint16)
    planes[..., 0], planes[..., 1] = 30000, 50000
    levels = ScreenedSource(ArraySource(planes), roll_masks(2, size=64), drops).read(0, 64)
    assert levels.max() == 3
    for j, amount in enumerate((30000, 50000)):
        volume = np.array([0.0, *inks[j].drop_pl])
        assert volume[levels[..., j]].mean() == pytest.approx(amount / FULL * volume[-1], rel=0.01)


def test_readings_of_other_curves_are_refused(bent, small_readings):
    spaces, readings = bent.spaces, small_readings.readings

    def read(**keywords):
        return replace(readings, keywords=readings.keywords | keywords)

    check_ink_space(read(**ink_space_keywords(spaces)), spaces)
    check_ink_space(readings, None)
    check_ink_space(read(CURVES_DIGEST="identity"), None)
    with pytest.raises(InputError, match="do not say which curves"):
        check_ink_space(readings, spaces)
    with pytest.raises(InputError, match="other curves"):
        check_ink_space(read(**ink_space_keywords(spaces)), None)
    with pytest.raises(InputError, match="laid-down ink"):
        check_ink_space(read(**ink_space_keywords(spaces, "laid-down")) and read(
            CURVES_DIGEST=spaces.curves_digest, INK_SPACE="laid-down"), spaces)  # fmt: skip
    with pytest.raises(InputError, match="other curves"):
        check_ink_space(read(CURVES_DIGEST="sha256:0"), spaces)
    assert ramp_space(read(**ink_space_keywords(spaces)), spaces) == ("calibrated", ())
    assert ramp_space(read(**ink_space_keywords(spaces, "laid-down")), spaces) == ("laid-down", ())
    with pytest.raises(InputError, match="other curves") as refused:
        ramp_space(read(CURVES_DIGEST="sha256:0"), spaces)
    assert "without tone curves" in refused.value.expected
    assert "with them" in refused.value.expected
    with pytest.raises(InputError, match="other curves") as refused:
        ramp_space(read(CURVES_DIGEST="sha256:0"), spaces.straight())
    assert " or " not in refused.value.expected


def repacked(data, change):
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w") as target:
        for entry in source.infolist():
            member = change(entry.filename, source.read(entry))
            if member is not None:
                target.writestr(entry.filename, member)
    return out.getvalue()


def test_curves_travel_with_the_condition(bent, tmp_path):
    path = tmp_path / "bent.cond"
    data = condition_bytes(replace(bent, profiles={}))
    path.write_bytes(data)
    again, _ = read_condition(path)
    assert again.spaces.as_record() == bent.spaces.as_record()
    assert condition_bytes(again) == data

    def other(name, member):
        return member[:-1] + bytes([member[-1] ^ 1]) if name == "arrays/tone_curves.npy" else member

    path.write_bytes(repacked(data, other))
    with pytest.raises(InputError):
        read_condition(path)


def test_conditions_of_schema_1_are_read(small_readings, tmp_path):
    """As version 0.1 wrote them: no ink spaces, tone curves alone."""
    condition = small_readings.condition
    readings = condition.forward
    physics = fit_area_coverage(readings.recipes, readings.bands)
    even = replace(readings, share=EVEN, physics=physics)
    data = condition_bytes(replace(condition, forward=even, native=even.under(condition.native.view)))

    def older(name, member):
        if name in ("arrays/split_curves.npy", "arrays/drop_curves.npy"):
            return None
        if name == "condition.json":
            record = json.loads(member)
            assert record["schema"] == 4
            del record["ink_spaces"]
            return json.dumps(record | {"schema": 1}).encode()
        return member

    path = tmp_path / "old.cond"
    path.write_bytes(repacked(data, older))
    old, _ = read_condition(path)
    assert old.spaces.is_plain
    assert old.spaces.total == condition.limits.total
    assert condition_bytes(old) == data


def test_curves_of_the_total_are_kept_in_the_file(bent, tmp_path):
    assert bent.limits.curves is not None
    path = tmp_path / "bent.cond"
    path.write_bytes(condition_bytes(bent))
    read, _ = read_condition(path)
    np.testing.assert_array_equal(read.limits.curves, bent.limits.curves)
    assert read.limits.total == bent.limits.total
    assert read.recipe_limits.curves is not None
    with zipfile.ZipFile(path) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    buffer = io.BytesIO()
    np.save(buffer, np.zeros((2, 65)))
    members["arrays/total_curves.npy"] = buffer.getvalue()
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    with pytest.raises(InputError, match="curves of the total"):
        read_condition(path)
