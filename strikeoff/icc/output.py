"""Output profiles of a press: version 2.4 or 4.4, one to fifteen inks.

References
----------
ICC.1:2001-04 (version 2) and ICC.1:2022 (version 4.4), clause 8.5: tags of output profiles.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from strikeoff.base.errors import RangeError, UsageError
from strikeoff.icc import output_tables
from strikeoff.icc.colorants import Colorant, colorants_record
from strikeoff.icc.encoding import FloatArray
from strikeoff.icc.header import VERSION_2_4, VERSION_4_4, Header, channels
from strikeoff.icc.output_tables import A2BTable, B2ATable
from strikeoff.icc.profile import Profile, write_profile
from strikeoff.icc.tags import clrt, desc, dictionary, mab, mft2, mluc, sf32, sig, text, view, xyz

TableIntent = Literal["perceptual", "relative", "saturation"]

#: Order of the intents in A2B0-2 and B2A0-2.
TABLE_INTENTS: tuple[TableIntent, ...] = ("perceptual", "relative", "saturation")


def output_profile(
    *,
    version: Literal[2, 4],
    colour_space: str,
    description: str,
    copyright_text: str,
    white_xyz: ArrayLike,
    a2b: Mapping[TableIntent, A2BTable],
    b2a: Mapping[TableIntent, B2ATable],
    gamut: B2ATable,
    date: tuple[int, int, int, int, int, int],
    chad: ArrayLike | None = None,
    targ: str | None = None,
    colorants: Sequence[Colorant] | None = None,
    viewing: str | None = None,
    viewing_light: view.ViewingConditions | None = None,
    technology: str | None = None,
    metadata: Mapping[str, str] | None = None,
) -> bytes:
    """Return the bytes of an output profile with Lab as connection space.

    Parameters
    ----------
    version : {2, 4}
        2 writes version 2.4 with mft2 tables, 4 writes version 4.4 with 16-bit mAB and mBA tables.
    colour_space : str
        ``GRAY``, ``RGB``, ``CMYK`` or ``2CLR`` to ``FCLR``.
    description, copyright_text : str
        Any Unicode; version 2 keeps the description's Unicode too, the copyright in ASCII escapes.
    white_xyz : array_like, shape (3,)
        Media white, adapted to D50, 1 for the perfect diffuser.
    a2b, b2a : mapping of intent to table
        All of perceptual, relative (media-relative colorimetric) and saturation. Equal tables are stored
        once. Version 2 needs one grid size for all axes of a table.
    gamut : B2ATable
        One channel: 0 in gamut, more outside.
    date : tuple
        Year, month, day, hour, minute, second in UTC.
    chad : array_like, shape (3, 3), optional
        Adaptation from the white of the measurement to D50; written to version 4, for whites other than D50.
    targ : str, optional
        Characterisation data; characters outside ASCII become escapes.
    colorants : sequence of (name, Lab), optional
        Names (31 ASCII characters) and media-relative Lab of the inks; demanded for nCLR in version 4.
    viewing : str, optional
        Description of the viewing condition.
    viewing_light : ViewingConditions, optional
        Light and surround of the viewing condition.
    technology : str, optional
        Signature of the technology tag, such as ``ijet``.
    metadata : mapping of str to str, optional
        Names and values of the metadata tag.

    Returns
    -------
    bytes
        The same for the same arguments.

    Raises
    ------
    UsageError
        When arguments do not fit each other.
    RangeError
        When a value cannot be encoded; nothing is clipped.
    """
    n_inks = _check(version, colour_space, a2b, b2a, colorants)
    white = np.asarray(white_xyz, float)
    if white.shape != (3,) or not ((white > 0) & (white < 2)).all():
        raise RangeError("media white is not an XYZ", where="wtpt", found=white.tolist(), expected="about 1")
    wording = _wording_v2 if version == 2 else _wording_v4
    tags: dict[str, bytes] = {
        "desc": wording(description),
        "cprt": text.encode(text.Text(copyright_text)) if version == 2 else wording(copyright_text),
        "wtpt": xyz.encode(xyz.Xyz(white[None])),
    }
    if chad is not None and version == 4:
        tags["chad"] = sf32.encode(sf32.FixedArray(np.asarray(chad, float).reshape(9)))
    if technology is not None:
        tags["tech"] = sig.encode(sig.Signature(technology))
    if viewing is not None:
        tags["vued"] = wording(viewing)
    if viewing_light is not None:
        tags["view"] = view.encode(viewing_light)
    for number, intent in enumerate(TABLE_INTENTS):
        tags[f"A2B{number}"] = _encode_a2b(a2b[intent], version, n_inks, f"A2B{number}")
    for number, intent in enumerate(TABLE_INTENTS):
        tags[f"B2A{number}"] = _encode_b2a(b2a[intent], version, n_inks, f"B2A{number}")
    tags["gamt"] = _encode_b2a(gamut, version, 1, "gamt")
    if colorants is not None:
        tags["clrt"] = clrt.encode(colorants_record(colorants, version))
    if targ is not None:
        tags["targ"] = text.encode(text.Text(targ))
    if metadata is not None:
        tags["meta"] = dictionary.encode(dictionary.Dictionary(tuple(metadata.items())))
    header = Header(
        version=VERSION_2_4 if version == 2 else VERSION_4_4,
        device_class="prtr",
        colour_space=colour_space.ljust(4),
        date=date,
    )
    return write_profile(Profile(header, tags))


def _wording_v2(words: str) -> bytes:
    return desc.encode(desc.TextDescription(words, "" if words.isascii() else words))


def _wording_v4(words: str) -> bytes:
    return mluc.encode(mluc.Localised((("en", "US", words),)))


def _encode_a2b(table: A2BTable, version: int, n_inks: int, where: str) -> bytes:
    _check_shape(table.grid, n_inks, 3, version, where)
    if version == 2:
        return mft2.encode(output_tables.a2b_mft2(table, where))
    return mab.encode(output_tables.a2b_mab(table, where))


def _encode_b2a(table: B2ATable, version: int, n_out: int, where: str) -> bytes:
    _check_shape(table.grid, 3, n_out, version, where)
    if version == 2:
        return mft2.encode(output_tables.b2a_mft2(table, where))
    return mab.encode(output_tables.b2a_mba(table, where))


def _check(
    version: int,
    colour_space: str,
    a2b: Mapping[TableIntent, Any],
    b2a: Mapping[TableIntent, Any],
    colorants: Sequence[Colorant] | None,
) -> int:
    """Return the number of inks after checking that the arguments fit each other."""
    if version not in (2, 4):
        raise UsageError("unknown profile version", found=version, expected="2 or 4")
    named = colour_space.endswith("CLR")
    if not named and colour_space not in ("GRAY", "RGB", "CMYK"):
        raise UsageError(
            "no output colour space", found=colour_space, expected="GRAY, RGB, CMYK, 2CLR to FCLR"
        )
    n_inks = channels(colour_space)
    for family, tables in (("a2b", a2b), ("b2a", b2a)):
        if set(tables) != set(TABLE_INTENTS):
            raise UsageError(
                f"{family} needs a table for each intent", found=list(tables), expected=TABLE_INTENTS
            )
    if colorants is None and named and version == 4:
        raise UsageError("names and colours of the inks are missing", expected=f"{n_inks} colorants")
    if colorants is not None and len(colorants) != n_inks:
        raise UsageError("wrong number of colorants", found=len(colorants), expected=n_inks)
    return n_inks


def _check_shape(grid: FloatArray, n_in: int, n_out: int, version: int, where: str) -> None:
    sizes = grid.shape[:-1]
    if len(sizes) != n_in or grid.shape[-1] != n_out or not all(2 <= size <= 255 for size in sizes):
        raise UsageError(
            "wrong shape of grid",
            where=where,
            found=grid.shape,
            expected=f"{n_in} axes of 2-255, then {n_out}",
        )
    if version == 2 and len(set(sizes)) != 1:
        raise UsageError("version 2 needs one grid size for all axes", where=where, found=sizes)
