"""The condition file: same bytes, whole or refused."""

import io
import json
import pickle
import zipfile
from contextlib import suppress
from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.errors import InputError, StorageError, UsageError
from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.colour.weights import weighting_factors, white_point
from strikeoff.condition.archive import condition_bytes, read_condition, write_condition
from strikeoff.measurement.repeats import merge_repeats
from strikeoff.model import inverse
from strikeoff.model.inverse import solve


@pytest.fixture(scope="module")
def small(small_readings):
    """A condition of a simulated three-ink cloth, and its bytes."""
    return small_readings.condition, condition_bytes(small_readings.condition)


@pytest.fixture
def saved(tmp_path):
    def save(data):
        path = tmp_path / "a.condition"
        path.write_bytes(data)
        return path

    return save


def repacked(data, change):
    """The archive with its members put through ``change(name, bytes)``; None leaves one out."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as source,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for entry in source.infolist():
            member = change(entry.filename, source.read(entry))
            if member is not None:
                target.writestr(entry.filename, member)
    return out.getvalue()


def with_record(data, **changes):
    def change(name, member):
        return json.dumps(json.loads(member) | changes).encode() if name == "condition.json" else member

    return repacked(data, change)


def test_write_read_write_gives_equal_bytes(small, tmp_path):
    condition, data = small
    digest = write_condition(tmp_path / "one", condition)
    again, read_digest = read_condition(tmp_path / "one")
    assert digest == read_digest
    assert condition_bytes(again) == data == (tmp_path / "one").read_bytes()


def test_what_is_read_works_like_what_was_written(small, saved):
    condition, data = small
    again, _ = read_condition(saved(data))
    inks = np.random.default_rng(0).random((50, condition.n_inks))
    np.testing.assert_allclose(again.native.lab(inks), condition.native.lab(inks), atol=1e-9)
    lab = np.array([[50.0, 10.0, -20.0], [70.0, -5.0, 30.0]])
    np.testing.assert_allclose(solve(again.inverse, lab).inks, solve(condition.inverse, lab).inks, atol=1e-6)
    assert again.profiles == condition.profiles
    assert again.setup == condition.setup
    assert again.validation.groups == condition.validation.groups


def test_the_same_readings_build_the_same_bytes(small, small_readings):
    assert condition_bytes(small_readings.build()) == condition_bytes(replace(small[0], profiles={}))


def test_members_stand_in_fixed_order_with_a_fixed_date(small):
    with zipfile.ZipFile(io.BytesIO(small[1])) as archive:
        assert archive.namelist()[:2] == ["condition.json", "readings/original"]
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


@pytest.mark.parametrize(
    "member", ["arrays/recipes.npy", "readings/original", "profiles/v4.icc", "condition.json"]
)
def test_a_missing_member_is_refused(small, saved, member):
    path = saved(repacked(small[1], lambda name, data: None if name == member else data))
    with pytest.raises(InputError):
        read_condition(path)


@pytest.mark.parametrize("member", ["readings/original", "profiles/v2.icc"])
def test_a_changed_member_is_refused(small, saved, member):
    path = saved(repacked(small[1], lambda name, data: data + b"x" if name == member else data))
    with pytest.raises(InputError, match="digest"):
        read_condition(path)


@pytest.mark.parametrize("keep", [0, 1, 100, 0.5, -1])
def test_a_truncated_file_is_refused(small, saved, keep):
    data = small[1]
    path = saved(data[: int(keep * len(data)) if isinstance(keep, float) else keep])
    with pytest.raises(InputError) as caught:
        read_condition(path)
    assert str(path) in str(caught.value)


@pytest.mark.parametrize("seed", range(12))
def test_a_flipped_byte_is_refused_or_harmless(small, saved, seed):
    data = bytearray(small[1])
    data[np.random.default_rng(seed).integers(len(data))] ^= 0x55
    with suppress(InputError):
        read_condition(saved(bytes(data)))


def test_a_pickle_is_never_opened(small, saved):
    class Bomb:
        def __reduce__(self):
            return (pytest.fail, ("a pickle was opened",))

    stream = io.BytesIO()
    np.lib.format.write_array(stream, np.array([None], object), allow_pickle=True)
    evil = stream.getvalue()[: -len(pickle.dumps(np.array([None], object)))] + pickle.dumps(Bomb())
    path = saved(repacked(small[1], lambda name, data: evil if name == "arrays/centre.npy" else data))
    with pytest.raises(InputError):
        read_condition(path)


def test_nan_in_an_array_is_refused(small, saved):
    def change(name, data):
        if name != "arrays/bands.npy":
            return data
        array = np.load(io.BytesIO(data))
        array[0, 0] = np.nan
        stream = io.BytesIO()
        np.save(stream, array)
        return stream.getvalue()

    with pytest.raises(InputError, match="NaN"):
        read_condition(saved(repacked(small[1], change)))


def test_a_file_that_unpacks_to_too_much_is_refused(saved):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        block = bytes(1 << 20)
        with archive.open("condition.json", "w") as member:
            for _ in range(300):
                member.write(block)
    with pytest.raises(InputError, match="too much"):
        read_condition(saved(out.getvalue()))


def test_too_many_members_are_refused(saved):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for number in range(1000):
            archive.writestr(str(number), b"")
    with pytest.raises(InputError):
        read_condition(saved(out.getvalue()))


def test_another_schema_says_so(small, saved):
    with pytest.raises(InputError, match=r"schema.*Update"):
        read_condition(saved(with_record(small[1], schema=99)))


@pytest.mark.parametrize(
    "change",
    [{"ink_columns": ["3CLR_1"]}, {"free": None}, {"setup": {"colour": 3}}, {"black_policy": {"start": -5}}],
)
def test_a_record_that_makes_no_sense_is_refused(small, saved, change):
    with pytest.raises((InputError, UsageError)):
        read_condition(saved(with_record(small[1], **change)))


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"II*\0 not a condition", "begins with b'II"),
        (b"SAMPLE_ID,LAB_L\r\n1,50\r\n", "text that begins with 'SAMPLE_ID,LAB_L'"),
        (b"PK\x03\x04 cut", "an archive that is cut off"),
        (bytes(36) + b"acsp", "an ICC profile"),
        (b"", "an empty file"),
    ],
)
def test_something_else_is_refused(saved, data, found):
    with pytest.raises(InputError, match="not a condition file") as caught:
        read_condition(saved(data))
    assert found in caught.value.found


def test_no_file(tmp_path):
    with pytest.raises(StorageError):
        read_condition(tmp_path / "none")


def test_another_light_from_spectra(measured_condition, measured_set):
    """Predictions at the readings follow ASTM E308 weights of the other light, directly applied."""
    merged = merge_repeats(measured_set)
    inks = merged.coverages
    weights = weighting_factors("D65", "10", merged.wavelengths_nm)
    direct = xyz_to_lab(merged.spectra @ weights, white_point("D65", "10"))
    other = measured_condition.under("D65", "10").lab(inks)
    assert np.linalg.norm(other - direct, axis=1).mean() < 0.8
    own = measured_condition.under().lab(inks)
    assert np.linalg.norm(other - own, axis=1).mean() > 1.0
    assert measured_condition.under("D50", "2") is measured_condition.native


def test_matching_under_another_light(small_readings):
    condition = small_readings.condition
    inverse = condition.inverse_under("A", "2")
    lab = condition.under("A", "2").lab(np.array([[0.4, 0.2, 0.1]]))
    found = solve(inverse, lab)
    assert found.de00[0] < 0.1


def test_without_spectra_another_light_is_refused(smoothed_condition):
    with pytest.raises(UsageError, match="without spectra"):
        smoothed_condition.under("A", "2")
    with pytest.raises(UsageError):
        smoothed_condition.inverse_under("D65", "10")
    assert smoothed_condition.under("D50", "2") is smoothed_condition.native


def test_kept_recipes_come_back_and_solve_alike(small_readings, tmp_path):
    """A condition that was read gives the same inks without solving the field again; but for rounding."""
    condition, path = small_readings.condition, tmp_path / "kept.cond"
    write_condition(path, condition)
    again, _ = read_condition(path)
    assert again.fitting_nodes is not None
    np.testing.assert_array_equal(again.fitting_nodes.nodes.codes, condition.fitting_nodes.nodes.codes)
    lab = np.stack(np.meshgrid([20.0, 50, 80], [-30.0, 0, 30], [-30.0, 0, 30]), axis=-1).reshape(-1, 3)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(inverse, "solve_nodes", None)
        found = solve(again.inverse, lab).inks
    np.testing.assert_allclose(found, solve(condition.inverse, lab).inks, atol=1e-5)
    fresh = replace(condition, kept_nodes=None)
    np.testing.assert_allclose(found, solve(fresh.inverse, lab).inks, atol=1e-4)


def test_recipes_kept_for_other_limits_are_left(small_readings, tmp_path):
    condition, path = small_readings.condition, tmp_path / "less.cond"
    less = replace(condition, limits=replace(condition.limits, total=0.7 * condition.limits.total))
    assert less.kept_nodes is not None
    assert less.fitting_nodes is None
    write_condition(path, less)
    again, _ = read_condition(path)
    assert again.kept_nodes is None
    assert less.limits.legal(again.inverse.field.inks).all()


@pytest.mark.parametrize("end", [(65535,) * 3, (0,) * 4])
def test_a_kept_darkest_neutral_that_is_none_is_refused(small_readings, tmp_path, end):
    condition, path = small_readings.condition, tmp_path / "bad.cond"
    kept = replace(condition.kept_nodes, nodes=replace(condition.kept_nodes.nodes, dark_end=end))
    write_condition(path, replace(condition, kept_nodes=kept))
    with pytest.raises(InputError, match="darkest neutral"):
        read_condition(path)


@pytest.mark.parametrize("harm", ["shape", "kind", "limits"])
def test_kept_recipes_that_are_none_are_refused(small_readings, tmp_path, harm):
    condition, path = small_readings.condition, tmp_path / "bad.cond"
    nodes = condition.kept_nodes.nodes
    bad = {
        "shape": nodes.codes[..., :-1],
        "kind": nodes.codes.astype(np.int32),
        "limits": np.full_like(nodes.codes, 65535),
    }[harm]
    kept = replace(condition.kept_nodes, nodes=replace(nodes, codes=bad))
    write_condition(path, replace(condition, kept_nodes=kept))
    with pytest.raises(InputError, match="kept recipes"):
        read_condition(path)
