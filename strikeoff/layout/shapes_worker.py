"""The process that nests: the compiled library runs here alone."""

from __future__ import annotations

from typing import Any

from strikeoff.layout.contours_process import serve_process


def nest(request: dict[str, Any]) -> dict[str, Any]:
    """Return where each copy comes to lie on a strip of fixed height and least width.

    Parameters
    ----------
    request : dict
        ``items``: lists of points, count, turns or None; ``height``, ``apart``, ``seconds``, ``seed``,
        ``threads``.

    Returns
    -------
    dict
        ``placed``: index of the item, turn in degrees, then moved by x and y.
    """
    import spyrrow

    items = [
        spyrrow.Item(str(i), [tuple(p) for p in points], count, turns)
        for i, (points, count, turns) in enumerate(request["items"])
    ]
    instance = spyrrow.StripPackingInstance("strip", request["height"], items)
    config = spyrrow.StripPackingConfig(
        early_termination=True,
        min_items_separation=request["apart"] or None,
        total_computation_time=request["seconds"],
        num_workers=request["threads"],
        seed=request["seed"],
    )
    solution = instance.solve(config)
    placed = [[int(p.id), p.rotation, *p.translation] for p in solution.placed_items]
    return {"placed": placed}


if __name__ == "__main__":
    serve_process(nest)
