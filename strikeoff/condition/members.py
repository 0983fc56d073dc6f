"""What a condition file holds, by name: a record of plain values, arrays, the readings and the profiles."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.condition.kept_nodes import nodes_arrays, nodes_from_arrays, nodes_record
from strikeoff.condition.plain_arrays import array_from_npy, npy_bytes
from strikeoff.condition.recipe_rules import read_rules
from strikeoff.condition.record import MIXED_SCHEMA, SCHEMA, WHITE_SCHEMA, Condition
from strikeoff.inks.goods_tables import goods_from_record
from strikeoff.inks.spaces import identity_spaces, spaces_from_record
from strikeoff.measurement.records import Setup
from strikeoff.model.black import BlackPolicy
from strikeoff.model.covariance import Kernel
from strikeoff.model.error_bars import ErrorBarFigures, RadiusScale
from strikeoff.model.expert_share import EVEN
from strikeoff.model.forward import ForwardModel, LabModel, View
from strikeoff.model.gamut import GamutBoundary
from strikeoff.model.gaussian import GaussianProcess
from strikeoff.model.limits import InkLimits
from strikeoff.model.lone_ink import LonePart
from strikeoff.model.neugebauer import AreaCoverageModel, Layer
from strikeoff.model.table import TabulatedModel
from strikeoff.model.validation import ErrorFigures, Validation

# Models of schema 2 had no product over inks, those of schema 3 no part of inks that are alone; theirs
# are read as they were.
_MODELS_OF_OLD = (2, 3)
_RECORD = "condition.json"
_READINGS = "readings/original"
_CURVES = {"tone": "tone_curves", "split": "split_curves", "drops": "drop_curves"}


def condition_members(condition: Condition) -> dict[str, bytes]:
    """Return the bytes of each member of a condition file, in the order in which they stand there."""
    members = {
        _RECORD: json.dumps(_record(condition), indent=1, sort_keys=True, allow_nan=False).encode(),
        _READINGS: condition.readings,
    }
    for name, array in _arrays(condition).items():
        members[f"arrays/{name}.npy"] = npy_bytes(array)
    for version, profile in sorted(condition.profiles.items()):
        members[f"profiles/v{version}.icc"] = profile
    return members


def condition_from_members(members: Mapping[str, bytes]) -> Condition:
    """Return the condition that the members of a file hold.

    Raises
    ------
    InputError
        When it is made by a later version, or members do not fit each other. Damage may also raise whatever
        its parts raise.
    """
    record = json.loads(members[_RECORD])
    schema = record["schema"]
    if schema == 1:
        record, members = _migrate_1(record, members)
    elif schema not in (*_MODELS_OF_OLD, SCHEMA, WHITE_SCHEMA, MIXED_SCHEMA):
        raise InputError(
            "condition of another schema",
            found=schema,
            expected=f"1 to {MIXED_SCHEMA}",
            advice="Update strikeoff",
        )
    return _condition(record, members)


def _migrate_1(
    record: dict[str, Any], members: Mapping[str, bytes]
) -> tuple[dict[str, Any], Mapping[str, bytes]]:
    """Give a condition of schema 1 what schema 2 says about inks: names, and straight curves."""
    inks = [column.split("_", 1)[-1] for column in record["ink_columns"]]
    spaces = identity_spaces(inks, record["total_ink"]).as_record()
    arrays = {
        f"arrays/{name}.npy": npy_bytes(np.array(spaces.pop(key), np.uint16)) for key, name in _CURVES.items()
    }
    return record | {"ink_spaces": spaces}, {**members, **arrays}


def _schema(c: Condition) -> int:
    """Return the least schema that says all of it, so that older versions read what they can."""
    if c.native.share != EVEN or c.forward.physics.layer is not None:
        return MIXED_SCHEMA
    return SCHEMA if c.white_recipe is None else WHITE_SCHEMA


def _record(c: Condition) -> dict[str, Any]:
    return {
        "schema": _schema(c),
        "name": c.name,
        "label": c.label,
        "ink_columns": list(c.ink_columns),
        "setup": asdict(c.setup),
        "total_ink": c.limits.total,
        "ink_spaces": {k: v for k, v in c.spaces.as_record().items() if k not in _CURVES},
        "process_inks": list(c.process_inks),
        "recipe_rules": c.recipe_rules,
        "white_recipe": None if c.white_recipe is None else c.white_recipe.tolist(),
        "black_policy": asdict(c.policy),
        "readings": {"name": c.readings_name, "digest": c.readings_digest},
        "free": c.forward.free.as_record(),
        "anchored": c.forward.anchored.as_record(),
        "exponent": c.forward.physics.exponent,
        **({} if (layer := c.forward.physics.layer) is None else {"layer": asdict(layer)}),
        **({} if c.native.share == EVEN else {"anchored_share": c.native.share}),
        "table_size": None if c.table is None else c.table.size,
        "black_lab": c.black_lab.tolist(),
        "validation": None
        if c.validation is None
        else {
            "radius_scale": c.validation.radius_scale.size,
            "radius_slopes": asdict(c.validation.radius_scale),
            "groups": [asdict(group) for group in c.validation.groups],
            "bars": None if c.validation.bars is None else asdict(c.validation.bars),
        },
        "problems": [asdict(problem) for problem in c.problems],
        "profiles": {str(v): digest_bytes(p) for v, p in sorted(c.profiles.items())},
        **({"goods": c.goods.as_record()} if c.goods.is_recorded else {}),
        **({} if c.over_white is None else {"over_white": c.over_white}),
        **({} if (kept := c.fitting_nodes) is None else nodes_record(kept)),
    }


def _arrays(c: Condition) -> dict[str, NDArray[Any]]:
    arrays: dict[str, NDArray[Any]] = {
        "recipes": c.forward.recipes,
        "repeats": c.forward.repeats,
        "bands": c.forward.bands,
        "curve_steps": c.forward.physics.steps,
        "overprints": c.forward.physics.overprints,
        "view_matrix": c.native.view.matrix,
        "view_white": c.native.view.white,
        "centre": c.native.centre,
        "free_weights": c.native.free.weights,
        "anchored_weights": c.native.anchored.weights,
        "per_ink": c.limits.per_ink,
        "ink_weights": c.limits.weights,
        "tone_curves": c.spaces.tone,
        "split_curves": c.spaces.split,
        "drop_curves": c.spaces.drops,
        "boundary_lightness": c.boundary.lightness,
        "boundary_chroma": c.boundary.chroma,
    }
    if c.limits.curves is not None:
        arrays["total_curves"] = c.limits.curves
    if c.validation is not None:
        arrays["held_out_errors"] = c.validation.errors
    if c.wavelengths_nm is not None:
        arrays["wavelengths_nm"] = c.wavelengths_nm
    if c.table is not None:
        arrays["table_nodes"] = c.table.nodes
    if (kept := c.fitting_nodes) is not None:
        arrays |= nodes_arrays(kept)
    return arrays


def _kernel(record: dict[str, Any]) -> Kernel:
    fields: dict[str, Any] = {
        name: np.array(value) if isinstance(value, list) else value for name, value in record.items()
    }
    if fields.get("lone") is not None:
        fields["lone"] = LonePart.from_record(fields["lone"])
    return Kernel(**fields)


def _radius_scale(checked: dict[str, Any]) -> RadiusScale:
    """Return the scale of the radii; files of before slopes were learnt have its size alone."""
    learnt = checked.get("radius_slopes")
    if learnt is None:
        return RadiusScale(checked["radius_scale"])
    return RadiusScale(learnt["size"], tuple(learnt["slopes"]), tuple(learnt["usual"]), learnt["trusted"])


def _condition(record: dict[str, Any], members: Mapping[str, bytes]) -> Condition:
    def array(name: str) -> NDArray[Any]:
        loaded = array_from_npy(members[f"arrays/{name}.npy"])
        if loaded.dtype.kind == "f" and not np.isfinite(loaded).all():
            raise InputError("array holds NaN or infinity", where=f"arrays/{name}.npy")
        loaded.setflags(write=False)
        return np.asarray(loaded)

    if digest_bytes(members[_READINGS]) != record["readings"]["digest"]:
        raise InputError("readings do not match their digest", where=_READINGS)
    setup = Setup(**record["setup"])
    wavelengths = array("wavelengths_nm") if "arrays/wavelengths_nm.npy" in members else None
    view = View(array("view_matrix"), array("view_white"))
    layer = None if (told := record.get("layer")) is None else Layer(**told)
    physics = AreaCoverageModel(array("curve_steps"), array("overprints"), record["exponent"], layer)
    share = record.get("anchored_share", EVEN)
    free, anchored = (_kernel(record[name]) for name in ("free", "anchored"))
    recipes = array("recipes")
    forward = ForwardModel(recipes, array("repeats"), array("bands"), free, anchored, physics, share)
    native = LabModel(
        view,
        array("centre"),
        GaussianProcess(recipes, free, array("free_weights")),
        GaussianProcess(recipes, anchored, array("anchored_weights")),
        physics,
        share,
    )
    inks = len(record["ink_columns"])
    if recipes.ndim != 2 or recipes.shape[1] != inks:
        raise InputError("inks and recipes disagree", found=recipes.shape, expected=f"(n, {inks})")
    size = record["table_size"]
    checked = record["validation"]
    validation = None
    if checked is not None:
        groups = tuple(ErrorFigures(**group) for group in checked["groups"])
        bars = checked.get("bars")
        validation = Validation(
            groups,
            _radius_scale(checked),
            array("held_out_errors"),
            None if bars is None else ErrorBarFigures(**bars),
        )
    curves = _total_curves(members, array)
    limits = InkLimits(array("per_ink"), array("ink_weights"), record["total_ink"], curves=curves)
    return Condition(
        name=record["name"],
        ink_columns=tuple(record["ink_columns"]),
        setup=setup,
        wavelengths_nm=wavelengths,
        limits=limits,
        policy=BlackPolicy(**record["black_policy"]),
        spaces=spaces_from_record(record["ink_spaces"] | {key: array(name) for key, name in _CURVES.items()}),
        forward=forward,
        native=native,
        table=None if size is None else _table(array("table_nodes"), size),
        boundary=GamutBoundary(array("boundary_lightness"), array("boundary_chroma")),
        black_lab=np.array(record["black_lab"]),
        validation=validation,
        readings=members[_READINGS],
        readings_name=record["readings"]["name"],
        readings_digest=record["readings"]["digest"],
        label=record["label"],
        problems=tuple(Problem(**problem) for problem in record["problems"]),
        profiles={
            int(v): _checked(members[f"profiles/v{v}.icc"], digest, f"profiles/v{v}.icc")
            for v, digest in record["profiles"].items()
        },
        process_inks=tuple(record.get("process_inks", ())),
        recipe_rules=read_rules(record),
        goods=goods_from_record(record),
        white_recipe=_white_recipe(record.get("white_recipe"), inks),
        kept_nodes=nodes_from_arrays(record, array, limits),
        over_white=_over_white(record.get("over_white")),
    )


def _over_white(stated: object) -> bool | None:
    """Return what tones were judged over; files of before it was kept do not say."""
    if stated is not None and not isinstance(stated, bool):
        raise InputError(
            "not yes or no", where="over_white", found=str(stated)[:40], expected="true or false"
        )
    return stated


def _total_curves(
    members: Mapping[str, bytes], array: Callable[[str], NDArray[Any]]
) -> NDArray[np.float64] | None:
    """Return what inks count in the total; files of before there were curves hold none."""
    if "arrays/total_curves.npy" not in members:
        return None
    curves = array("total_curves")
    if curves.shape != (len(array("per_ink")), curves.shape[-1]) or curves.shape[-1] < 2:
        raise InputError("curves of the total do not fit the inks", found=curves.shape)
    return curves


def _white_recipe(stated: list[float] | None, inks: int) -> NDArray[np.float64] | None:
    """Return what white is printed with; files of before it was told take the bare cloth for white."""
    if stated is None:
        return None
    recipe = np.array(stated, dtype=np.float64)
    if recipe.shape != (inks,) or not ((recipe >= 0) & (recipe <= 1)).all() or not recipe.any():
        raise InputError("recipe of white does not fit the inks", found=stated, expected=f"{inks} of 0 to 1")
    recipe.setflags(write=False)
    return recipe


def _table(nodes: NDArray[Any], size: int) -> TabulatedModel:
    inks = max(round(np.log(max(len(nodes), 1)) / np.log(max(size, 2))), 1)
    if nodes.shape != (size**inks, 3):
        raise InputError("table has no such number of nodes", found=nodes.shape, expected=f"({size}^n, 3)")
    return TabulatedModel(nodes, size, inks)


def _checked(data: bytes, digest: str, where: str) -> bytes:
    if digest_bytes(data) != digest:
        raise InputError("member does not match its digest", where=where)
    return data
