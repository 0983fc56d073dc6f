"""Readings as CxF3."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from strikeoff.base.files import write_bytes
from strikeoff.inks.roles import names_of_columns
from strikeoff.measurement.cxf_setup import specification_records
from strikeoff.measurement.cxf_tags import tag_collections
from strikeoff.measurement.fields import AVERAGED
from strikeoff.measurement.records import ReadingSet

#: Date of objects, which must have one, where that of the readings is not known: with the time of writing
#: equal readings would be other bytes.
NO_DATE = "1980-01-01T00:00:00"


def format_cxf(
    readings: ReadingSet,
    *,
    extra_columns: Mapping[str, ArrayLike] | None = None,
    header: Mapping[str, str] | None = None,
    digits: int = 10,
) -> bytes:
    """Return readings as a CxF3 document (ISO 17972-1) that reads back to the same values.

    Parameters
    ----------
    readings : ReadingSet
        Spectra must have whole, evenly spaced wavelengths.
    extra_columns : mapping of str to array_like, shape (n,)
        Further values, as tags of the objects.
    header : mapping of str to str
        Further header keywords, as tags of the file; ``CREATED`` is its date too, where written as ISO 8601.
    digits : int
        Significant digits.

    Returns
    -------
    bytes
        UTF-8; equal readings are equal bytes.

    Raises
    ------
    InputError
        When the wavelengths are not whole and evenly spaced.
    """
    from colour_cxf import cxf3, write_cxf
    from xsdata.models.datatype import XmlDateTime

    created = _created((header or {}).get("CREATED", ""))
    date = cxf3.CreationDate(value=XmlDateTime.from_string(created or NO_DATE))
    setup, light = specification_records(readings)
    # The light stands at XYZ and Lab alone, which not all readings have; it holds for spectra too.
    words = {
        "ILLUMINATION_NAME": readings.setup.illuminant,
        "OBSERVER_ANGLE": readings.setup.observer,
        "SAMPLE_SIDE": readings.setup.side,
        **{key.upper(): text for key, text in (header or {}).items()},
    }
    own = {} if readings.averaged is None else {AVERAGED: readings.averaged.astype(int)}
    extras = {name: np.asarray(column).tolist() for name, column in (own | dict(extra_columns or {})).items()}

    def rounded(value: float) -> float:
        return float(f"{value:.{digits}g}")

    objects = []
    for row, name in enumerate(readings.sample_ids):
        colours: list[Any] = []
        if readings.spectra is not None:
            values = [rounded(v) for v in readings.spectra[row]]
            colours.append(cxf3.ReflectanceSpectrum(value=values, color_specification=setup.id))
        if readings.lab is not None:
            lab = dict(zip("lab", map(rounded, readings.lab[row]), strict=True))
            colours.append(cxf3.ColorCielab(color_specification=light.id, **lab))
        if readings.xyz is not None:
            xyz = dict(zip("xyz", map(rounded, readings.xyz[row]), strict=True))
            colours.append(cxf3.ColorCiexyz(color_specification=light.id, **xyz))
        device = _device_record(cxf3, readings, [rounded(100.0 * v) for v in readings.coverages[row]])
        objects.append(
            cxf3.Object(
                creation_date=date,
                color_values=cxf3.ColorValues(choice=colours) if colours else None,
                device_color_values=cxf3.DeviceColorValues(choice=[device]) if device else None,
                tag_collection=tag_collections(cxf3, extras, row),
                object_type="Target",
                name=_plain(name),
                id=f"p{row + 1}",
            )
        )
    document = cxf3.CxF(
        file_information=cxf3.FileInformation(
            creator="strikeoff",
            creation_date=None if created is None else date,
            tag=[cxf3.Tag(name=key, value=_plain(text)) for key, text in words.items() if text],
        ),
        resources=cxf3.Resources(
            object_collection=cxf3.ObjectCollection(object_value=objects),
            color_specification_collection=cxf3.ColorSpecificationCollection(
                color_specification=[setup, light]
            ),
        ),
    )
    # One object a line, so that messages can name lines.
    return re.sub(rb"<(/?)(\w+:)?Object(Collection)?\b", rb"\n\g<0>", write_cxf(document)) + b"\n"


def write_cxf_file(
    path: str | Path,
    readings: ReadingSet,
    extra_columns: Mapping[str, ArrayLike] | None = None,
    header: Mapping[str, str] | None = None,
    digits: int = 10,
) -> None:
    """Write readings as CxF3; see `format_cxf`."""
    write_bytes(path, format_cxf(readings, extra_columns=extra_columns, header=header, digits=digits))


def _created(stated: str) -> str | None:
    """Return a stated date as XML writes it, None where it is no date of ISO 8601."""
    try:
        return datetime.fromisoformat(stated.strip()).isoformat()
    except ValueError:
        return None


def _device_record(cxf3: Any, readings: ReadingSet, amounts: list[float]) -> Any:
    columns = readings.ink_columns
    if not columns:
        return None
    prefix, names = columns[0].split("_", 1)[0], [column.split("_", 1)[-1] for column in columns]
    if prefix.startswith("CMYK") and names[:4] == list("CMYK"):
        process = dict(zip(("cyan", "magenta", "yellow", "black"), amounts[:4], strict=True))
        if len(names) == 4:
            return cxf3.ColorCmyk(color_specification="setup", **process)
        spots = [
            cxf3.SpotColorType(name=n, percentage=v) for n, v in zip(names[4:], amounts[4:], strict=True)
        ]
        return cxf3.ColorCmykplusN(color_specification="setup", spot_color=spots, **process)
    # Numbered inks stand under their names where somebody named them.
    labels = columns if readings.inks == names_of_columns(columns) else readings.inks
    spots = [cxf3.SpotColorType(name=n, percentage=v) for n, v in zip(labels, amounts, strict=True)]
    return cxf3.ColorCustom(name="inks", color_specification="setup", spot_color=spots)


def _plain(text: str) -> str:
    return re.sub(r"[\x00-\x1f]", "", " ".join(str(text).split()))
