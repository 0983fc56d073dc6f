"""The measuring set-up as header keywords state it."""

from __future__ import annotations

import re

from strikeoff.base.errors import UsageError
from strikeoff.base.problems import Problem
from strikeoff.colour.weights import canonical_illuminant, canonical_observer
from strikeoff.measurement.records import Setup

_ILLUMINANT_IN_TEXT = re.compile(
    r"illum\w*(?:[ _]name)?\s*[,=: ]\s*\"?([A-Z][A-Z0-9.\-]*[0-9.]*)\b", re.IGNORECASE
)
_OBSERVER_IN_TEXT = re.compile(r"obs\w*(?:[ _]?angle)?\s*[,=: ]\s*\"?(\d+)", re.IGNORECASE)
_MODE = re.compile(r"\bM([0-3])\b")
_ANY_MODE = re.compile(r"\bM\d+\b")
# As a text of several statements has it.
_STATED_MODE = re.compile(r"measurement[ _]?(?:condition|mode)\s*[=:]\s*(\w{1,20})", re.IGNORECASE)
_MODE_KEYS = ("MEASUREMENT_CONDITION", "MEASUREMENT_MODE")
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
# Keywords whose text may state light, observer or measurement condition.
_TEXTS = (
    "MEASUREMENT_SOURCE",
    "WEIGHTING_FUNCTION",
    "MEASUREMENT_CONDITION",
    "MEASUREMENT_MODE",
    "COMPUTATIONAL_PARAMETER",
    "PRINT_CONDITIONS",
    "FILTER",
)


# A hostile keyword can be long; what is wanted stands near its start.
_SEARCHED = 1000


def stated_light(keywords: dict[str, str]) -> tuple[str | None, str | None]:
    """Return illuminant and observer as the header states them, unchecked; None where it is silent.

    Examples
    --------
    >>> stated_light({"WEIGHTING_FUNCTION": "ILLUMINANT, D65; OBSERVER, 10 degree"})
    ('D65', '10')
    >>> stated_light({"MEASUREMENT_SOURCE": "Illumination=D50 ObserverAngle=2 Degree Filter=No"})
    ('D50', '2')
    >>> stated_light({"DESCRIPTOR": "chart"})
    (None, None)
    """
    illuminant = keywords.get("ILLUMINATION_NAME") or keywords.get("ILLUMINANT")
    observer = keywords.get("OBSERVER_ANGLE") or keywords.get("OBSERVER")
    for key in _TEXTS:
        text = keywords.get(key, "")[:_SEARCHED]
        if illuminant is None and (match := _ILLUMINANT_IN_TEXT.search(text)):
            illuminant = match.group(1)
        if observer is None and (match := _OBSERVER_IN_TEXT.search(text)):
            observer = match.group(1)
    return illuminant, observer


def setup_from_keywords(keywords: dict[str, str], problems: list[Problem]) -> Setup:
    """Return the set-up; D50 and 2 degrees where the header does not say.

    An illuminant that is not known is reported and replaced by the default; an observer that is not
    known is an error, for there is no other eye to see the colours with.
    """
    illuminant, observer = stated_light(keywords)
    try:
        light = canonical_illuminant(illuminant) if illuminant else "D50"
    except UsageError:
        light = "D50"
        problems.append(
            Problem(
                "warning",
                "header",
                "illuminant is not known; D50 is assumed",
                found=str(illuminant)[:60],
                expected="a CIE illuminant such as D50, D65 or A",
                advice="Correct ILLUMINATION_NAME, or export the readings for D50",
            )
        )
    try:
        angle = canonical_observer(_first_number(observer)) if observer else "2"
    except UsageError:
        angle = "2"
        problems.append(
            Problem(
                "error",
                "header",
                "observer is not known",
                found=str(observer)[:60],
                expected="2 or 10 degrees",
                advice="Export the readings for one of these, or as spectra without an observer",
            )
        )
    texts = " ".join(keywords.get(key, "")[:_SEARCHED] for key in _TEXTS)
    mode = _MODE.search(texts)
    stated = " ".join(keywords.get(key, "")[:_SEARCHED] for key in _MODE_KEYS)
    odd = _ANY_MODE.search(stated) or _STATED_MODE.search(texts)
    if mode is None and odd:
        problems.append(
            Problem(
                "warning",
                "header",
                "measuring mode is not known and is left open",
                found=odd.group(odd.re.groups),
                expected="M0 to M3 (ISO 13655)",
                advice="Correct MEASUREMENT_CONDITION: only readings in one mode may be compared",
            )
        )
    aperture = keywords.get("MEASUREMENT_APERTURE") or keywords.get("APERTURE")
    size = _NUMBER.search(aperture) if aperture else None
    return Setup(
        illuminant=light,
        observer=angle,
        mode=f"M{mode.group(1)}" if mode else None,
        geometry=keywords.get("MEASUREMENT_GEOMETRY") or keywords.get("GEOMETRY"),
        backing=keywords.get("SAMPLE_BACKING") or keywords.get("BACKING"),
        side=keywords.get("SAMPLE_SIDE"),
        instrument=keywords.get("INSTRUMENTATION") or keywords.get("TARGET_INSTRUMENT"),
        aperture_mm=float(size.group().replace(",", ".")) if size else None,
    )


def _first_number(text: str) -> str:
    match = _NUMBER.search(text)
    return match.group() if match else text
