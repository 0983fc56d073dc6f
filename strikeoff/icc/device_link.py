"""Device links: one table from the channels of artwork to the inks of a press.

References
----------
ICC.1:2022 clause 8.6 and ICC.1:2001-04 clause 6.3.4: class ``link``, tags desc, cprt, A2B0, pseq, and
clot where the target is nCLR.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.icc.colorants import Colorant, colorants_record
from strikeoff.icc.curves import IDENTITY, SampledCurve
from strikeoff.icc.encoding import FloatArray
from strikeoff.icc.header import VERSION_2_4, VERSION_4_4, Header, channels
from strikeoff.icc.luts import Clut, CurveLut, Curves, TableLut
from strikeoff.icc.profile import Profile, write_profile
from strikeoff.icc.tags import clrt, mab, mft2, pseq, text

_PLAIN_TABLE = np.array([0.0, 1.0])
_ENTRIES = 4096


def device_link(
    *,
    version: Literal[2, 4],
    source_space: str,
    target_space: str,
    nodes: NDArray[Any],
    shapers: NDArray[np.uint16],
    intent: int,
    description: str,
    copyright_text: str,
    sequence: Sequence[str],
    date: tuple[int, int, int, int, int, int],
    colorants: Sequence[Colorant] | None = None,
) -> bytes:
    """Return the bytes of a device link.

    Parameters
    ----------
    version : {2, 4}
        2 writes version 2.4 with an mft2 table, 4 writes version 4.4 with a 16-bit mAB table.
    source_space, target_space : str
        ``GRAY``, ``RGB``, ``CMYK`` or ``2CLR`` to ``FCLR``.
    nodes : ndarray of uint16, shape (g,) * n_in + (n_out,)
        Inks at the grid nodes, 65535 full tone; g 2 to 255.
    shapers : ndarray of uint16, shape (n_in, 65536)
        Place among the nodes, 65535 the last, of each 16-bit code. Straight ones take no room.
    intent : int
        Rendering intent, 0 to 3, for the header.
    description, copyright_text : str
        Plain text.
    sequence : sequence of str
        Descriptions of the two profiles.
    date : tuple
        Year, month, day, hour, minute, second in UTC.
    colorants : sequence of (name, Lab), optional
        Inks of an nCLR target.

    Raises
    ------
    UsageError
        When the table does not fit the spaces.
    """
    n_in, n_out = channels(source_space), channels(target_space)
    sizes = nodes.shape[:-1]
    if nodes.dtype != np.uint16 or len(sizes) != n_in or nodes.shape[-1] != n_out or max(sizes) > 255:
        raise UsageError(
            "link table does not fit", found=f"{nodes.dtype} {nodes.shape}", expected=f"{n_in} to {n_out}"
        )
    clut, inputs = Clut(nodes), _input_tables(shapers)
    if version == 2:
        outputs = np.tile(_PLAIN_TABLE, (n_out, 1))
        table = mft2.encode(TableLut("mft2", np.eye(3), inputs, clut, outputs))
        words = text.encode(text.Text(copyright_text))
    else:
        plain_out = Curves((IDENTITY,) * n_out)
        curves = Curves(tuple(SampledCurve(row) if len(row) > 2 else IDENTITY for row in inputs))
        table = mab.encode(CurveLut("mAB ", n_in, n_out, b=plain_out, clut=clut, a=curves))
        words = pseq.plain_text(copyright_text, version)
    blank = "\0\0\0\0"
    entries = tuple(
        pseq.SequenceEntry(
            blank, blank, 0, blank, (pseq.plain_text("", version), pseq.plain_text(said, version))
        )
        for said in sequence
    )
    tags = {
        "desc": pseq.plain_text(description, version),
        "cprt": words,
        "A2B0": table,
        "pseq": pseq.encode(pseq.Sequence(entries)),
    }
    if colorants is not None:
        tags["clot"] = clrt.encode(colorants_record(colorants, version))
    header = Header(
        version=VERSION_2_4 if version == 2 else VERSION_4_4,
        device_class="link",
        colour_space=source_space.ljust(4),
        pcs=target_space.ljust(4),
        date=date,
        intent=intent,
    )
    return write_profile(Profile(header, tags))


def _input_tables(shapers: NDArray[np.uint16]) -> FloatArray:
    """Return shapers as even samples over 0-1, two of them where all are straight."""
    codes = np.arange(shapers.shape[1])
    if (shapers == codes).all():
        return np.tile(_PLAIN_TABLE, (len(shapers), 1))
    places = np.linspace(0.0, codes[-1], _ENTRIES)
    return np.asarray(np.stack([np.interp(places, codes, row) for row in shapers]) / codes[-1])
