"""CxF3 read; only this module and its neighbours know the CxF library.

A CxF document becomes header keywords and one table of text, like every other format, so that all later
checks are the same.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.measurement.cxf_scan import DECLARATION, object_lines, parse_tree
from strikeoff.measurement.cxf_setup import Specification, read_specification
from strikeoff.measurement.cxf_spot import printed_over
from strikeoff.measurement.cxf_tags import object_tags
from strikeoff.measurement.cxf_write import NO_DATE
from strikeoff.measurement.text import MAX_COLUMNS, MAX_ROWS, RawTable

_COLUMN = re.compile(r"^([2-9]|[0-9]{2}|[A-F])CLR_([0-9]{1,2}|[A-F])$")
_LETTERS = "CMYKRGBOVWL"
#: Cell of a value that an object lacks.
NONE = "none"


def parse_cxf(text: str, problems: list[Problem]) -> tuple[dict[str, str], list[RawTable]]:
    """Read the objects of a CxF3 document as header keywords and one table.

    Parameters
    ----------
    text : str
        The document.
    problems : list of Problem
        Added to.

    Returns
    -------
    keywords, tables
        As `strikeoff.measurement.iso28178.parse_iso28178`.

    Raises
    ------
    InputError
        Malformed XML, a document type or entities, another XML language, too many elements, no objects with
        values, spectra of different wavelengths, or several measuring set-ups in one file.

    References
    ----------
    ISO 17972-1:2015, CxF/X core; ISO 17972-4:2018, spot colour characterisation.
    """
    document = DECLARATION.sub("", text).encode("utf-8")
    lines = object_lines(document)
    root = parse_tree(document)
    resources = root.resources
    objects = resources.object_collection.object_value if resources and resources.object_collection else []
    if not objects or len(objects) > MAX_ROWS:
        raise InputError(
            "CxF holds no objects" if not objects else "too many objects",
            found=str(len(objects)),
            expected=f"1 to {MAX_ROWS} objects with colour values",
            advice="Export the readings as CxF3 with an ObjectCollection",
        )
    places = lines if len(lines) == len(objects) else [1] * len(objects)
    listed = resources.color_specification_collection if resources else None
    specifications = {
        record.id: read_specification(record) for record in (listed.color_specification if listed else [])
    }
    reader = _Objects(specifications, problems)
    elsewhere = printed_over(document)
    for place, item in zip(places, objects, strict=True):
        if item.id not in elsewhere:
            reader.take(place, item)
    for over in sorted(set(elsewhere.values())):
        count = sum(item.id in elsewhere and elsewhere[item.id] == over for item in objects)
        message = (
            f"{counted(count, 'tint')} printed over {over} left out: only those on the substrate make a ramp"
        )
        problems.append(Problem("note", "file", message))
    if elsewhere and not reader.rows:
        raise InputError(
            "nothing in the file is printed on the substrate alone",
            found=f"{counted(len(elsewhere), 'tint')} over {', '.join(sorted(set(elsewhere.values())))}",
            expected="a MeasurementSet whose Background is Substrate, or no MeasurementSet",
            advice="Export the tints on the bare substrate too",
        )
    keywords = _file_keywords(root.file_information)
    return {**keywords, **reader.keywords()}, [reader.table()]


def _file_keywords(information: Any) -> dict[str, str]:
    if information is None:
        return {}
    created = information.creation_date and str(information.creation_date.value)
    words = {
        "ORIGINATOR": information.creator,
        "DESCRIPTOR": information.description,
        "CREATED": created if created != NO_DATE else None,
    }
    for tag in information.tag:
        if tag.name and tag.value is not None:
            words[tag.name.upper().replace(" ", "_")] = tag.value
    return {key: " ".join(str(text).split()) for key, text in words.items() if text}


class _Objects:
    """Collects the values of all objects in columns."""

    def __init__(self, specifications: dict[str, Specification], problems: list[Problem]) -> None:
        self.specifications = specifications
        self.problems = problems
        self.rows: list[tuple[int, str, dict[str, str]]] = []
        self.fields: dict[str, None] = {}
        self.used: dict[str, int] = {}
        self.lights: dict[str, int] = {}
        self.left_out = 0
        self.bands: dict[str, list[int]] = {}
        self.ink_names: tuple[str, ...] = ()

    def take(self, line: int, item: Any) -> None:
        cells: dict[str, str] = dict(self._device(line, item.device_color_values))
        readings: list[dict[str, str]] = []
        for value in item.color_values.choice if item.color_values else []:
            kind = type(value).__name__
            if kind == "ReflectanceSpectrum":
                readings.append(self._spectrum(line, value))
                self._use(line, value.color_specification)
            elif kind in ("ColorCielab", "ColorCiexyz"):
                space = "LAB" if kind == "ColorCielab" else "XYZ"
                if self._same_light(line, value.color_specification) and f"{space}_{space[0]}" not in cells:
                    parts = [getattr(value, axis.lower()) for axis in space]
                    cells |= {f"{space}_{a}": _number(part) for a, part in zip(space, parts, strict=True)}
                else:
                    self.left_out += 1
        name = " ".join((item.name or item.id or "").split()) or str(len(self.rows) + 1)
        if cells or readings:
            cells |= object_tags(item)
            for reading in readings or [{}]:
                row = cells | reading
                self.fields |= dict.fromkeys(row)
                self.rows.append((line, name, row))

    def table(self) -> RawTable:
        if not self.rows:
            raise InputError(
                "CxF objects hold no values that are known",
                expected="ReflectanceSpectrum, ColorCIELab, ColorCIEXYZ, ColorCMYK or ColorCustom",
                advice="Export the readings with one of these",
            )
        if len(self.fields) > MAX_COLUMNS:
            raise InputError("too many values in an object", expected=f"{MAX_COLUMNS} or fewer")
        self._refuse_other_bands()
        if self.left_out:
            message = f"{self.left_out} colour values under other lights were left out"
            self.problems.append(Problem("note", "file", message))
        names = ["SAMPLE_ID", *self.fields]
        table = RawTable(names, "\t", self.rows[0][0])
        for line, name, row in self.rows:
            cells = [name, *(row.get(field, NONE) for field in self.fields)]
            table.rows.append((line, "\t".join('"' + cell.replace('"', '""') + '"' for cell in cells)))
        return table

    def keywords(self) -> dict[str, str]:
        """Return the set-up of all that was used, as header keywords; refuse several."""
        words: dict[str, str] = {}
        seen: dict[str, tuple[str, int]] = {}
        for reference, line in self.used.items():
            for key, text in self.specifications.get(reference, Specification()).setup.items():
                before, first = seen.setdefault(key, (text, line))
                if before != text:
                    raise InputError(
                        f"file mixes readings of several set-ups: {key.lower().replace('_', ' ')}",
                        where=f"line {line}",
                        found=f"{before} (line {first}) and {text}",
                        expected="one set-up",
                        advice="Export each set-up to a file of its own",
                    )
                words[key] = text
        for reference in self.lights:
            words |= self.specifications.get(reference, Specification()).light
        # Labels that are columns name no ink; the file's own INK_NAMES stays.
        if not all(_COLUMN.match(name) for name in self.ink_names):
            words["INK_NAMES"] = " ".join(name.replace(" ", "_") for name in self.ink_names)
        return words

    def _refuse_other_bands(self) -> None:
        """Refuse spectra of different wavelengths, naming the first that is not as most are."""
        if len(self.bands) > 1:
            usual = max(self.bands, key=lambda words: len(self.bands[words]))
            odd = min((words for words in self.bands if words != usual), key=lambda w: self.bands[w][0])
            raise InputError(
                "spectra differ in their wavelengths",
                where=f"line {self.bands[odd][0]}",
                found=odd,
                expected=f"{usual}, as in most",
                advice="Export all spectra with the same wavelengths, or read this patch again",
            )

    def _use(self, line: int, reference: str | None) -> None:
        self.used.setdefault(reference or "", line)

    def _same_light(self, line: int, reference: str | None) -> bool:
        """Say whether a colour value is of the light of the first; note its set-up if so."""
        light = self.specifications.get(reference or "", Specification()).light
        for other in self.lights:
            if self.specifications.get(other, Specification()).light != light:
                return False
        self.lights.setdefault(reference or "", line)
        self._use(line, reference)
        return True

    def _spectrum(self, line: int, value: Any) -> dict[str, str]:
        where = f"line {line}"
        specification = self.specifications.get(value.color_specification or "", Specification())
        start = value.start_wl if value.start_wl is not None else specification.start_nm
        step = specification.increment_nm
        if start is None or not step:
            raise InputError(
                "spectrum has no start wavelength or increment",
                where=where,
                expected="WavelengthRange with StartWL and Increment in its ColorSpecification",
                advice="Export the spectra with their wavelengths",
            )
        count = len(value.value)
        if not (start >= 200 and 0 < step <= 100 and start + step * (count - 1) <= 2500 and count > 1):
            raise InputError(
                "wavelengths are impossible",
                where=where,
                found=f"{count} values from {start} nm in steps of {step} nm",
                expected="2 values or more within 200 to 2500 nm",
                advice="Give StartWL and Increment in nanometres",
            )
        names = [f"SPECTRAL_NM{start + step * index}" for index in range(count)]
        self.bands.setdefault(f"{count} values from {start} nm in steps of {step} nm", []).append(line)
        return dict(zip(names, map(_number, value.value), strict=True))

    def _device(self, line: int, values: Any) -> Iterator[tuple[str, str]]:
        for value in values.choice if values else []:
            kind = type(value).__name__
            if kind not in ("ColorCmyk", "ColorCmykplusN", "ColorCustom"):
                continue
            spots = list(getattr(value, "spot_color", ()))
            labels = tuple(" ".join((spot.name or "").split()) for spot in spots)
            base: list[Any] = []
            if kind != "ColorCustom":
                base = [value.cyan, value.magenta, value.yellow, value.black]
            columns, names = _ink_columns(labels, cmyk=bool(base))
            if self.ink_names and names != self.ink_names:
                raise InputError(
                    "objects are of different ink sets",
                    where=f"line {line}",
                    found=" ".join(names)[:80],
                    expected=" ".join(self.ink_names)[:80],
                    advice="Export each ink set to a file of its own",
                )
            self.ink_names = names
            amounts = base + [spot.percentage for spot in spots]
            yield from zip(columns, map(_number, amounts), strict=True)
            return


def _ink_columns(labels: tuple[str, ...], *, cmyk: bool) -> tuple[list[str], tuple[str, ...]]:
    """Return column names and ink names of device values."""
    names = (("C", "M", "Y", "K") if cmyk else ()) + labels
    if cmyk and all(len(label) == 1 and label in _LETTERS for label in labels):
        return [f"{''.join(names)}_{name}" for name in names], names
    if not cmyk and all(_COLUMN.match(label) for label in labels):
        return list(labels), names
    return [f"{len(names)}CLR_{index}" for index in range(1, len(names) + 1)], names


def _number(value: float | None) -> str:
    return NONE if value is None else repr(float(value))
