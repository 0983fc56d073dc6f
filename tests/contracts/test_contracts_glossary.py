"""The glossary names what the code names, in the units that it lists."""

import ast
import re
from pathlib import Path

from contracts_page import names

import strikeoff

ROOT = Path(strikeoff.__file__).parent
PAGE = ROOT.parent / "docs" / "glossary.md"
# Endings that look like a unit of a physical quantity; those not in the glossary are refused.
UNIT_LIKE = re.compile(r"_(?:mm|cm|um|nm|m|m2|px|dpi|ppi|pl|ml|percent|pct|deg|sd|ms|kg)$")


def sections():
    parts = re.split(r"^## (.+)$", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def table(text):
    lines = [line for line in text.splitlines() if line.startswith("|")][2:]
    return [[cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]] for line in lines]


def code_names():
    """Parameters, fields and functions of the package."""
    for path in ROOT.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.arg):
                yield node.arg
            elif isinstance(node, ast.FunctionDef):
                yield node.name
            elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
                yield node.target.id
            elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
                yield node.id


def test_names_of_the_glossary_are_those_of_the_code():
    used = set(code_names())
    for title in ("Colour", "Ink", "Size and place", "Statistics"):
        rows = table(sections()[title])
        assert len(rows) > 5
        for row in rows:
            assert len(row) == 5, row
            assert row[4].endswith("."), row
            for name in names(row[0]):
                assert name in used, f"{name} is used nowhere"


def test_units_in_names_are_those_of_the_glossary():
    units = {names(row[0])[0][1:] for row in table(sections()["Units in names"])}
    unknown = {
        name
        for name in code_names()
        if UNIT_LIKE.search(name) and not any(name.endswith("_" + unit) for unit in units)
    }
    assert not unknown


def test_words_stand_in_order():
    words = [row[0].lower() for row in table(sections()["Words of the trade"])]
    assert words == sorted(words)
    assert len(words) == len(set(words))
