"""Recipes that a condition keeps, so that they are sought from once, when it is built.

The field that recipes start from takes long to solve with many inks. Its nodes depend on the model, the
limits and the black policy alone; a key of these tells whether kept ones are still those of a condition.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.canonical import digest_bytes, digest_value
from strikeoff.base.errors import InputError
from strikeoff.model.black import BlackPolicy
from strikeoff.model.expert_share import EVEN
from strikeoff.model.forward import LabModel
from strikeoff.model.limits import FULL, InkLimits
from strikeoff.model.solved_nodes import SolvedNodes


@dataclass(frozen=True)
class KeptNodes:
    """Nodes and what they were solved for.

    Attributes
    ----------
    nodes : SolvedNodes
        Of the field of recipes.
    key : str
        From :func:`nodes_key`.
    """

    nodes: SolvedNodes
    key: str


def nodes_key(native: LabModel, channels: Sequence[str], limits: InkLimits, policy: BlackPolicy) -> str:
    """Return a digest of all that the nodes depend on."""
    arrays = {
        "matrix": native.view.matrix,
        "white": native.view.white,
        "centre": native.centre,
        "steps": native.physics.steps,
        "overprints": native.physics.overprints,
        "recipes": native.free.centres,
        "free": native.free.weights,
        "anchored": native.anchored.weights,
        "per_ink": limits.per_ink,
        "weights": limits.weights,
        "curves": np.zeros(0) if limits.curves is None else limits.curves,
    }
    return digest_value(
        {
            "arrays": {name: digest_bytes(np.ascontiguousarray(a).tobytes()) for name, a in arrays.items()},
            "kernels": [native.free.kernel.as_record(), native.anchored.kernel.as_record()],
            "exponent": native.physics.exponent,
            **({} if (layer := native.physics.layer) is None else {"layer": asdict(layer)}),
            **({} if native.share == EVEN else {"anchored_share": native.share}),
            "channels": list(channels),
            "total": limits.total,
            "policy": asdict(policy),
        }
    )


def nodes_record(kept: KeptNodes) -> dict[str, Any]:
    """Return what the record of a condition says of nodes: their key, the darkest neutral of their field."""
    end = kept.nodes.dark_end
    return {"nodes_key": kept.key} | ({} if end is None else {"nodes_dark_end": list(end)})


def nodes_arrays(kept: KeptNodes) -> dict[str, NDArray[Any]]:
    """Return the arrays of nodes that a condition file holds, by name."""
    nodes = kept.nodes
    return {"node_low": nodes.low, "node_spacing": nodes.spacing, "node_recipes": nodes.codes}


def nodes_from_arrays(
    record: Mapping[str, Any], array: Callable[[str], NDArray[Any]], limits: InkLimits
) -> KeptNodes | None:
    """Return the nodes of a condition file, None where it keeps none.

    Raises
    ------
    InputError
        When they are no grid of recipes within the limits.
    """
    key = record.get("nodes_key")
    if key is None:
        return None
    low, spacing, codes = (array(name) for name in ("node_low", "node_spacing", "node_recipes"))
    fits = low.shape == spacing.shape == (3,) and bool((spacing > 0).all())
    fits &= codes.dtype == np.uint16 and codes.ndim == 4 and codes.shape[-1] == len(limits.per_ink)
    if not (fits and codes.size):
        raise InputError(
            "kept recipes are no grid of these inks",
            where="arrays/node_recipes.npy",
            found=f"{codes.dtype} {codes.shape}",
            expected=f"uint16 (n_l, n_a, n_b, {len(limits.per_ink)})",
        )
    dark = record.get("nodes_dark_end")
    recipe = np.array([dark or [0] * codes.shape[-1]], np.float64) / FULL
    if recipe.shape[1] != codes.shape[-1] or not limits.legal(recipe).all():
        raise InputError("the kept recipe of the darkest neutral is none within the limits", found=dark)
    nodes = SolvedNodes(low, spacing, codes, None if dark is None else tuple(int(code) for code in dark))
    if not limits.legal(nodes.inks).all():
        raise InputError("kept recipes break the condition's limits", where="arrays/node_recipes.npy")
    return KeptNodes(nodes, str(key))
