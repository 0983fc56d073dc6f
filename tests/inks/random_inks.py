"""Ink spaces by lot."""

import numpy as np

from strikeoff.inks.drops import drop_shares
from strikeoff.inks.records import Ink, Screen
from strikeoff.inks.spaces import InkSpaces
from strikeoff.inks.tables import NODES, straight_curves, to_codes


def random_spaces(seed, inks=("C", "M", "Orange", "White")):
    """Bent curves, two drop sizes, weights, and a light ink of the first."""
    rng = np.random.default_rng(seed)
    roles = {"Orange": "extra", "White": "white"}
    records = [
        Ink(
            name,
            roles.get(name, "process"),
            limit=float(rng.uniform(0.6, 1)),
            drop_pl=(4.0, 7.0 + 3 * k),
            weight=float(rng.uniform(0.3, 1.5)),
        )
        for k, name in enumerate(inks)
    ]
    records.append(Ink("light", "light", inks[0], drop_pl=(7.0,)))
    x = np.linspace(0, 1, NODES)
    tone = to_codes(np.stack([ink.limit * x ** rng.uniform(0.6, 2.2) for ink in records[:-1]]))
    split = straight_curves(len(records)).copy()
    split[0] = to_codes(np.clip((x - 0.3) / 0.7, 0, 1) ** 1.3)
    split[-1] = to_codes(np.minimum(1.5 * x, 0.9) * (1 - x) ** 0.3)
    drops = np.zeros((len(records), 2, NODES), np.uint16)
    for j, ink in enumerate(records):
        shares = drop_shares(ink.drop_pl)
        drops[j, : len(shares)] = shares
    return InkSpaces(
        tuple(inks), tuple(records), tone, split, drops, Screen(600, 600), total=float(rng.uniform(0.8, 2.5))
    )
