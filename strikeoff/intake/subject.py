"""Everything that the single checks look at."""

from __future__ import annotations

from dataclasses import dataclass, field

from strikeoff.artwork.records import Artwork
from strikeoff.base.units import MM_PER_INCH
from strikeoff.condition.record import Condition
from strikeoff.intake.colours import ColourNeed
from strikeoff.intake.records import Picture, Wish
from strikeoff.intake.survey import Survey
from strikeoff.spot.compiled import SpotPrint

POINTS_PER_INCH = 72.0


@dataclass(frozen=True)
class Subject:
    """Artwork under the eye.

    Attributes
    ----------
    artwork : Artwork
        What was sent.
    condition : Condition
        Where it will be printed.
    wish : Wish
        For what.
    survey : Survey
        One pass over it.
    picture : ndarray of uint8, shape (h, w, 3)
        What it looks like, small.
    need : ColourNeed or None
        What it asks of the inks; None where its colours are not known.
    named_inks : dict of str to int
        Named colours that have an ink.
    swatches : dict of str to (SpotPrint or None)
        Named colours that have a swatch, and how those print.
    """

    artwork: Artwork
    condition: Condition
    wish: Wish
    survey: Survey
    picture: Picture
    need: ColourNeed | None
    named_inks: dict[str, int]
    swatches: dict[str, SpotPrint | None] = field(default_factory=dict)

    @property
    def mm_per_point(self) -> tuple[float, float]:
        """Finished millimetres of a point of the page (across, along); (0, 0) for pictures."""
        page, box = self.artwork.page, self.artwork.box
        if page is None or box is None:
            return 0.0, 0.0
        width, height = page.size_pt(box)
        return self.wish.finished_mm[0] / width, self.wish.finished_mm[1] / height

    @property
    def stated_mm(self) -> tuple[float, float] | None:
        """Size [mm] that the file itself states (across, along), or None."""
        page, box, dpi = self.artwork.page, self.artwork.box, self.artwork.dpi
        if page is not None and box is not None:
            width, height = page.size_pt(box)
            return width / POINTS_PER_INCH * MM_PER_INCH, height / POINTS_PER_INCH * MM_PER_INCH
        if dpi is None:
            return None
        return self.artwork.width / dpi[0] * MM_PER_INCH, self.artwork.height / dpi[1] * MM_PER_INCH

    def share_box(self, box: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
        """Return a box on the page [pt] as shares of what is shown."""
        page, name = self.artwork.page, self.artwork.box
        assert page is not None
        assert name is not None
        x0, y0, _, _ = page.boxes[name]
        width, height = page.size_pt(name)
        return (box[0] - x0) / width, (box[1] - y0) / height, (box[2] - x0) / width, (box[3] - y0) / height
