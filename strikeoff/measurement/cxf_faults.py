"""What is wrong with a CxF document, in words of our own."""

from __future__ import annotations

import re
from xml.parsers import expat

_REFUSED = re.compile(r"`([A-Za-z_.]+)`\s+`([^`]{1,200})` is not a valid `([A-Za-z_]+)`")
_NUMBERS = "numbers where numbers belong, with decimal points"
# Words of a kind that are listed.
_MOST_WORDS = 8
# What a file that ends too early looks like to the parser.
_CUT = "the file ends too early"
_DAMAGE = {
    expat.errors.codes[message]: _CUT
    for message in (
        expat.errors.XML_ERROR_NO_ELEMENTS,
        expat.errors.XML_ERROR_UNCLOSED_TOKEN,
        expat.errors.XML_ERROR_PARTIAL_CHAR,
        expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
}


def damage_words(code: int) -> str:
    """Return what the XML parser stumbled over, by its code.

    Examples
    --------
    >>> damage_words(3), damage_words(7)
    ('the file ends too early', 'mismatched tag')
    """
    return _DAMAGE.get(code, expat.errors.messages[code])


def refused_value(document: bytes, message: str) -> dict[str, str]:
    r"""Return the value that the CxF library refuses, with its line where it stands but once.

    Parameters
    ----------
    document : bytes
        UTF-8.
    message : str
        What the library says.

    Returns
    -------
    dict of str to str
        ``found`` and ``expected``, and ``where`` if it is known.

    Examples
    --------
    >>> document = b"<a>\n<b>0.1 0,2</b></a>"
    >>> told = refused_value(document, "Failed to convert value for `A.b`   `0,2` is not a valid `float`")
    >>> told["found"], told["expected"], told["where"]
    ("'0,2' in A.b", 'numbers where numbers belong, with decimal points', 'line 2')
    """
    match = _REFUSED.search(message)
    if match is None:
        return {"found": " ".join(message.split())[:120], "expected": _NUMBERS}
    element, value, kind = match.groups()
    found = {"found": f"{value[:40]!r} in {element}", "expected": _words(kind) or _NUMBERS}
    text = document.decode("utf-8")
    places = [place.start() for place in re.finditer(rf"(?<![^\s>\"']){re.escape(value)}(?![^\s<\"'])", text)]
    if len(places) == 1:
        line = text.count("\n", 0, places[0]) + 1
        found["where"] = f"line {line}"
    return found


def _words(kind: str) -> str:
    """Return the words of a kind of value that has but a few; nothing for other kinds."""
    from colour_cxf import cxf3

    members = getattr(getattr(cxf3, kind, None), "__members__", {})
    words = [str(member.value) for member in members.values()]
    more = f" or {len(words) - _MOST_WORDS} more" if len(words) > _MOST_WORDS else ""
    return f"one of {', '.join(words[:_MOST_WORDS])}{more}" if words else ""
