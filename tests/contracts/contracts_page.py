"""docs/contracts.md as data."""

import re
from pathlib import Path

import strikeoff

PAGE = Path(strikeoff.__file__).parents[1] / "docs" / "contracts.md"


def sections():
    """Title to text of every third-level section."""
    parts = re.split(r"^### (.+)$", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def commands():
    """Command such as ``condition build`` to the text of its section."""
    start = "`strikeoff "
    return {title[len(start) : -1]: text for title, text in sections().items() if title.startswith(start)}


def rows(text, heading):
    """Rows, as lists of cells, of every table of a section whose first column has a heading."""
    found, inside = [], False
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if not line.startswith("|"):
            inside = False
        elif cells[0] == heading:
            inside = True
        elif inside and not set(line) <= set("|-: "):
            found.append(cells)
    return found


def names(cell):
    """Names in backticks of a cell.

    >>> names("`--out FILE`, `light`")
    ['--out FILE', 'light']
    """
    return re.findall(r"`([^`]+)`", cell)


def result_fields(command):
    """Fields of a command's results, as the page has them."""
    return {name for row in rows(commands()[command], "Result") for name in names(row[0])}
