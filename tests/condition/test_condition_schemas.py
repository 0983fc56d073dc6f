"""Condition files of earlier versions predict what they predicted when they were written."""

import io
import json
import zipfile
from dataclasses import replace

import numpy as np
import pytest

from strikeoff.condition.archive import condition_bytes, read_condition
from strikeoff.model.error_bars import doubt


def rewritten(data, change):
    """The archive with its record put through ``change``."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            member = source.read(name)
            if name == "condition.json":
                member = json.dumps(change(json.loads(member))).encode()
            target.writestr(name, member)
    return out.getvalue()


def as_schema_2(record):
    """As version 0.2 wrote it: kernels of distance, which name no variances of inks."""
    for expert in ("free", "anchored"):
        assert record[expert].pop("ink_variances") is None
    return record | {"schema": 2}


def plain_lab(condition, inks):
    """The mean of both experts, from the formulae of the kernel rather than the compiled sums."""
    native, forward = condition.native, condition.forward
    free = native.centre + forward.free.plain_covariance(inks, forward.recipes) @ native.free.weights
    base = native.view.lab(native.physics.predict(inks))
    rest = forward.anchored.plain_covariance(inks, forward.recipes) @ native.anchored.weights
    return 0.5 * (free + base + rest)


@pytest.fixture(scope="module")
def of_distance(small_readings):
    """A condition whose two experts both have kernels of distance, as all had before schema 3."""
    condition = replace(small_readings.condition, profiles={})
    anchored = replace(condition.forward.anchored, ink_variances=None, single_variance=0.02)
    forward = replace(condition.forward, anchored=anchored)
    return replace(condition, forward=forward, native=forward.under(condition.native.view))


def test_schema_2_predicts_as_it_did(of_distance, small_readings, tmp_path):
    path = tmp_path / "old.cond"
    path.write_bytes(rewritten(condition_bytes(of_distance), as_schema_2))
    old, _ = read_condition(path)
    assert old.forward.anchored.ink_variances is None
    assert old.forward.anchored.linear > 0
    inks = np.random.default_rng(4).random((200, len(old.ink_columns)))
    assert np.abs(old.native.lab(inks) - plain_lab(of_distance, inks)).max() < 1e-5
    # And the product over inks of newer files is not mistaken for it.
    assert np.abs(old.native.lab(inks) - small_readings.condition.native.lab(inks)).max() > 1e-3


def test_schema_3_predicts_as_it_did(small_readings, tmp_path):
    condition = small_readings.condition
    path = tmp_path / "present.cond"

    def checked(record):
        assert len(record["anchored"]["ink_variances"]) == len(condition.ink_columns)
        return record | {"schema": 3}

    path.write_bytes(rewritten(condition_bytes(condition), checked))
    again, _ = read_condition(path)
    inks = np.random.default_rng(5).random((200, len(again.ink_columns)))
    assert again.forward.anchored.linear == 0
    assert np.abs(again.native.lab(inks) - plain_lab(condition, inks)).max() < 1e-5


def test_radii_of_files_from_before_they_learnt_of_darks(small_readings, tmp_path):
    """Their size alone scales the doubt; files of today give back what was learnt."""
    condition = small_readings.condition
    data = condition_bytes(condition)
    scale = condition.validation.radius_scale
    assert any(scale.slopes)
    (tmp_path / "now.cond").write_bytes(data)
    assert read_condition(tmp_path / "now.cond")[0].validation.radius_scale == scale

    def earlier(record):
        del record["validation"]["radius_slopes"]
        return record

    (tmp_path / "then.cond").write_bytes(rewritten(data, earlier))
    old, _ = read_condition(tmp_path / "then.cond")
    inks = np.random.default_rng(6).random((50, len(old.ink_columns)))
    unsure = doubt(old.forward, old.native, inks)
    np.testing.assert_allclose(old.validation.radius_scale.radius(unsure), scale.size * unsure.shape)
