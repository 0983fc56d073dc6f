"""Readers with small sound files to start from; on bad bytes they may raise what is meant for that."""

import io
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
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
    from strikeoff.artwork.pdf_process import WorkerLimits
    from strikeoff.artwork.pdf_wish import PageWish

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
full_name = "light cyan"
lot = "7"
[press]
name = "T1"
width_mm = 1850
[ink_set]
class = "reactive"
[cloth]
name = "satin"
mass_g_m2 = 135
optical_brightener = "no"
[finishing.warp]
change_percent = -5.5
interval_90_percent = [-6, -5]
[[finishing.step]]
process = "steaming"
temperature_c = 102
minutes = 10
[validity]
from = 2031-03-01
days = 180
"""


def _press():
    from strikeoff.inks.press_file import read_press

    return read_press


def _resources(data, folder):
    from strikeoff.artwork.image_resources import parse_resources

    parse_resources(data).spots(5)


@lru_cache(maxsize=1)
def _condition():
    """Return the bytes of a small condition: two inks, no error figures, no profiles."""
    from strikeoff.condition.archive import condition_bytes
    from strikeoff.measurement.iso28178 import format_iso28178
    from strikeoff.measurement.read import parse_readings
    from strikeoff.measurement.records import ReadingSet
    from strikeoff.qualify.build import build_condition

    rng = np.random.default_rng(0)
    inks = np.vstack([np.zeros(2), np.eye(2), np.ones(2), rng.random((36, 2))]).round(3)
    lab = np.array([92.0, 0.0, 1.0]) - inks @ np.array([[40.0, -50.0, 10.0], [12.0, 5.0, -60.0]])
    made = ReadingSet(tuple(f"P{i}" for i in range(len(inks))), ("2CLR_1", "2CLR_2"), inks, lab=lab)
    data = format_iso28178(made).encode()
    readings = parse_readings(data, source="made")[0]
    return condition_bytes(
        build_condition(readings, data, name="made", label="simulated", total_ink=1.5, validated=False)
    )


def _members(data):
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def _packed(members):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return buffer.getvalue()


def _member(whole, name, read):
    """Return a reader of one member inside an archive that is otherwise sound."""
    seeds = lambda: [_members(whole())[name]]  # noqa: E731
    return Reader(seeds, lambda data, folder: read(_packed(_members(whole()) | {name: data}), folder))


def _condition_file():
    from strikeoff.condition.archive import read_condition

    return read_condition


def _light_file():
    from strikeoff.measurement.light_file import read_light

    return read_light


_LIGHT = b"wavelength_nm,power\n" + b"".join(b"%d,%d\n" % (nm, nm // 4) for nm in range(380, 740, 10))


@lru_cache(maxsize=1)
def _spots():
    from strikeoff.spot.compiled import SpotPrint, SpotTables, write_spots
    from strikeoff.spot.tints import STEPS

    table = np.linspace(0, 60000, STEPS + 1).astype(np.uint16)
    printed = SpotPrint("D50", "2", (60.0, 35.0, 20.0), (61.0, 35.0, 20.0), 0.9, {"A": 1.4})
    tables = SpotTables(
        ("Coral",), ("C", "M"), np.stack([table, table // 2], axis=1)[None], "c", "b", (printed,)
    )
    with tempfile.TemporaryDirectory() as folder:
        write_spots(Path(folder) / "a.spots", tables)
        return (Path(folder) / "a.spots").read_bytes()


def _spots_file():
    from strikeoff.spot.compiled import read_spots

    return read_spots


_BOOK = b"""name = "Autumn"
[[colour]]
name = "Coral 12"
lab = [60, 35, 20]
tint = [[0, 0], [50, 42], [100, 100]]
[[colour]]
name = "Line"
ink = "Orange"
limit_percent = 80
"""


def _book_file():
    from strikeoff.spot.book import read_book

    return read_book


_PALETTE = b"""schema = "strikeoff/palette/2"
mixing = "linear"
noise_percent = 0.2
[[colour]]
name = "ground"
lab = [92.5, -1, 4]
[[colour]]
name = "leaf"
hex = "#2a9d8f"
"""

_COLOURWAY = b"""name = "Frost"
[[colour]]
from = "ground"
lab = [90, 0, -3]
[[colour]]
from = "leaf"
recipe_percent = {C = 20, M = 5}
"""


def _palette_file():
    from strikeoff.artwork.palette_file import read_palette

    return read_palette


def _read_colourways(suffix):
    from strikeoff.spot.colourway import read_colourways

    def read(data, folder):
        path = folder / f"way{suffix}"
        path.write_bytes(data)
        read_colourways(path, ("ground", "leaf"))

    return read


_LAYOUT = b"""{"schema": "strikeoff/layout/1", "width_mm": 1500, "margin_mm": 10, "warp_percent": -5.5,
"weft_percent": -3, "placements": [
{"code": "cloth", "x_mm": 0, "y_mm": 0, "width_mm": 1400, "height_mm": 2000, "artwork": "fern", "repeat":
{"size_mm": [320, 240.5], "kind": "drop", "offset": "1/3", "origin_mm": [-20, 1e2]}},
{"code": "A", "x_mm": 10, "y_mm": 2020, "width_mm": 200, "height_mm": 400, "artwork": "moss.tif",
"bleed_mm": 3, "turn_degrees": 90, "mirror": true, "crop_mm": [-3, 20, 400, 200], "artwork_mm": [600, 500],
"mirrored_mm": 2, "group": "left", "sequence": 2},
{"code": "stripe", "x_mm": 300, "y_mm": 2020, "width_mm": 50, "height_mm": 400, "repeat":
{"size_mm": [50, 30], "mirror": "along", "only": "along"}}]}
"""


def _read_layout(data, folder):
    from strikeoff.layout.lay import press_grids
    from strikeoff.layout.mark_records import MarkOptions
    from strikeoff.layout.marks import place_marks
    from strikeoff.layout.marks_drawing import marks_svg
    from strikeoff.layout.placement_file import read_layout

    path = folder / "layout.json"
    path.write_bytes(data)
    layout = read_layout(path)
    press_grids(layout, 300, 300)
    marks, _ = place_marks(layout, MarkOptions(("trim", "cutter", "code")))
    marks_svg(layout, marks, "fuzz", 30, 30).encode()


def _profiles():
    from PIL import ImageCms

    return [ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()]


def _read_profile(data, folder):
    from strikeoff.icc.profile import read_profile

    profile = read_profile(data)
    for name in profile.tags:
        if name != "chrm":  # a tag of profiles of others that nothing here needs
            profile.decode(name)


def _read_planes(data, folder):
    from strikeoff.raster.tiff_reader import open_planes

    path = folder / "planes.tif"
    path.write_bytes(data)
    planes = open_planes(path)
    planes.read(0, min(planes.height, 32))


def _planes():
    from strikeoff.raster.bands import ArraySource
    from strikeoff.raster.tiff_writer import write_planes

    made = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.tif"
        for bits, compression in ((16, "deflate"), (1, "packbits"), (2, "zstd"), (8, "none")):
            art = _art(4, np.uint16) if bits == 16 else _art(4) >> (8 - bits)
            info = {"schema": "strikeoff/drops/1"}
            write_planes(path, ArraySource(art), ink_names=list("CMYK"), info=info, bits=bits,
                         compression=compression)  # fmt: skip
            made.append(path.read_bytes())
    return made


_CONDITION = _read_file(_condition_file)
_SPOTS = _read_file(_spots_file)

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
    "condition": Reader(lambda: [_condition()], _CONDITION),
    "condition-record": _member(_condition, "condition.json", _CONDITION),
    "condition-array": _member(_condition, "arrays/recipes.npy", _CONDITION),
    "light": Reader(lambda: [_LIGHT], _read_file(_light_file)),
    "book": Reader(lambda: [_BOOK], _read_file(_book_file)),
    "spots": Reader(lambda: [_spots()], _SPOTS),
    "spots-record": _member(_spots, "spots.json", _SPOTS),
    "palette": Reader(lambda: [_PALETTE], _read_file(_palette_file)),
    "colourway": Reader(lambda: [_COLOURWAY], lambda data, folder: _read_colourways(".toml")(data, folder)),
    "colourways": Reader(
        lambda: [b"from,Frost,Dusk\nground,#f0f4f8,lab 20 5 -20\nleaf,inks C 20 M 5,Deep Sea\n"],
        lambda data, folder: _read_colourways(".csv")(data, folder),
    ),
    "layout": Reader(lambda: [_LAYOUT], _read_layout),
    "profile": Reader(_profiles, _read_profile),
    "planes": Reader(_planes, _read_planes),
}
