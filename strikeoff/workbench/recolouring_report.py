"""What is said of a colourway, for programs and for people."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from strikeoff.base.problems import Problem
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.record import Condition
from strikeoff.report.screen_colour import hex_colour
from strikeoff.separation.separate import InkUse
from strikeoff.spot.colourway import Colourway
from strikeoff.spot.contrast import ColourPair
from strikeoff.spot.direction import difference_words
from strikeoff.spot.recipes import Printed
from strikeoff.spot.wishes import ColourwayPrint, Wish
from strikeoff.workbench.object_colours import out_of_reach_problem
from strikeoff.workbench.undecided import undecided_elsewhere


def without_doubtful(
    record: Condition, ways: Sequence[ColourwayPrint]
) -> tuple[tuple[ColourwayPrint, ...], list[Problem]]:
    """Take away what nobody can know of prints under the lights of their swatches, and say why.

    Parameters
    ----------
    record : Condition
        Where they are printed; nothing is undecided under its own light.
    ways : sequence of ColourwayPrint
        Colourways.

    Returns
    -------
    ways : tuple of ColourwayPrint
        Undecided colours without CIEDE2000.
    problems : list of Problem
        A warning for each cause; a swatch of several colourways counts once.
    """
    prints = list({id(one): one for way in ways for one in way.prints}.values())
    elsewhere = np.array([one.light[0] != record.setup.illuminant for one in prints])
    mask, problems = undecided_elsewhere(record, np.stack([one.inks for one in prints]), elsewhere)
    kept = {
        id(one): replace(one, de00=None, de00_u90=None) if undecided else one
        for one, undecided in zip(prints, mask, strict=True)
    }
    known = tuple(replace(way, prints=tuple(kept[id(one)] for one in way.prints)) for way in ways)
    return known, problems


def colourway_record(
    record: Condition,
    way: ColourwayPrint,
    names: Sequence[str],
    pairs: Sequence[ColourPair],
    use: InkUse | None,
) -> dict[str, Any]:
    """Return a colourway as values that JSON can hold."""
    ink = None
    if use is not None:
        ink = {
            "mean_coverage_percent": {
                name: round(value * 100, 4) for name, value in zip(use.inks, use.mean_coverage, strict=True)
            },
            "highest_total_percent": round(use.max_total * 100, 3),
        }
    return {
        "name": way.name,
        "colours": [
            _colour(record, name, wish, one)
            for name, wish, one in zip(names, way.wishes, way.prints, strict=True)
        ],
        "pairs": [_pair(names, pair) for pair in pairs],
        "ink": ink,
    }


def is_undecided(colour: dict[str, Any]) -> bool:
    """Whether nobody can know how near the print of a colour comes to what was wished.

    Examples
    --------
    >>> is_undecided({"wished_lab": [50.0, 0.0, 0.0], "de00": None})
    True
    """
    return colour["wished_lab"] is not None and colour["de00"] is None


def _colour(record: Condition, name: str, wish: Wish, one: Printed) -> dict[str, Any]:
    white = record.under(*one.light).view.white
    target = one.target_lab
    cloth = record.under(*one.light).lab(np.zeros((1, record.n_inks)))[0]
    undecided = target is not None and one.de00 is None
    return {
        "name": name,
        "wish": wish.words,
        "kind": wish.kind,
        "light": {"illuminant": one.light[0], "observer": one.light[1]},
        "wished_lab": None if target is None else np.round(target, 3).tolist(),
        "wished_hex": None if target is None else hex_colour(target, white),
        "recipe_percent": {
            ink: round(float(amount) * 100, 3)
            for ink, amount in zip(record.inks, one.inks, strict=True)
            if amount > 0
        },
        "lab": np.round(one.lab, 3).tolist(),
        "hex": hex_colour(one.lab, white),
        "de00": None if one.de00 is None else round(one.de00, 3),
        "de00_u90": None if one.de00_u90 is None else round(one.de00_u90, 3),
        "in_reach": one.in_reach,
        "direction": list(difference_words(target, one.lab))
        if target is not None and one.in_reach is False
        else [],
        "de00_from_cloth": None if undecided else round(float(delta_e_2000(cloth, one.lab)), 3),
    }


def _pair(names: Sequence[str], pair: ColourPair) -> dict[str, Any]:
    return {
        "colours": [names[pair.first], names[pair.second]],
        "neighbours": pair.is_neighbour,
        "de00_artwork": round(pair.before, 3),
        "de00_wished": round(pair.wished, 3),
        "de00": round(pair.printed, 3),
        "lightness_artwork": round(pair.lightness_before, 3),
        "lightness": round(pair.lightness_printed, 3),
        "merges": pair.merges,
        "merge_wished": pair.merges and pair.is_wished,
        "turns": pair.turns,
    }


def colourway_problems(row: dict[str, Any], way: Colourway, names: Sequence[str]) -> list[Problem]:
    """Return what is worth telling of a colourway."""
    where = f"colourway {row['name']}"
    found = []
    stay = [name for name in names if name not in way.changes]
    if stay:
        found.append(
            Problem(
                "note",
                where,
                "colours that it does not name stay as the artwork has them",
                ", ".join(stay)[:200],
            )
        )
    for colour in row["colours"]:
        if colour["in_reach"] is False:
            words = ", ".join(colour["direction"]) or "close"
            found.append(
                out_of_reach_problem(
                    f"{where}, {colour['name']}",
                    words,
                    colour["de00"],
                    colour["wished_lab"],
                    (colour["light"]["illuminant"], colour["light"]["observer"]),
                )
            )
    for pair in row["pairs"]:
        both = " and ".join(pair["colours"])
        if pair["merges"]:
            as_wished = pair["merge_wished"]
            found.append(
                Problem(
                    "note" if as_wished else "warning",
                    where,
                    f"{both} merge" + (", as wished" if as_wished else ""),
                    found=f"CIEDE2000 {pair['de00']:.2f} between them",
                    expected=f"{pair['de00_artwork']:.1f} in the artwork",
                )
            )
    turned = sum(pair["turns"] for pair in row["pairs"])
    if turned:
        found.append(
            Problem(
                "note",
                where,
                "light and dark change places between neighbours",
                found=f"{turned} of {sum(pair['neighbours'] for pair in row['pairs'])} pairs",
            )
        )
    return found
