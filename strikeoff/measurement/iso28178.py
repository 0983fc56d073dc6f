"""ISO 28178 text, read in all the ways real files bend it and written in one plain way."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from numpy.typing import ArrayLike

from strikeoff.base.errors import InputError
from strikeoff.base.files import write_text
from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.measurement.columns import output_columns
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.text import MAX_COLUMNS, MAX_ROWS, RawTable, split_spaced

_MAX_KEYWORDS = 2_000
_MAX_VALUE = 10_000
_MAX_TABLES = 100
_WORDS = {"BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA"}


def is_iso28178(lines: list[tuple[int, str]]) -> bool:
    """Say whether a line is BEGIN_DATA alone or starts with BEGIN_DATA_FORMAT."""
    for _, line in lines:
        if line.lstrip()[:10].upper() == "BEGIN_DATA":
            words = line.split("#", 1)[0].upper().split()
            if words == ["BEGIN_DATA"] or words[0] == "BEGIN_DATA_FORMAT":
                return True
    return False


def parse_iso28178(
    lines: list[tuple[int, str]], problems: list[Problem]
) -> tuple[dict[str, str], list[RawTable]]:
    """Read the header keywords and every table of an ISO 28178 text.

    Parameters
    ----------
    lines : list of (int, str)
        Non-blank lines with their numbers.
    problems : list of Problem
        What is bent or broken is added, with its line.

    Returns
    -------
    keywords : dict
        Header keywords in upper case; repeated ones joined by ``; ``.
    tables : list of RawTable
        In file order.

    Raises
    ------
    InputError
        When data come before any field names, or there are too many rows or columns.

    References
    ----------
    ISO 28178:2009, Graphic technology - Exchange format for colour and process control data.
    """
    reader = _Reader(problems)
    for number, line in lines:
        reader.take(number, line)
    reader.finish(lines[-1][0] if lines else 0)
    return reader.keywords, reader.tables


class _Reader:
    """Header, format or data: the three states of the text."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = problems
        self.keywords: dict[str, str] = {}
        self.tables: list[RawTable] = []
        self.state = "header"
        self.fields: list[str] = []
        self.fields_line = 0
        self.declared: dict[str, tuple[int, str]] = {}

    def take(self, number: int, line: str) -> None:
        word = line.split(None, 1)[0].upper()
        if self.state == "data":
            self._data(number, line, word)
        elif self.state == "format":
            self._format(number, split_spaced(line))
        else:
            self._header(number, line, word)

    def finish(self, last_line: int) -> None:
        if self.state == "data":
            self._close(last_line, ended=False)
        elif self.state == "format":
            raise InputError(
                "file ends inside the field names",
                where=f"line {last_line}",
                expected="END_DATA_FORMAT and rows of data",
                advice="Export or copy the file again",
            )

    def _header(self, number: int, line: str, word: str) -> None:
        if word == "BEGIN_DATA_FORMAT":
            self.fields, self.fields_line, self.state = [], number, "format"
            self._format(number, split_spaced(line)[1:])
        elif word == "BEGIN_DATA":
            if not self.fields:
                raise InputError(
                    "data without field names",
                    where=f"line {number}",
                    expected="BEGIN_DATA_FORMAT and field names before BEGIN_DATA",
                    advice="Export or copy the file again",
                )
            self._check_fields()
            if len(self.tables) >= _MAX_TABLES:
                raise InputError(
                    "too many tables", where=f"line {number}", expected=f"{_MAX_TABLES} or fewer"
                )
            self.tables.append(RawTable(self.fields, None, self.fields_line))
            self.state = "data"
        elif not line.lstrip().startswith("#"):
            self._keyword(number, split_spaced(line))

    def _keyword(self, number: int, cells: list[str]) -> None:
        if len(cells) < 2 or cells[0].upper() == "KEYWORD":
            return
        key, value = cells[0].upper().rstrip("=:"), " ".join(cells[1:])[:_MAX_VALUE]
        if key in ("NUMBER_OF_FIELDS", "NUMBER_OF_SETS"):
            self.declared[key] = (number, value)
        elif key in self.keywords:
            self.keywords[key] = f"{self.keywords[key]}; {value}"[:_MAX_VALUE]
        elif len(self.keywords) < _MAX_KEYWORDS:
            self.keywords[key] = value

    def _format(self, number: int, cells: list[str]) -> None:
        for cell in cells:
            if cell.upper() == "END_DATA_FORMAT":
                self.state = "header"
                return
            self.fields.extend(part for part in cell.replace(";", ",").split(",") if part)
            if len(self.fields) > MAX_COLUMNS:
                raise InputError(
                    "too many columns", where=f"line {number}", expected=f"{MAX_COLUMNS} or fewer"
                )

    def _check_fields(self) -> None:
        line, value = self.declared.pop("NUMBER_OF_FIELDS", (0, ""))
        if line and value != str(len(self.fields)):
            self.problems.append(
                Problem(
                    "warning",
                    f"line {line}",
                    "NUMBER_OF_FIELDS is wrong; the names were counted",
                    found=value,
                    expected=str(len(self.fields)),
                )
            )

    def _data(self, number: int, line: str, word: str) -> None:
        if word == "END_DATA":
            self._close(number, ended=True)
        elif word in _WORDS:
            self._close(number, ended=False)
            self._header(number, line, word)
        elif word.startswith("#") and len(line.split()) != len(self.fields):
            return  # a comment; a row of the right length has a name that starts with the sign
        else:
            if len(self.tables[-1].rows) >= MAX_ROWS:
                raise InputError("too many rows", where=f"line {number}", expected=f"{MAX_ROWS} or fewer")
            self.tables[-1].rows.append((number, line))

    def _close(self, number: int, *, ended: bool) -> None:
        self.state = "header"
        rows = len(self.tables[-1].rows)
        line, value = self.declared.pop("NUMBER_OF_SETS", (0, ""))
        declared = int(value) if value.isdigit() and len(value) < 10 else None
        if not ended and declared is not None and rows < declared:
            self.problems.append(
                Problem(
                    "error",
                    f"line {number}",
                    "file is cut short: END_DATA and rows are missing",
                    found=f"{rows} rows",
                    expected=f"{declared} rows",
                    advice="Export or copy the file again",
                )
            )
            return
        if not ended:
            self.problems.append(
                Problem(
                    "warning",
                    f"line {number}",
                    "END_DATA is missing",
                    expected="END_DATA after the last row",
                    advice="See that the last row is whole, or export the file again",
                )
            )
        if not line:
            self.problems.append(
                Problem("note", f"line {number}", f"NUMBER_OF_SETS is missing; {counted(rows, 'row')} read")
            )
        elif declared != rows:
            self.problems.append(
                Problem(
                    "warning",
                    f"line {line}",
                    "NUMBER_OF_SETS is wrong; the rows were counted",
                    found=value,
                    expected=str(rows),
                    advice="See that no row is missing",
                )
            )


