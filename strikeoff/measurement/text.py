"""Bytes of unknown origin to numbered lines, and lines to cells."""

from __future__ import annotations

import codecs
import csv
import re
from dataclasses import dataclass, field

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem

MAX_BYTES = 64 << 20
MAX_ROWS = 200_000
MAX_COLUMNS = 2_000
_MAX_LINES = 1_000_000
_MAX_LINE_LENGTH = 256 << 10
# Mean length of the cells of a row beyond which it is nonsense and not split with care.
_LONGEST_CELL = 200

_LINE_END = re.compile(r"\r\n|\r|\n")
_CELL = re.compile(r'"((?:[^"]|"")*)"|(\S+)')
_CONTROLS = re.compile(r"[\x00-\x08\x0e-\x1f]")
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


@dataclass
class RawTable:
    """A table whose cells are still text.

    Attributes
    ----------
    fields : list of str
        Column names as written.
    rows : list of (int, str)
        Line number and text of each row; split on demand, so that memory stays bounded.
    delimiter : str or None
        Cell separator; None means white space with quoted strings.
    fields_line : int
        Line of the column names.
    """

    fields: list[str]
    delimiter: str | None = None
    fields_line: int = 0
    rows: list[tuple[int, str]] = field(default_factory=list)

    def cells(self, text: str) -> list[str]:
        """Split one row, trying the usual separators when the table's own does not fit."""
        wanted = len(self.fields)
        if len(text) > _LONGEST_CELL * (wanted + 8):
            return text.split(None, wanted)
        if self.delimiter is not None:
            return trim_cells(split_delimited(text, self.delimiter), wanted)
        cells = split_spaced(text, wanted)
        if len(cells) == wanted:
            return cells
        for delimiter in "\t;,":
            if delimiter in text:
                other = trim_cells(split_delimited(text, delimiter), wanted)
                if len(other) == wanted:
                    return other
        return cells


def decode(data: bytes, problems: list[Problem]) -> str:
    """Return the text of a file in UTF-8, UTF-16 or Latin-1.

    Raises
    ------
    InputError
        When it is empty or no text.
    """
    if len(data) > MAX_BYTES:
        raise InputError(
            "file is too large for readings",
            found=f"{len(data)} bytes",
            expected=f"{MAX_BYTES} or fewer",
            advice="Export the readings alone, without pictures or raw data",
        )
    encoding = next((name for bom, name in _BOMS if data.startswith(bom)), None)
    if encoding is None and len(data) >= 4:
        head = data[:400]
        if head[1::2].count(0) > 0.4 * len(head):
            encoding = "utf-16-le"
        elif head[0::2].count(0) > 0.4 * len(head):
            encoding = "utf-16-be"
    try:
        text = data.decode(encoding or "utf-8")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
        problems.append(Problem("note", "file", "text is not UTF-8 and was read as Latin-1"))
    text = text.lstrip("\ufeff").rstrip("\x00\x1a")
    if not text.strip():
        raise InputError(
            "file is empty", expected="a table of readings", advice="Export or copy the file again"
        )
    control = _CONTROLS.search(text)
    if control:
        line = text.count("\n", 0, control.start()) + 1
        raise InputError(
            "file is no text",
            where=f"line {line}",
            found="control characters",
            expected="ISO 28178 text, CxF3 or CSV",
            advice="Unpack the file if it is packed, or export the readings in one of these formats",
        )
    return text


def numbered_lines(text: str) -> list[tuple[int, str]]:
    r"""Return the non-blank lines with their numbers; CR, LF and CRLF may be mixed.

    Examples
    --------
    >>> numbered_lines("a\r\nb\rc\n\nd")
    [(1, 'a'), (2, 'b'), (3, 'c'), (5, 'd')]
    """
    if text.count("\n") + text.count("\r") > 2 * _MAX_LINES:
        raise InputError("file has too many lines", expected=f"{_MAX_LINES} or fewer")
    lines = [(number, line) for number, line in enumerate(_LINE_END.split(text), 1) if line.strip()]
    if len(lines) > _MAX_LINES:
        raise InputError("file has too many lines", found=len(lines), expected=f"{_MAX_LINES} or fewer")
    for number, line in lines:
        if len(line) > _MAX_LINE_LENGTH:
            raise InputError(
                "line is too long",
                where=f"line {number}",
                found=f"{len(line)} characters",
                expected=f"{_MAX_LINE_LENGTH} or fewer",
                advice="Export the readings with one patch a line",
            )
    return lines


def split_spaced(text: str, wanted: int | None = None) -> list[str]:
    """Split at white space, keeping quoted strings whole and dropping a trailing comment.

    A ``#`` starts a comment where the line starts with it or when the wanted number of cells is there.

    Examples
    --------
    >>> split_spaced('WEIGHTING_FUNCTION "ILLUMINANT, D50"  # as stated')
    ['WEIGHTING_FUNCTION', 'ILLUMINANT, D50']
    >>> split_spaced("#7 1 2", wanted=3)
    ['#7', '1', '2']
    """
    if '"' not in text and "#" not in text:
        return text.split()
    cells: list[str] = []
    for match in _CELL.finditer(text):
        bare = match.group(2)
        if bare is not None and bare.startswith("#") and (wanted is None or len(cells) >= wanted):
            break
        cells.append(bare if bare is not None else match.group(1).replace('""', '"'))
    return cells


def split_delimited(text: str, delimiter: str) -> list[str]:
    """Split at a delimiter, honouring double quotes.

    Examples
    --------
    >>> split_delimited('1;"a;b"; 2,5', ";")
    ['1', 'a;b', '2,5']
    """
    if '"' not in text:
        return [cell.strip() for cell in text.split(delimiter)]
    try:
        row = next(csv.reader([text], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        row = text.split(delimiter)
    return [cell.strip() for cell in row]


def trim_cells(cells: list[str], wanted: int) -> list[str]:
    """Drop empty cells beyond the wanted number: spreadsheets add them at the end of lines."""
    end = len(cells)
    while end > wanted and not cells[end - 1]:
        end -= 1
    return cells[:end]
