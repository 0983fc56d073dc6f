"""Condition files of earlier versions predict what they predicted when they were written."""

import io
import json
import zipfile
from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.condition.archive import condition_bytes, read_condition
from strikeoff.condition.kept_nodes import nodes_key
from strikeoff.model.error_bars import doubt
from strikeoff.model.expert_share import EVEN
from strikeoff.model.neugebauer import AreaCoverageModel, Layer, fit_area_coverage


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
    """The weighted mean of both experts, from the formulae of the kernel rather than the compiled sums."""
    native, forward = condition.native, condition.forward
    free = native.centre + forward.free.plain_covariance(inks, forward.recipes) @ native.free.weights
    base = native.view.lab(native.physics.predict(inks))
    rest = forward.anchored.plain_covariance(inks, forward.recipes) @ native.anchored.weights
    return (1 - native.share) * free + native.share * (base + rest)


def as_before(forward):
    """The same readings as before schema 6: inks mix by area, and both experts count alike."""
    return replace(forward, share=EVEN, physics=fit_area_coverage(forward.recipes, forward.bands))


@pytest.fixture(scope="module")
def of_distance(small_readings):
    """A condition whose two experts both have kernels of distance, as all had before schema 3."""
    condition = replace(small_readings.condition, profiles={})
    anchored = replace(condition.forward.anchored, ink_variances=None, single_variance=0.02)
    forward = replace(as_before(condition.forward), anchored=anchored)
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
    even = as_before(condition.forward)
    condition = replace(condition, forward=even, native=even.under(condition.native.view))
    path = tmp_path / "present.cond"

    def checked(record):
        assert len(record["anchored"]["ink_variances"]) == len(condition.ink_columns)
        return record | {"schema": 3}

    path.write_bytes(rewritten(condition_bytes(condition), checked))
    again, _ = read_condition(path)
    inks = np.random.default_rng(5).random((200, len(again.ink_columns)))
    assert again.forward.anchored.linear == 0
    assert np.abs(again.native.lab(inks) - plain_lab(condition, inks)).max() < 1e-5


def test_shares_and_layers_are_kept(small_readings, tmp_path):
    """What schema 6 tells: how much each expert counts, and what inks mix in."""
    condition = small_readings.condition
    forward = condition.forward
    layer = Layer(0.01, 1.0)
    solids = layer.absorption(forward.physics.seen(forward.physics.overprints)[0])
    mixed = replace(forward, share=0.7, physics=AreaCoverageModel(forward.physics.steps, solids, 1.0, layer))
    condition = replace(condition, forward=mixed, native=mixed.under(condition.native.view))
    data = condition_bytes(condition)
    (tmp_path / "mixed.cond").write_bytes(data)
    again, _ = read_condition(tmp_path / "mixed.cond")
    assert condition_bytes(again) == data
    assert again.forward.physics.layer == layer
    assert again.forward.share == again.native.share == 0.7
    inks = np.random.default_rng(7).random((200, len(again.ink_columns)))
    np.testing.assert_allclose(again.native.lab(inks), condition.native.lab(inks), atol=1e-9)
    assert np.abs(again.native.lab(inks) - plain_lab(condition, inks)).max() < 1e-5
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert json.loads(archive.read("condition.json"))["schema"] == 6


def test_nodes_are_of_one_share_and_one_layer(small_readings):
    """Recipes that were kept are not taken for those of a model that mixes otherwise."""
    condition = small_readings.condition
    native, channels = condition.native, condition.spaces.channels
    others = [
        replace(native, share=0.3),
        replace(native, physics=replace(native.physics, layer=Layer(0.01, 1.0))),
        replace(native, physics=replace(native.physics, layer=Layer(0.02, 1.0))),
    ]
    keys = {nodes_key(model, channels, condition.limits, condition.policy) for model in [native, *others]}
    assert len(keys) == 4


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


def test_files_of_before_it_was_kept_do_not_say_what_tones_were_judged_over(small_readings, tmp_path):
    path, told = tmp_path / "a.cond", replace(small_readings.condition, profiles={}, over_white=True)
    path.write_bytes(condition_bytes(told))
    assert read_condition(path)[0].over_white is True
    path.write_bytes(rewritten(condition_bytes(told), lambda record: record.pop("over_white") and record))
    assert read_condition(path)[0].over_white is None
    path.write_bytes(rewritten(condition_bytes(told), lambda record: record | {"over_white": "yes"}))
    with pytest.raises(InputError, match="over_white"):
        read_condition(path)