def format_iso28178(
    readings: ReadingSet,
    *,
    extra_columns: Mapping[str, ArrayLike] | None = None,
    header: Mapping[str, str] | None = None,
    digits: int = 10,
) -> str:
    """Return readings as ISO 28178 text that reads back to the same values.

    Parameters
    ----------
    readings : ReadingSet
        Inks are written in percent, spectra as factors 0-1.
    extra_columns : mapping of str to array_like, shape (n,)
        Further columns, after the others.
    header : mapping of str to str
        Further header keywords; they replace the set-up's own.
    digits : int
        Significant digits.

    Returns
    -------
    str
        Lines end in LF.
    """
    words = {**setup_words(readings), **{key.upper(): text for key, text in (header or {}).items()}}
    names, rows = output_columns(readings, extra_columns or {}, digits)
    lines = ["ISO28178"]
    for key, value in words.items():
        if key not in _STANDARD:
            lines.append(f"KEYWORD {_quoted(key)}")
        lines.append(f"{key} {_quoted(value)}")
    lines += [f"NUMBER_OF_FIELDS {len(names)}", "BEGIN_DATA_FORMAT", "\t".join(names), "END_DATA_FORMAT"]
    lines += [f"NUMBER_OF_SETS {len(rows)}", "BEGIN_DATA"]
    lines += ["\t".join(_cell(text) for text in row) for row in rows]
    lines += ["END_DATA", ""]
    return "\n".join(lines)


def write_iso28178(
    path: str | Path,
    readings: ReadingSet,
    extra_columns: Mapping[str, ArrayLike] | None = None,
    header: Mapping[str, str] | None = None,
    digits: int = 10,
) -> None:
    """Write readings as ISO 28178 text; see `format_iso28178`."""
    write_text(path, format_iso28178(readings, extra_columns=extra_columns, header=header, digits=digits))


# Keywords that ISO 28178 defines; others are declared before use.
_STANDARD = {
    "ORIGINATOR",
    "DESCRIPTOR",
    "CREATED",
    "INSTRUMENTATION",
    "MEASUREMENT_SOURCE",
    "MEASUREMENT_GEOMETRY",
    "PRINT_CONDITIONS",
    "FILTER",
    "POLARIZATION",
    "SAMPLE_BACKING",
    "WEIGHTING_FUNCTION",
    "FILE_DESCRIPTOR",
}


def setup_words(readings: ReadingSet) -> dict[str, str]:
    """Return the set-up of readings as header keywords."""
    setup = readings.setup
    words = {"ILLUMINATION_NAME": setup.illuminant, "OBSERVER_ANGLE": setup.observer}
    optional = {
        "INSTRUMENTATION": setup.instrument,
        "MEASUREMENT_CONDITION": setup.mode,
        "MEASUREMENT_GEOMETRY": setup.geometry,
        "SAMPLE_BACKING": setup.backing,
        "SAMPLE_SIDE": setup.side,
        "MEASUREMENT_APERTURE": None if setup.aperture_mm is None else f"{setup.aperture_mm:g} mm",
    }
    return words | {key: value for key, value in optional.items() if value}


def _quoted(text: str) -> str:
    return '"' + " ".join(str(text).split()).replace('"', '""') + '"'


def _cell(text: str) -> str:
    plain = text and not any(character in text for character in ' "#;,') and text.upper() not in _WORDS
    return text if plain and len(text.split()) == 1 else _quoted(text)
