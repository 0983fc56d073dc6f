"""ICC profiles in a PDF file: of its output intents and of the spaces that are drawn in."""

from __future__ import annotations

import base64
from typing import Any

#: Objects of a file that are looked into.
MOST_OBJECTS = 500_000
_MOST_PROFILE_BYTES = 64 << 20


def set_output_intent(document: Any, profile: bytes) -> None:
    """Make a profile the output intent of an open document, in place of its own."""
    xref = document.get_new_xref()
    document.update_object(xref, f"<< /N {_components(profile)} >>")
    document.update_stream(xref, profile, new=True)
    text = (
        "[ << /Type /OutputIntent /S /GTS_PDFX /OutputConditionIdentifier (given) "
        f"/DestOutputProfile {xref} 0 R >> ]"
    )
    document.xref_set_key(document.pdf_catalog(), "OutputIntents", text)


def _components(profile: bytes) -> int:
    return {b"CMYK": 4, b"RGB ": 3, b"GRAY": 1}.get(profile[16:20], 3)


def held_profiles(document: Any, spaces: list[str]) -> dict[str, Any]:
    """Find the profiles of the output intent and of the ICC-based spaces that are drawn in.

    Parameters
    ----------
    document : object
        Of the interpreter.
    spaces : list of str
        Names of the spaces that are drawn in.

    Returns
    -------
    dict
        ``output_intent``: base64, or None; ``profiles``: up to eight of each kind of colour, base64.
    """
    found: dict[str, Any] = {"output_intent": None, "profiles": {}}
    catalog = document.pdf_catalog()
    kind, value = document.xref_get_key(catalog, "OutputIntents")
    if kind != "null":
        for xref in _references(document, catalog, "OutputIntents", value):
            profile = _stream(document, xref)
            if profile is not None:
                found["output_intent"] = base64.b64encode(profile).decode("ascii")
                break
    if not any("ICCBased" in name for name in spaces):
        return found
    for xref in range(1, min(document.xref_length(), MOST_OBJECTS)):
        if document.xref_is_stream(xref) and document.xref_get_key(xref, "N")[0] == "int":
            profile = _stream(document, xref)
            if profile is not None and profile[36:40] == b"acsp":
                word = profile[16:20].decode("latin-1").strip()
                known = found["profiles"].setdefault(word, [])
                text = base64.b64encode(profile).decode("ascii")
                if text not in known and len(known) < 8:
                    known.append(text)
    return found


def _references(document: Any, catalog: int, key: str, value: str) -> list[int]:
    """Return the object numbers of the destination profiles of all output intents, in order."""
    import re

    texts = [value]
    for number in re.findall(r"(\d+) 0 R", value)[:20]:
        texts.append(document.xref_object(int(number), compressed=True))
    text = " ".join(texts)
    return [int(number) for number in re.findall(r"/DestOutputProfile (\d+) 0 R", text)]


def _stream(document: Any, xref: int) -> bytes | None:
    if not document.xref_is_stream(xref):
        return None
    data = document.xref_stream(xref)
    return bytes(data) if data is not None and len(data) <= _MOST_PROFILE_BYTES else None
