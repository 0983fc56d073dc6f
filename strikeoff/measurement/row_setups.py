"""Set-ups that stand in the rows of a table, or several times in its header."""

from __future__ import annotations

import re

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.measurement.fields import normal_name
from strikeoff.measurement.text import RawTable

# Column or keyword to the header keyword under which the set-up is read.
_NAMES = {
    "MEASUREMENT_CONDITION": "MEASUREMENT_CONDITION",
    "MEASUREMENT_MODE": "MEASUREMENT_CONDITION",
    "MODE": "MEASUREMENT_CONDITION",
    "SAMPLE_BACKING": "SAMPLE_BACKING",
    "BACKING": "SAMPLE_BACKING",
    "SAMPLE_SIDE": "SAMPLE_SIDE",
    "SIDE": "SAMPLE_SIDE",
    "MEASUREMENT_GEOMETRY": "MEASUREMENT_GEOMETRY",
    "GEOMETRY": "MEASUREMENT_GEOMETRY",
    "OBSERVER_ANGLE": "OBSERVER_ANGLE",
    "OBSERVER": "OBSERVER_ANGLE",
    "ILLUMINATION_NAME": "ILLUMINATION_NAME",
    "ILLUMINANT": "ILLUMINATION_NAME",
}
# Columns that may differ from row to row, with a warning.
_TOLD = {
    "INSTRUMENTATION": "INSTRUMENTATION",
    "INSTRUMENT": "INSTRUMENTATION",
    "MEASUREMENT_APERTURE": "MEASUREMENT_APERTURE",
    "APERTURE": "MEASUREMENT_APERTURE",
}
_MODE = re.compile(r"\bM[0-3]\b")


def one_setup(keywords: dict[str, str], tables: list[RawTable], problems: list[Problem]) -> dict[str, str]:
    """Return header keywords that include the set-up columns of the tables.

    Parameters
    ----------
    keywords : dict of str to str
        Header keywords; repeated ones joined by ``; ``.
    tables : list of RawTable
        The tables of the file.
    problems : list of Problem
        Told of instruments and apertures that differ.

    Returns
    -------
    dict of str to str

    Raises
    ------
    InputError
        When rows or repeated keywords are of different modes, backings, sides, geometries or lights.
    """
    words = dict(keywords)
    for key in set(_NAMES) & set(words):
        stated = _kinds(key, words[key].split(";"))
        if len(stated) > 1:
            raise _mixed(key, "header", stated)
    for table in tables:
        columns = {normal_name(name): at for at, name in enumerate(table.fields)}
        for name in [name for name in (*_NAMES, *_TOLD) if name in columns]:
            kinds = _of_rows(table, columns[name])
            if len(kinds) > 1:
                (first, _), (second, line) = list(kinds.items())[:2]
                if name in _NAMES:
                    raise _mixed(name, f"line {line}", [first, second])
                problems.append(_differing(name, f"line {line}", [first, second]))
            for value in list(kinds)[:1]:
                words.setdefault((_NAMES | _TOLD)[name], value)
    return words


def _of_rows(table: RawTable, column: int) -> dict[str, int]:
    """Return up to two different values of a column, and the line in which each is first."""
    kinds: dict[str, tuple[str, int]] = {}
    for line, text in table.rows:
        cells = table.cells(text)
        value = cells[column].strip() if column < len(cells) else ""
        if value and value.casefold() not in kinds:
            kinds[value.casefold()] = (value, line)
            if len(kinds) > 1:
                break
    return dict(kinds.values())


def _kinds(key: str, texts: list[str]) -> list[str]:
    """Distinct values, by case-folded text, or by mode where the text names modes."""
    if _NAMES[key] == "MEASUREMENT_CONDITION":
        return list(dict.fromkeys(mode for text in texts for mode in _MODE.findall(text)))
    return list(dict.fromkeys(text.strip().casefold() for text in texts if text.strip()))


def _differing(name: str, where: str, kinds: list[str]) -> Problem:
    return Problem(
        "warning",
        where,
        f"rows differ in their {name.lower().replace('_', ' ')}",
        found=" and ".join(kinds),
        expected="one for all rows",
        advice="Read the chart with one instrument and aperture",
    )


def _mixed(name: str, where: str, kinds: list[str]) -> InputError:
    return InputError(
        f"file mixes readings of several set-ups: {name.lower().replace('_', ' ')}",
        where=where,
        found=", ".join(kinds[:4]),
        expected="one set-up",
        advice="Export each set-up to a file of its own",
    )
