"""How hard a JPEG was pressed."""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.files import read_bytes
from strikeoff.intake.pictures import enlarged
from strikeoff.intake.records import Finding
from strikeoff.intake.subject import Subject

_MAX_BYTES = 2 << 30
# Common practice, no source: below the first blocks may show, below the second they do.
_GOOD, _BAD = 80, 50
# ITU-T T.81 table K.1, in rows; at quality 50 of the usual scale it is used as it is.
_LUMA = np.array(
    [
        16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56,
        14, 17, 22, 29, 51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92,
        49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
    ]
)  # fmt: skip


def jpeg_quality(table: NDArray[np.int64]) -> float:
    """Return the quality, 1-100, at which a usual encoder would have used a luminance table.

    Parameters
    ----------
    table : ndarray of int, shape (64,)
        Quantisation, in any order.

    References
    ----------
    ITU-T T.81 table K.1; the scale of the usual encoders: percent = 5000 / q below 50, else 200 - 2 q.

    Examples
    --------
    >>> jpeg_quality(_LUMA), round(jpeg_quality(_LUMA * 2)), round(jpeg_quality(_LUMA // 5))
    (50.0, 25, 90)
    """
    percent = 100.0 * float(np.sum(table)) / float(_LUMA.sum())
    quality = 5000.0 / percent if percent > 100 else (200.0 - percent) / 2.0
    return float(np.clip(quality, 1.0, 100.0))


def jpeg_findings(subject: Subject) -> list[Finding]:
    """Say what compression has cost; nothing for other formats."""
    table = _luma_table(subject.artwork.path)
    if table is None:
        return []
    quality = jpeg_quality(table)
    if quality >= _GOOD:
        return []
    picture = _busiest(subject)
    return [
        Finding(
            "JPEG",
            "error" if quality < _BAD else "warning",
            "the picture was compressed hard: blocks of eight pixels and fringes "
            + ("will show" if quality < _BAD else "may show"),
            "Ask for it as TIFF or PNG, or as JPEG of the highest quality, from the original",
            found=f"quality about {quality:.0f}",
            expected=f"{_GOOD} or more",
            picture=picture,
            caption="Pixels at the edge, enlarged, where they differ most",
        )
    ]


def _luma_table(path: str) -> NDArray[np.int64] | None:
    with open(path, "rb") as stream:
        if stream.read(3) != b"\xff\xd8\xff":
            return None
    from PIL import JpegImagePlugin

    image = JpegImagePlugin.JpegImageFile(io.BytesIO(read_bytes(path, _MAX_BYTES)))
    tables = image.quantization
    return np.asarray(tables[min(tables)], dtype=np.int64) if tables else None


def _busiest(subject: Subject) -> NDArray[np.uint8]:
    from strikeoff.intake.colours import display_lab
    from strikeoff.intake.pictures import shown

    edge = subject.survey.top
    size = min(edge.shape[0], edge.shape[1], 64)
    starts = range(0, max(1, edge.shape[1] - size), max(1, size // 2))
    busiest = max(starts, key=lambda x: float(edge[:size, x : x + size].std()))
    return enlarged(shown(display_lab(subject.artwork, edge[:size, busiest : busiest + size])), 384)
