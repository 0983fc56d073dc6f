"""lut8Type, `mft1`, read only (ICC.1:2022 clause 10.11)."""

from __future__ import annotations

from strikeoff.icc.layout import tag_body
from strikeoff.icc.luts import TableLut
from strikeoff.icc.tags import table_head

KIND = b"mft1"

_ENTRIES = 256


def decode(data: bytes, where: str) -> TableLut:
    """Return the table."""
    body = tag_body(data, KIND, where)
    n_in, n_out, grid, matrix = table_head.decode(body, where)
    start = table_head.SIZE
    clut_start = start + n_in * _ENTRIES
    clut = table_head.nodes(body, clut_start, (grid,) * n_in + (n_out,), "u1", where)
    input_tables = table_head.tables(body, start, n_in, _ENTRIES, "u1", where)
    end = clut_start + clut.codes.nbytes
    output_tables = table_head.tables(body, end, n_out, _ENTRIES, "u1", where)
    return TableLut("mft1", matrix, input_tables, clut, output_tables)
