"""lut16Type, `mft2` (ICC.1:2022 clause 10.10). Lab in it has the legacy encoding in every version."""

from __future__ import annotations

from strikeoff.base.errors import InputError
from strikeoff.icc.encoding import codes16
from strikeoff.icc.layout import Layout, tag_body, tag_bytes
from strikeoff.icc.luts import TableLut
from strikeoff.icc.tags import table_head

KIND = b"mft2"
MAX_ENTRIES = 4096

_ENTRIES = Layout(("input_entries", "H"), ("output_entries", "H"))


def decode(data: bytes, where: str) -> TableLut:
    """Return the table."""
    body = tag_body(data, KIND, where)
    n_in, n_out, grid, matrix = table_head.decode(body, where)
    entries = _ENTRIES.unpack(body, table_head.SIZE, where)
    for name, count in entries.items():
        if not 2 <= count <= MAX_ENTRIES:
            raise InputError(
                f"bad number of {name.replace('_', ' ')}", where=where, found=count, expected="2 to 4096"
            )
    start = table_head.SIZE + _ENTRIES.size
    clut_start = start + 2 * n_in * entries["input_entries"]
    clut = table_head.nodes(body, clut_start, (grid,) * n_in + (n_out,), ">u2", where)
    input_tables = table_head.tables(body, start, n_in, entries["input_entries"], ">u2", where)
    end = clut_start + clut.codes.nbytes
    output_tables = table_head.tables(body, end, n_out, entries["output_entries"], ">u2", where)
    return TableLut("mft2", matrix, input_tables, clut, output_tables)


def encode(lut: TableLut) -> bytes:
    """Return the tag's data.

    Raises
    ------
    ValueError
        When the grid sizes differ, or a table has fewer than 2 or more than 4096 entries.
    """
    for tables in (lut.input_tables, lut.output_tables):
        if not 2 <= tables.shape[1] <= MAX_ENTRIES:
            raise ValueError(f"mft2 tables hold 2 to {MAX_ENTRIES} entries, not {tables.shape[1]}")
    return tag_bytes(
        KIND,
        table_head.encode(lut.clut, lut.matrix)
        + _ENTRIES.pack(input_entries=lut.input_tables.shape[1], output_entries=lut.output_tables.shape[1])
        + codes16(lut.input_tables).astype(">u2").tobytes()
        + lut.clut.codes.astype(">u2").tobytes()
        + codes16(lut.output_tables).astype(">u2").tobytes(),
    )
