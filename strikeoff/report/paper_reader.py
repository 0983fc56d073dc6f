"""Takes apart what the templates of this package make, for paper."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Literal

_VOID = {"br", "img", "hr", "meta", "link", "input"}
_CELLS = ("td", "th", "dt", "dd")
_COLOUR = re.compile(r"background:\s*(#[0-9a-fA-F]{6})")

Kind = Literal["text", "note", "point", "subhead", "facts", "table", "form", "drawing"]


@dataclass(frozen=True)
class Cell:
    """A cell of a table, or a name or value of a list of facts.

    Attributes
    ----------
    text : str
        Words.
    is_number : bool
        Whether it stands at the right of its column.
    colour : str
        Of the chip before the words, ``#rrggbb``, or empty.
    """

    text: str
    is_number: bool = False
    colour: str = ""


@dataclass
class Block:
    """A paragraph, a list of facts, a table, or a drawing that is known by its id.

    Attributes
    ----------
    kind : str
        What it is; the first row of tables and forms is their heading.
    text : str
        Words, or the id of a drawing.
    rows : list of list of Cell
        Of tables, forms and facts.
    """

    kind: Kind
    text: str = ""
    rows: list[list[Cell]] = field(default_factory=list)


def read_blocks(html: str) -> list[Block]:
    """Return the blocks of a section's body in reading order."""
    reader = _Reader()
    reader.feed(html)
    for block in reader.blocks:
        block.rows = [row for row in block.rows if row]
    return [block for block in reader.blocks if block.text or block.rows]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.blocks: list[Block] = []
        self.stack: list[str] = []
        self.words: list[str] = []
        self.classes: list[str] = []
        self.colour = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {name: value or "" for name, value in attrs}
        classes = values.get("class", "").split()
        if "svg" not in self.stack:
            if tag == "svg":
                self.blocks.append(Block("drawing", values.get("id", "")))
            elif tag == "dl":
                self.blocks.append(Block("facts"))
            elif tag == "table":
                self.blocks.append(Block("form" if "form" in classes else "table"))
        if tag in ("tr", "div") and self.blocks and {"table", "dl"} & set(self.stack):
            self.blocks[-1].rows.append([])
        if tag in (*_CELLS, "p", "li", "h3"):
            self.words, self.classes, self.colour = [], classes, ""
        if tag == "span" and "chip" in classes and (found := _COLOUR.search(values.get("style", ""))):
            self.colour = found[1]
        if tag not in _VOID:
            self.stack.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in self.stack:
            while self.stack.pop() != tag:
                pass
        if "svg" in self.stack:
            return
        # Spaces that do not break are part of a figure.
        text = (
            " ".join(word for word in "".join(self.words).split(" ") if word.strip())
            .replace("\n", " ")
            .strip()
        )
        if tag in _CELLS:
            self.blocks[-1].rows[-1].append(Cell(text, "number" in self.classes, self.colour))
        elif tag == "h3" and text:
            self.blocks.append(Block("subhead", text))
        elif tag == "li" and text:
            self.blocks.append(Block("point", text))
        elif tag == "p" and text:
            self.blocks.append(Block("note" if "note" in self.classes else "text", text))

    def handle_data(self, data: str) -> None:
        if "svg" not in self.stack:
            self.words.append(data)
