"""What a condition says of how its inks mix."""

from __future__ import annotations

from typing import Any

from strikeoff.condition.record import Condition


def mixing_record(condition: Condition) -> dict[str, Any]:
    """Return how the model has inks mix, for JSON."""
    physics = condition.forward.physics
    layer = physics.layer
    return {
        "by": "area" if layer is None else "layer",
        "exponent": round(physics.exponent, 3) if layer is None else None,
        "surface_percent": None if layer is None else round(layer.surface * 100, 2),
        "physics_share_percent": round(condition.native.share * 100, 1),
    }


def mixing_words(condition: Condition) -> str:
    """Return how the model has inks mix, for people."""
    told = mixing_record(condition)
    how = (
        f"inks mix by area, Yule-Nielsen n {told['exponent']:.1f}"
        if told["by"] == "area"
        else f"inks mix in one layer as dyes do, its surface reflects {told['surface_percent']:.1f} %"
    )
    return f"{how}; physics counts {told['physics_share_percent']:.0f} % beside plain regression"
