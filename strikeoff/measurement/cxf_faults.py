"""What is wrong with a CxF document, in words of our own."""

from __future__ import annotations

import re
from xml.parsers import expat

_REFUSED = re.compile(r"`([A-Za-z_.]+)`\s+`([^`]{1,200})` is not a valid")
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
        ``found``, and ``where`` if it is known.

    Examples
    --------
    >>> document = b"<a>\n<b>0.1 0,2</b></a>"
    >>> refused_value(document, "Failed to convert value for `A.b`   `0,2` is not a valid `float`")
    {'found': "'0,2' in A.b", 'where': 'line 2'}
    """
    match = _REFUSED.search(message)
    if match is None:
        return {"found": " ".join(message.split())[:120]}
    element, value = match.group(1), match.group(2)
    found = {"found": f"{value[:40]!r} in {element}"}
    text = document.decode("utf-8")
    places = [place.start() for place in re.finditer(rf"(?<![^\s>\"']){re.escape(value)}(?![^\s<\"'])", text)]
    if len(places) == 1:
        line = text.count("\n", 0, places[0]) + 1
        found["where"] = f"line {line}"
    return found
