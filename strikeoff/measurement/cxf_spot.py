"""Spot ink characterisation in CxF: which objects were not printed on the bare substrate.

A file for one spot ink holds its tints on the substrate and, in the fullest kind, over black as well.
Device values of both are alike; only the list of measurement sets tells them apart.

References
----------
ISO 17972-4:2018, CxF/X-4, spot colour characterisation; element names from memory and from open writers.
"""

from __future__ import annotations

from xml.parsers import expat

_SUBSTRATE = "substrate"


def printed_over(document: bytes) -> dict[str, str]:
    """Return object identifiers to what they were printed over, those on the substrate left out.

    Parameters
    ----------
    document : bytes
        Well-formed CxF, UTF-8.

    Examples
    --------
    >>> text = b"<a><MeasurementSet Background='Black'><Measurement ObjectRef='t5'/></MeasurementSet></a>"
    >>> printed_over(text)
    {'t5': 'Black'}
    """
    found: dict[str, str] = {}
    if b"MeasurementSet" not in document:
        return found
    background = _SUBSTRATE

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal background
        local = name.rsplit(" ", 1)[-1]
        if local == "MeasurementSet":
            background = attributes.get("Background", _SUBSTRATE)
        elif local == "Measurement" and background.casefold() != _SUBSTRATE:
            reference = attributes.get("ObjectRef")
            if reference:
                found[reference] = background

    parser = expat.ParserCreate(encoding="utf-8", namespace_separator=" ")
    parser.StartElementHandler = start
    parser.Parse(document, True)
    return found
