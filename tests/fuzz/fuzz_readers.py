"""Readers with small sound files to start from; on bad bytes they may raise what is meant for that."""

import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import numpy as np
from pdf_files import MORE, PATCHES, RESOURCES, page
from picture_files import kinds, names, odd_tiff, psd, resolution

from strikeoff.base.errors import InputError, UsageError

#: What a reader may raise on bad bytes: they are bad, or hold nothing that was asked for.
ALLOWED = (InputError, UsageError)


@dataclass(frozen=True)
class Reader:
    """A reader: makes sound files, and reads bytes laid into a folder."""

    seeds: Callable[[], list[bytes]]
    read: Callable[[bytes, Path], object]


def _picture(suffix):
    def read(data, folder):
        from strikeoff.artwork.opening import open_artwork

        path = folder / f"picture{suffix}"
        path.write_bytes(data)
        artwork = open_artwork(path)
        # Sizes are bounded by the bytes, or by bands; some rows from both ends tell.
        rows = min(artwork.height, 64)
        artwork.planes.read(0, rows)
        artwork.planes.read(artwork.height - rows, artwork.height)

    return read


def _art(samples=3, dtype=np.uint8):
    rng = np.random.default_rng(5)
    art = rng.integers(0, np.iinfo(dtype).max, (24, 31, samples)).astype(dtype)
    art[6:14] = 9
    return art


def _tiffs():
    import tifffile

    made = []
    for options in (
        {"photometric": "rgb", "rowsperstrip": 5},
        {"photometric": "rgb", "compression": "lzw", "predictor": True, "tile": (16, 16)},
        {"photometric": "rgb", "compression": "zlib", "planarconfig": "separate"},
        {"photometric": "rgb", "compression": "packbits"},
        {"photometric": "rgb", "compression": "jpeg"},
        {"photometric": "cielab", "compression": "zstd"},
    ):
        buffer = io.BytesIO()
        art = _art()
        tifffile.imwrite(
            buffer, np.moveaxis(art, 2, 0) if "planarconfig" in options else art, metadata=None, **options
        )
        made.append(buffer.getvalue())
    buffer = io.BytesIO()
    words = b"C\0M\0Y\0K\0Coral\0"
    tifffile.imwrite(
        buffer, _art(5), photometric="separated", extrasamples=[0], bigtiff=True, metadata=None,
        extratags=[(332, "H", 1, 2, True), (333, 2, len(words), words, True), (334, "H", 1, 5, True)],
    )  # fmt: skip
    block = names("Mask", "Coral") + kinds(False, True)
    return [
        *made,
        buffer.getvalue(),
        odd_tiff(_art() % 4, 2, 2),
        odd_tiff(_art(5), 8, 2, t338=(3, [0, 0]), t34377=(7, block)),
        odd_tiff(_art(1) % 16, 4, 3, t320=(3, list(range(48)))),
    ]


def _with_pillow(form, **options):
    from PIL import Image

    buffer = io.BytesIO()
    Image.fromarray(_art()).save(buffer, form, **options)
    return buffer.getvalue()


def _jpegs():
    from PIL import Image

    buffer = io.BytesIO()
    Image.fromarray(_art(4), "CMYK").save(buffer, "JPEG")
    exif = Image.Exif()
    exif[0x0112] = 6
    return [
        _with_pillow("JPEG", exif=exif, dpi=(200, 200)),
        _with_pillow("JPEG", progressive=True),
        buffer.getvalue(),
    ]


def _pngs():
    import imagecodecs

    return [_with_pillow("PNG", dpi=(200, 200)), imagecodecs.png_encode(_art(4, np.uint16))]


def _png_in_bands(data, folder):
    from strikeoff.artwork import png

    with mock.patch.object(png, "_LARGE_BYTES", 0):
        _picture(".png")(data, folder)


def _psds():
    art = np.moveaxis(_art(5), 2, 0)
    block = names("Mask", "Coral") + kinds(False, True) + resolution(200)
    return [
        psd(art, 3, resources=block),
        psd(art[:3].astype(np.uint16) * 257, 9, large=True, layer_count=-1),
        psd(art[:4], 4, packed=False),
        psd(art[:1], 2, palette=bytes(range(256)) * 3),
    ]


def _pdfs():
    return [
        page(PATCHES["spot overprints process"] + PATCHES["alpha"], RESOURCES, more=MORE),
        page(PATCHES["two spots"], RESOURCES, b"/TrimBox [9 9 99 99] /UserUnit 2", more=MORE),
    ]


def read_page(data, folder):
    from strikeoff.artwork.opening import open_artwork
    from strikeoff.artwork.pdf import PageWish
    from strikeoff.artwork.pdf_process import WorkerLimits

    path = folder / "page.pdf"
    path.write_bytes(data)
    wish = PageWish(dpi=(20, 20), limits=WorkerLimits(5.0, 1 << 30))
    artwork = open_artwork(path, wish=wish)
    artwork.planes.read(0, min(artwork.height, 64))


def _readings_texts():
    from strikeoff.measurement.iso28178 import format_iso28178
    from strikeoff.measurement.records import ReadingSet

    inks = np.array([[0, 0], [1, 0], [0, 1], [1, 1], [0.5, 0.5]])
    lab = np.array([[92, 0, 1], [50, 60, 0], [80, 0, 70], [45, 40, 40], [66, 20, 20]], dtype=float)
    made = ReadingSet(tuple("ABCDE"), ("2CLR_1", "2CLR_2"), inks, lab=lab)
    text = format_iso28178(made)
    rows = [line.split() for line in text.split("BEGIN_DATA\n")[1].split("\nEND_DATA")[0].splitlines()]
    table = "\n".join(
        ",".join(row) for row in [["SAMPLE_ID", "2CLR_1", "2CLR_2", "LAB_L", "LAB_A", "LAB_B"], *rows]
    )
    return [text.encode(), table.encode()]


def _read_readings(data, folder):
    from strikeoff.measurement.read import parse_readings

    parse_readings(data, source="fuzz")


def _read_file(function):
    def read(data, folder):
        path = folder / "file"
        path.write_bytes(data)
        function()(path)

    return read


def _tolerances():
    from strikeoff.verification.tolerances import default_tolerances_path, read_tolerances

    return read_tolerances, [default_tolerances_path().read_bytes()]


_LIMITS = b"""total_percent = 240
[screen]
dpi = [540, 720]
method = "blue noise"
passes = 4
direction = "both ways"
[[ink]]
name = "C"
role = "process"
limit_percent = 90
drop_pl = [4, 8]
[[ink]]
name = "c"
role = "light"
light_of = "C"
"""


def _press():
    from strikeoff.inks.press_file import read_press

    return read_press


def _resources(data, folder):
    from strikeoff.artwork.image_resources import parse_resources

    parse_resources(data).spots(5)


READERS = {
    "tiff": Reader(_tiffs, _picture(".tif")),
    "jpeg": Reader(_jpegs, _picture(".jpg")),
    "png": Reader(_pngs, _picture(".png")),
    "png-bands": Reader(_pngs, _png_in_bands),
    "psd": Reader(_psds, _picture(".psd")),
    "pdf": Reader(_pdfs, read_page),
    "resources": Reader(lambda: [names("Mask", "Coral") + kinds(False, True) + resolution(200)], _resources),
    "readings": Reader(_readings_texts, _read_readings),
    "tolerances": Reader(lambda: _tolerances()[1], _read_file(lambda: _tolerances()[0])),
    "limits": Reader(lambda: [_LIMITS], _read_file(_press)),
}
