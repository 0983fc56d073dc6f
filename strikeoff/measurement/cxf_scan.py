"""CxF3 as XML: where its objects begin, and its tree, within bounds."""

from __future__ import annotations

import re
from typing import Any
from xml.parsers import expat

from strikeoff.base.errors import InputError
from strikeoff.measurement.cxf_faults import damage_words, refused_value

_NAMESPACE = "http://colorexchangeformat.com/CxF3-core"
_MAX_ELEMENTS = 2_000_000
_MAX_DEPTH = 40
#: The first line of XML.
DECLARATION = re.compile(r"^\s*<\?xml[^>]*\?>")


def is_xml(text: str) -> bool:
    """Say whether a text starts like XML."""
    return text.lstrip()[:1] == "<"


def object_lines(document: bytes) -> list[int]:
    """Return the line of each object; refuse what is malformed, too deep, too long or declares types."""
    lines: list[int] = []
    depth = 0
    count = 0
    parser = expat.ParserCreate(encoding="utf-8", namespace_separator=" ")

    def start(name: str, _: Any) -> None:
        nonlocal depth, count
        depth += 1
        count += 1
        if count == 1 and name != f"{_NAMESPACE} CxF":
            raise InputError(
                "XML is not CxF3",
                where=f"line {parser.CurrentLineNumber}",
                found=name.split(" ")[-1][:60],
                expected=f"CxF in the namespace {_NAMESPACE}",
                advice="Export the readings as CxF3 (ISO 17972), ISO 28178 text or CSV",
            )
        if depth > _MAX_DEPTH or count > _MAX_ELEMENTS:
            raise InputError(
                "XML is nested too deep" if depth > _MAX_DEPTH else "XML has too many elements",
                where=f"line {parser.CurrentLineNumber}",
                expected=f"{_MAX_DEPTH} levels and {_MAX_ELEMENTS} elements at most",
                advice="Export the readings alone",
            )
        if name == f"{_NAMESPACE} Object":
            lines.append(parser.CurrentLineNumber)

    def end(_: str) -> None:
        nonlocal depth
        depth -= 1

    def doctype(*_: Any) -> None:
        raise InputError(
            "XML declares a document type or entities",
            where=f"line {parser.CurrentLineNumber}",
            expected="none: CxF needs neither",
            advice="Export the readings again",
        )

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.StartDoctypeDeclHandler = doctype
    try:
        parser.Parse(document, True)
    except expat.ExpatError as error:
        raise InputError(
            "XML is damaged",
            where=f"line {error.lineno}",
            found=damage_words(error.code),
            expected="whole CxF3",
            advice="Export or copy the file again",
        ) from error
    return lines


def parse_tree(document: bytes) -> Any:
    """Return the tree of a CxF3 document; refuse values that its schema does not allow."""
    from colour_cxf.cxf3 import CxF
    from xsdata.exceptions import ConverterWarning, ParserError
    from xsdata.formats.dataclass.parsers import XmlParser
    from xsdata.formats.dataclass.parsers.config import ParserConfig

    config = ParserConfig(fail_on_unknown_properties=False, fail_on_converter_warnings=True)
    try:
        return XmlParser(config=config).from_bytes(document, CxF)
    except (ParserError, ConverterWarning, ValueError, TypeError, OverflowError) as error:
        raise InputError(
            "CxF holds a value that is not of its kind",
            **refused_value(document, str(error)),
            advice="Correct the value, or export the readings again",
        ) from error
