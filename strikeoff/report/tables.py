"""Tables and short texts as HTML."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from strikeoff.base.errors import InputError
from strikeoff.report.page import render

_MARKS = {"pass": "✓", "fail": "✗", "undecided": "?"}
_STATISTICS = {"mean": "mean", "percentile-95": "95 %", "max": "worst"}
_WORST = 3


def verdict_html(record: Mapping[str, Any]) -> str:
    """Return a verdict as one big word and a table.

    Parameters
    ----------
    record : mapping
        As ``Verdict.as_record()`` gives it: ``outcome``, ``setup``, ``tolerances``, ``origin``,
        ``not_judged`` and ``items`` with ``name``, ``value``, ``uncertainty``, ``noise_bias``, ``limit``,
        ``outcome``, ``formula``, ``statistic``, ``patches`` and ``advice``.

    Returns
    -------
    str
        HTML.
    """
    items = record["items"]
    count = {word: sum(item["outcome"] == word for item in items) for word in _MARKS}
    sentence = ", ".join(f"{n} of {len(items)} {word}" for word, n in count.items() if n)
    return render(
        "verdict.html",
        outcome=record["outcome"],
        word=record["outcome"].upper(),
        sentence=sentence,
        items=[_item(item) for item in items],
        setup=record["setup"],
        tolerances=record["tolerances"],
        origin=record["origin"],
        not_judged=", ".join(record["not_judged"]),
    )


def _item(item: Mapping[str, Any]) -> dict[str, str]:
    patches = list(item["patches"])
    one = len(patches) == 1
    return {
        "name": item["name"],
        "figure": "–" if item["value"] is None else f"{item['value']:.2f} ± {item['uncertainty']:.2f}",
        "limit": f"{item['limit']:.2f}",
        "outcome": item["outcome"],
        "mark": _MARKS[item["outcome"]],
        "formula": item["formula"]
        + ("" if one else f", {_STATISTICS.get(item['statistic'], item['statistic'])}"),
        "worst": ", ".join(patches[:_WORST]) + (f" of {len(patches)}" if len(patches) > _WORST else ""),
        "advice": item["advice"],
    }


def ink_table_html(
    names: Sequence[str],
    colours: Sequence[str],
    laydown_ml_m2: ArrayLike,
    printed_m2: float,
    *,
    basis: str = "",
) -> str:
    """Return ink laid down per area and litres for an order.

    Parameters
    ----------
    names, colours : sequence of str
        Per ink; colours as ``#rrggbb``.
    laydown_ml_m2 : array_like, shape (n_inks,)
        Mean over the printed area. [ml/m2]
    printed_m2 : float
        Printed area of the order. [m2]
    basis : str
        What was counted, in words; the area is added.

    Returns
    -------
    str
        HTML.

    Raises
    ------
    InputError
        Numbers that are negative or not finite, lists of unlike length, a colour that is not one.
    """
    amounts = np.asarray(laydown_ml_m2, dtype=np.float64)
    if amounts.shape != (len(names),) or len(colours) != len(names):
        raise InputError("ink use does not fit the inks", found=amounts.shape, expected=f"({len(names)},)")
    if not (
        np.isfinite(amounts).all() and (amounts >= 0).all() and np.isfinite(printed_m2) and printed_m2 >= 0
    ):
        raise InputError("ink use must be 0 or more", found=f"{amounts.tolist()} ml/m2, {printed_m2} m2")
    total = float(amounts.sum())
    rows = [
        {
            "name": name,
            "colour": _checked(colour),
            "laydown": f"{amount:.2f}",
            "litres": f"{amount * printed_m2 / 1000:.3f}",
            "share": f"{100 * amount / total if total else 0:.0f} %",
        }
        for name, colour, amount in zip(names, colours, amounts.tolist(), strict=True)
    ]
    return render(
        "ink_table.html",
        rows=rows,
        total={"laydown": f"{total:.2f}", "litres": f"{total * printed_m2 / 1000:.3f}"},
        basis=f"{basis} Printed area {printed_m2:.2f} m².".strip(),
    )


def table_html(
    header: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    words: bool = False,
    names: int = 1,
    colours: Sequence[str] = (),
    dense: bool = False,
) -> str:
    """Return a plain table; the first columns hold names, the others figures, or words where so said.

    Parameters
    ----------
    header : sequence of str
        Heads of the columns.
    rows : sequence of sequence of str
        Cells.
    words : bool
        Whether all columns hold words.
    names : int
        How many columns at the left hold words.
    colours : sequence of str
        Of the chip before each row, ``#rrggbb`` or empty; none by default.
    dense : bool
        Whether it has many columns and is set smaller.

    Raises
    ------
    InputError
        When a row has another length than the header, or there are not as many colours as rows.
    """
    for row in rows:
        if len(row) != len(header):
            raise InputError("table row does not fit its header", found=len(row), expected=str(len(header)))
    chips = [_checked(colour) if colour else "" for colour in colours or [""] * len(rows)]
    if len(chips) != len(rows):
        raise InputError("colours do not fit the rows", found=len(chips), expected=str(len(rows)))
    return render(
        "table.html",
        header=list(header),
        rows=list(zip([list(row) for row in rows], chips, strict=True)),
        names=len(header) if words else names,
        kind=" ".join(["words"] * words + ["dense"] * dense),
    ).strip()


def figure(value: float, digits: int) -> str:
    """Return a number with so many decimals; what rounds to nothing has no sign.

    Examples
    --------
    >>> figure(-0.004, 2), figure(-1.005, 1)
    ('0.00', '-1.0')
    """
    return f"{round(float(value), digits) + 0.0:.{digits}f}"


def form_html(header: Sequence[str], names: Sequence[str]) -> str:
    """Return lines to be filled in by hand: a name and empty cells under the other heads."""
    return render("form.html", header=list(header), names=list(names)).strip()


def points_html(points: Sequence[str]) -> str:
    """Return plain texts as a list."""
    return render("points.html", points=list(points)).strip()


def subheading(text: str) -> str:
    """Return a heading inside a section."""
    return render("subheading.html", text=text).strip()


def facts_html(facts: Sequence[tuple[str, str]]) -> str:
    """Return a row of named facts."""
    return render("facts.html", facts=list(facts)).strip()


def paragraph(text: str, *, quiet: bool = False) -> str:
    """Return plain text as a paragraph."""
    return render("paragraph.html", text=text, quiet=quiet).strip()


def _checked(colour: str) -> str:
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", colour):
        raise InputError("not a colour", found=colour, expected="#rrggbb")
    return colour
