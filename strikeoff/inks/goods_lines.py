"""Goods as lines of TOML, for a person to edit."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from strikeoff.inks.goods import Goods
from strikeoff.inks.goods_tables import TABLES

# Keys whose values are written as dates of TOML, without quotes.
_DAYS = ("until", "from")


def goods_lines(goods: Goods) -> list[str]:
    """Return the tables as lines of TOML; what is said of each ink stands with the ink."""
    lines: list[str] = []
    record = goods.as_record()
    for name in TABLES:
        lines += _table_lines(name, record.get(name, {}))
    return lines


def _table_lines(name: str, table: Mapping[str, Any]) -> list[str]:
    """Return a table, then those inside it."""
    flat = {key: value for key, value in table.items() if not _is_table(value)}
    lines = [f"[{name}]", *_key_lines(flat), ""] if flat else []
    for key, value in table.items():
        if isinstance(value, Mapping):
            lines += _table_lines(f"{name}.{key}", value)
        elif _is_table(value):
            for row in value:
                lines += [f"[[{name}.{key}]]", *_key_lines(row), ""]
    return lines


def _key_lines(table: Mapping[str, Any]) -> list[str]:
    return [f"{key} = {value if key in _DAYS else toml_value(value)}" for key, value in table.items()]


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping) or (isinstance(value, list) and bool(value) and _is_table(value[0]))


def toml_value(value: Any) -> str:
    """Return a text, number or list of numbers as TOML; whole numbers stay whole.

    Examples
    --------
    >>> toml_value([-5.5, 3.0]), toml_value("satin"), toml_value(15)
    ('[-5.5, 3]', '"satin"', '15')
    """
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, list):
        return f"[{', '.join(map(toml_value, value))}]"
    return str(value) if isinstance(value, int) else repr(int(value) if value == int(value) else value)
