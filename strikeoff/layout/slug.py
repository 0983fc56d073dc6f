"""The line of text in the waste that says what a roll is."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.units import MM_PER_INCH

SLUG_MM = 7.0
_TEXT_MM = 5.0
_SMALLEST_TEXT_MM = 2.0


def slug_text(
    *,
    job: str,
    condition_digest: str,
    ink_names: Sequence[str],
    finished_w_mm: float,
    finished_h_mm: float,
    warp_percent: float,
    weft_percent: float,
    date: str | None = None,
) -> str:
    """Return the slug line: job, condition, inks, finished size, dimensional change, date.

    Examples
    --------
    >>> slug_text(job="Fern 3", condition_digest="sha256:0123456789abcdef", ink_names="CMYK",
    ...           finished_w_mm=640, finished_h_mm=640, warp_percent=-5.5, weft_percent=-3)
    'Fern 3 | condition 01234567 | inks C M Y K | finished 640.0 x 640.0 mm | warp -5.50 % weft -3.00 %'
    """
    parts = [
        job,
        f"condition {condition_digest.rsplit(':', 1)[-1][:8]}",
        "inks " + " ".join(ink_names),
        f"finished {finished_w_mm:.1f} x {finished_h_mm:.1f} mm",
        f"warp {warp_percent:+.2f} % weft {weft_percent:+.2f} %",
    ]
    return " | ".join(parts + ([date] if date else []))


@lru_cache(maxsize=4)
def slug_bitmap(text: str, width_mm: float, dpi_x: float, dpi_y: float) -> NDArray[np.bool_]:
    """Return the slug as dots at press pitch, at most ``width_mm`` wide and SLUG_MM high.

    An arrow at the left points to the first row: the end that leaves the press first. Letters
    that the built-in font lacks lose their accents or become question marks.

    Parameters
    ----------
    text : str
        One line.
    width_mm : float
        Room across. [mm]
    dpi_x, dpi_y : float
        Addressability. [dots per inch]

    Returns
    -------
    ndarray, shape (rows, columns)
        True where ink falls; read-only.

    Raises
    ------
    UsageError
        When the line does not fit even in letters 2 mm high.
    """
    from PIL import Image, ImageDraw, ImageFont

    line = "".join(_plain_letter(letter) for letter in unicodedata.normalize("NFKD", text))
    dpi = max(dpi_x, dpi_y)
    rows, room = round(SLUG_MM * dpi / MM_PER_INCH), round(width_mm * dpi / MM_PER_INCH)
    arrow = rows
    size_mm = _TEXT_MM
    while True:
        font = ImageFont.load_default(size_mm * dpi / MM_PER_INCH)
        length = int(np.ceil(font.getlength(line)))
        if arrow * 3 // 2 + length <= room:
            break
        size_mm -= 0.25
        if size_mm < _SMALLEST_TEXT_MM:
            raise UsageError(
                "slug text is too long for the roll",
                found=f"{len(line)} letters",
                advice="Shorten the job name",
            )
    image = Image.new("1", (arrow * 3 // 2 + length, rows))
    draw = ImageDraw.Draw(image)
    top, middle, bottom = rows // 16, arrow // 2, rows - rows // 16
    draw.polygon([(middle, top), (arrow - top, rows // 2), (top, rows // 2)], fill=1)
    draw.rectangle([middle - rows // 10, rows // 2, middle + rows // 10, bottom], fill=1)
    draw.text((arrow * 3 // 2, rows // 2), line, fill=1, font=font, anchor="lm")
    size = (max(1, round(image.width * dpi_x / dpi)), max(1, round(rows * dpi_y / dpi)))
    bitmap = np.array(
        image if size == image.size else image.resize(size, Image.Resampling.NEAREST), dtype=bool
    )
    bitmap.setflags(write=False)
    return bitmap


def _plain_letter(letter: str) -> str:
    if unicodedata.combining(letter):
        return ""
    return letter if letter.isascii() and letter.isprintable() else "?"
