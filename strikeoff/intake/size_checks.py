"""Size, scale, resolution and bleed. Their limits are common practice; no source."""

from __future__ import annotations

import math

from strikeoff.base.units import MM_PER_INCH
from strikeoff.intake.pictures import enlarged, reduced, with_boxes
from strikeoff.intake.records import Finding
from strikeoff.intake.subject import Subject

_SAME = 0.005
_SCALES = (0.05, 0.1, 0.2, 0.25, 0.5, 2.0, 4.0, 5.0, 10.0, 20.0)
_SLIPS = {25.4: "inches taken for millimetres", 1 / 25.4: "millimetres taken for inches"}


def size_findings(subject: Subject) -> list[Finding]:
    """Compare the finished size with the proportions and the size that the file states."""
    found, stated = [], subject.stated_mm
    wish = subject.wish.finished_mm
    if stated is None:
        proportions = subject.artwork.width / subject.artwork.height
    else:
        proportions = stated[0] / stated[1]
    stretch = wish[0] / wish[1] / proportions - 1.0
    if abs(stretch) > _SAME:
        found.append(
            Finding(
                "size",
                "error",
                f"the picture would be stretched by {100 * abs(stretch):.1f} % "
                f"{'across' if stretch > 0 else 'along'} to fit the finished size",
                f"Ask for {wish[0]:g} x {wish[0] / proportions:.4g} mm, or have the artwork cropped",
                found=f"{proportions:.4g} to 1",
                expected=f"{wish[0] / wish[1]:.4g} to 1",
                picture=reduced(subject.picture),
                caption="The artwork in its own proportions",
            )
        )
    page = subject.artwork.page
    if page is None or stated is None:
        # A picture has no size of its own; programs write any resolution.
        return found
    scale = math.sqrt(wish[0] / stated[0] * wish[1] / stated[1])
    if abs(scale - 1.0) <= _SAME:
        return found
    slip = next((text for factor, text in _SLIPS.items() if abs(scale / factor - 1.0) < 0.01), None)
    is_drawn_to_scale = any(abs(scale / known - 1.0) <= _SAME for known in _SCALES)
    found.append(
        Finding(
            "size",
            "note" if is_drawn_to_scale and slip is None else "warning",
            f"the file is {1 / scale:.3g} times as large as the finished goods"
            if scale < 1
            else f"the finished goods are {scale:.3g} times as large as the file"
            + (f": {slip}?" if slip else ""),
            "Make sure that this scale is meant; lines, type and images change with it",
            found=f"{stated[0]:.1f} x {stated[1]:.1f} mm"
            + (f", page scale {page.user_unit:g}" if page.user_unit != 1 else ""),
            expected=f"{wish[0]:g} x {wish[1]:g} mm",
            picture=reduced(subject.picture, 320),
            caption="The artwork",
        )
    )
    return found


def effective_ppi(subject: Subject) -> tuple[float, float] | None:
    """Return the least effective resolution (across, along) of pixels at the finished size, or None."""
    if subject.artwork.page is None:
        art, wish = subject.artwork, subject.wish.finished_mm
        return art.width / wish[0] * MM_PER_INCH, art.height / wish[1] * MM_PER_INCH
    images = _image_ppi(subject)
    return min(images, key=min) if images else None


def _image_ppi(subject: Subject) -> list[tuple[float, float]]:
    assert subject.artwork.page is not None
    across, along = subject.mm_per_point
    result = []
    for image in subject.artwork.page.images:
        a, b, c, d, _, _ = image["matrix"]
        wide = math.hypot(a * across, b * along) / MM_PER_INCH
        high = math.hypot(c * across, d * along) / MM_PER_INCH
        result.append((image["width_px"] / max(wide, 1e-9), image["height_px"] / max(high, 1e-9)))
    return result


def resolution_findings(subject: Subject) -> list[Finding]:
    """Compare effective resolution at the finished size with what shows no pixels."""
    least = subject.wish.least_ppi
    ppi = effective_ppi(subject)
    if ppi is None or min(ppi) >= least:
        return []
    if subject.artwork.page is None:
        centre = subject.survey.top[:32, :48]
        step = subject.survey.step
        corner = subject.picture[: max(1, len(centre) // step), : max(1, centre.shape[1] // step)]
        picture = enlarged(corner if step > 1 else subject.picture[:32, :48])
        caption = "The upper left corner, enlarged"
        what, count = "the picture", 1
    else:
        all_ppi = _image_ppi(subject)
        images = subject.artwork.page.images
        low = [image["matrix"] for image, ppi in zip(images, all_ppi, strict=True) if min(ppi) < least]
        picture = with_boxes(reduced(subject.picture), [subject.share_box(_image_box(m)) for m in low])
        caption, what, count = "Images of low resolution", "an image", len(low)
    is_fault = min(ppi) < least / 2
    return [
        Finding(
            "resolution",
            "error" if is_fault else "warning",
            f"{what} has {min(ppi):.0f} pixels per inch at the finished size"
            + (f", and {count - 1} more have too few" if count > 1 else "")
            + (": pixels will show" if is_fault else ": pixels may show"),
            "Ask for it in a higher resolution, print it smaller, or agree on it with a strike-off",
            found=f"{ppi[0]:.0f} x {ppi[1]:.0f} pixels per inch",
            expected=f"{least:g} or more",
            picture=picture,
            caption=caption,
        )
    ]


def _image_box(matrix: list[float]) -> tuple[float, float, float, float]:
    a, b, c, d, e, f = matrix
    xs, ys = (e, e + a, e + c, e + a + c), (f, f + b, f + d, f + b + d)
    return min(xs), min(ys), max(xs), max(ys)


def bleed_findings(subject: Subject) -> list[Finding]:
    """See whether the page carries the bleed that is needed."""
    needed, page = subject.wish.bleed_mm, subject.artwork.page
    if needed <= 0:
        return []
    if page is None:
        return [
            Finding(
                "bleed",
                "note",
                "a picture states no bleed",
                f"Make sure that {needed:g} mm at each edge may be cut away",
                expected=f"{needed:g} mm",
                picture=reduced(subject.picture, 320),
                caption="The artwork",
            )
        ]
    across, along = subject.mm_per_point
    trim, bleed = page.boxes["trim"], page.boxes["bleed"]
    edges = (
        (trim[0] - bleed[0]) * across, (trim[1] - bleed[1]) * along,
        (bleed[2] - trim[2]) * across, (bleed[3] - trim[3]) * along,
    )  # fmt: skip
    if min(edges) >= needed - 0.05:
        return []
    return [
        Finding(
            "bleed",
            "error",
            "the page has too little bleed",
            f"Have it exported with {needed:g} mm of bleed at the finished size, and a bleed box",
            found=", ".join(f"{edge:.1f}" for edge in edges) + " mm left, top, right, below",
            expected=f"{needed:g} mm",
            picture=with_boxes(reduced(subject.picture), [(0.0, 0.0, 1.0, 1.0)]),
            caption="The trimmed page; nothing lies beyond the frame",
        )
    ]
