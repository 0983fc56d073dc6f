"""What only pages have: fonts, thin lines, small type, overprinted white."""

from __future__ import annotations

from strikeoff.intake.pictures import reduced, with_boxes
from strikeoff.intake.records import Finding
from strikeoff.intake.subject import Subject

# Height of type in millimetres below which light strokes close or break on cloth; common practice, no source.
_LEAST_TYPE_MM = 2.1
_SHOWN = 40


def overprint_findings(subject: Subject) -> list[Finding]:
    """White that overprints prints nothing."""
    page = subject.artwork.page
    if page is None or not page.white_overprints:
        return []
    boxes = [subject.share_box(box) for box in page.white_overprints[:_SHOWN]]
    return [
        Finding(
            "overprint",
            "error",
            "white objects are set to overprint and will vanish",
            "Have overprinting taken off these objects",
            found=str(len(page.white_overprints)),
            expected="none",
            picture=with_boxes(reduced(subject.picture), boxes),
            caption="Where they are",
        )
    ]


def line_findings(subject: Subject) -> list[Finding]:
    """Lines and slivers thinner than the press and the cloth hold."""
    page, least = subject.artwork.page, subject.wish.least_line_mm
    if page is None:
        return []
    scale = min(subject.mm_per_point)
    thin = [line for line in page.thin if line["width_pt"] * scale < least]
    if not thin:
        return []
    thinnest = thin[0]["width_pt"] * scale
    boxes = [subject.share_box(tuple(line["box"])) for line in thin[:_SHOWN]]
    return [
        Finding(
            "thin lines",
            "warning",
            "lines are thinner than the cloth holds"
            + (": some have no width at all and come out one press pixel wide" if thinnest == 0 else ""),
            f"Have them drawn at {least / scale / 72 * 25.4:.2f} mm or more in the file",
            found=f"{len(thin)} of them, the thinnest {thinnest:.3f} mm finished",
            expected=f"{least:g} mm or more",
            picture=with_boxes(reduced(subject.picture), boxes),
            caption="Where they are",
        )
    ]


def type_findings(subject: Subject) -> list[Finding]:
    """Type too small for cloth."""
    page = subject.artwork.page
    if page is None:
        return []
    scale = min(subject.mm_per_point)
    small = [text for text in page.type if text["size_pt"] * scale < _LEAST_TYPE_MM]
    if not small:
        return []
    boxes = [subject.share_box(tuple(text["box"])) for text in small[:_SHOWN]]
    return [
        Finding(
            "small type",
            "warning",
            "type is too small for cloth",
            "Have it set larger, or agree on it with a strike-off",
            found=f"{len(small)} pieces, the smallest {small[0]['size_pt'] * scale:.2f} mm high, finished",
            expected=f"{_LEAST_TYPE_MM:g} mm or more",
            picture=with_boxes(reduced(subject.picture), boxes),
            caption="Where it is",
        )
    ]


def font_findings(subject: Subject) -> list[Finding]:
    """Fonts that are not in the file are replaced by others."""
    page = subject.artwork.page
    missing = [] if page is None else [font["name"] for font in page.fonts if not font["embedded"]]
    if page is None or not missing:
        return []
    boxes = [subject.share_box(tuple(text["box"])) for text in page.type[:_SHOWN]]
    return [
        Finding(
            "fonts",
            "error",
            "fonts are not embedded: others will stand in their place",
            "Have the fonts embedded, or the type turned into outlines",
            found=", ".join(sorted(set(missing)))[:300],
            expected="all fonts embedded",
            picture=with_boxes(reduced(subject.picture), boxes),
            caption="Type on the page, as it comes out now",
        )
    ]
