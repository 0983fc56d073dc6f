"""PDF pages to planes: plates as the standard and another interpreter say, spaces, boxes, hostile files."""

import subprocess
import zlib
from pathlib import Path

import numpy as np
import pytest
from pdf_files import MORE, PATCHES, RESOURCES, XOBJECTS, page, separation, stream
from PIL import Image

from strikeoff.artwork.colour import profile_to_lab, srgb_to_lab
from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.pdf_process import WorkerLimits
from strikeoff.artwork.pdf_wish import PageWish
from strikeoff.base.errors import InputError, UsageError

pytest.importorskip("pymupdf")

SMALL = WorkerLimits(seconds=2.0, memory_bytes=1 << 30)

# ISO 32000-1, 8.6.6 (Separation, DeviceN), 11.7.4 (overprint), 11.3.3 (alpha); percent of C M Y K, Orange,
# Green Deep. In the grid grey lies on black, 10.3.5.
EXPECTED = {
    "cmyk": (20, 40, 60, 10, 0, 0),
    "grey": (0, 0, 0, 30, 0, 0),
    "spot": (0, 0, 0, 0, 80, 0),
    "spot knocks out process": (0, 0, 0, 0, 50, 0),
    "process knocks out spot": (20, 0, 0, 0, 0, 0),
    "spot overprints process": (20, 40, 60, 10, 50, 0),
    "process overprints spot": (30, 0, 10, 0, 50, 0),
    "mode 0 knocks out zero": (0, 0, 50, 0, 0, 0),
    "mode 1 keeps under zero": (20, 40, 50, 0, 0, 0),
    "alpha": (40, 20, 0, 20, 0, 0),
    "alpha of a spot": (20, 0, 0, 0, 40, 0),
    "two spots": (0, 0, 0, 0, 30, 70),
    "process and spot": (60, 0, 0, 0, 25, 0),
    "spot over spot": (0, 0, 0, 0, 50, 70),
    "every plate": (40, 40, 40, 40, 40, 40),
    "black by name": (0, 0, 0, 60, 0, 0),
    "soft mask": (10, 0, 0, 0, 40, 0),
    "multiply": (70, 60, 0, 0, 0, 0),
    "multiply a spot": (40, 20, 0, 0, 50, 0),
    "image of two colours": (50, 0, 0, 0, 25, 0),
    "knockout group": (0, 40, 15, 0, 0, 0),
    # The pixel that is read has its middle at 18.5 of 36.
    "shading": (51.4, 0, 25.7, 0, 0, 0),
    "shading of a spot": (0, 0, 0, 0, 51.4, 0),
}


def grid():
    """All patches on one page, five in a row, each 36 points wide."""
    content = b""
    for at, patch in enumerate(PATCHES.values()):
        place = b"0.25 0 0 0.25 %d %d cm" % (36 * (at % 5), 36 * (at // 5))
        content += b"q " + place + b" 0 0 144 144 re W n " + patch + b" Q "
    return page(content, RESOURCES + XOBJECTS, size=(180, 180), more=MORE)


def middles(plates):
    """Return the value of each patch, shape (patches, planes), of plates at 72 dots per inch."""
    return np.array([plates[179 - (36 * (at // 5) + 18), 36 * (at % 5) + 18] for at in range(len(PATCHES))])


def opened(tmp_path, data, **wish):
    (tmp_path / "a.pdf").write_bytes(data)
    return open_artwork(tmp_path / "a.pdf", wish=PageWish(**({"dpi": (72, 72)} | wish)))


def whole(artwork):
    return artwork.planes.read(0, artwork.height)


def told(artwork):
    return " | ".join(map(str, artwork.problems))


def test_plates_are_as_the_standard_says(tmp_path):
    artwork = opened(tmp_path, grid())
    assert (artwork.kind, artwork.named) == ("cmyk", ("Orange", "Green Deep"))
    found = middles(whole(artwork)) / 2.55
    for at, name in enumerate(PATCHES):
        np.testing.assert_allclose(found[at], EXPECTED[name], atol=1.0, err_msg=name)


@pytest.mark.debian
def test_plates_equal_those_of_another_interpreter(tmp_path):
    try:
        subprocess.run(["gs", "--version"], capture_output=True, check=True)
    except OSError:
        pytest.skip("Ghostscript is absent: install Debian's ghostscript")
    ours = middles(whole(opened(tmp_path, grid()))) / 2.55
    command = "gs -q -dNOPAUSE -dBATCH -dSAFER -sDEVICE=tiffsep -r72 -dMaxSpots=8 -sOutputFile="
    subprocess.run([*command.split()[:-1], f"-sOutputFile={tmp_path}/o.tif", f"{tmp_path}/a.pdf"], check=True)
    theirs = []
    for plate in ("Cyan", "Magenta", "Yellow", "Black", "Orange", "Green Deep"):
        with Image.open(tmp_path / f"o({plate}).tif") as image:
            theirs.append(100 - np.asarray(image) / 2.55)
    np.testing.assert_allclose(ours, middles(np.stack(theirs, axis=-1)), atol=1.0)


def test_bands_equal_the_whole_page(tmp_path):
    artwork = opened(tmp_path, grid(), dpi=(100, 150))
    assert (artwork.width, artwork.height) == (250, 375)
    all_at_once = whole(artwork)
    for y0, y1 in ((365, 375), (0, 40), (36, 75), (5, 5)):
        np.testing.assert_array_equal(artwork.planes.read(y0, y1), all_at_once[y0:y1])
    # The interpreter rounds gradients by a pixel where it starts anew, so blocks are as high as the
    # page's size says, whatever is asked for; smaller ones differ there only.
    inner = artwork.planes.inner if hasattr(artwork.planes, "inner") else artwork.planes
    object.__setattr__(inner, "block_rows", 37)
    inner._kept.clear()
    for y0, y1 in ((365, 375), (0, 40), (36, 75), (5, 5)):
        off = artwork.planes.read(y0, y1).astype(int) - all_at_once[y0:y1]
        assert np.abs(off).max(initial=0) <= 6
    assert artwork.source.read(3, 90).shape == (87, 250, 4)


def test_grey_and_named_colours_alone_need_no_profile(tmp_path):
    artwork = opened(
        tmp_path, page(b"0.2 g 0 0 72 144 re f " + PATCHES["spot over spot"].replace(b"0 0 144", b"72 0 72"),
                       RESOURCES, more=MORE))  # fmt: skip
    assert (artwork.kind, artwork.profile_origin) == ("grey", "assumed sRGB grey curve")
    np.testing.assert_allclose(whole(artwork)[72, 36] / 2.55, (20, 0, 0), atol=0.5)
    np.testing.assert_allclose(whole(artwork)[72, 108] / 2.55, (100, 50, 70), atol=0.5)


def icc(name):
    import imagecodecs

    return imagecodecs.cms_profile(name)


def test_rgb_stays_rgb_in_its_own_profile(tmp_path):
    profile = icc("adobergb")
    content = b"/W cs 0.1 1 0.2 scn 0 0 144 144 re f"
    more = {11: stream(profile, b"/N 3")}
    group = b"/Group << /S /Transparency /CS /DeviceCMYK >>"
    for entries in (b"", group):
        artwork = opened(
            tmp_path, page(content, b"/ColorSpace << /W [/ICCBased 11 0 R] >>", entries, more=more)
        )
        assert (artwork.kind, artwork.profile, artwork.profile_origin) == ("rgb", profile, "embedded")
        np.testing.assert_allclose(whole(artwork)[72, 72] / 255, (0.1, 1, 0.2), atol=0.003)
    assert "blending in another space" in told(artwork)


def test_plain_rgb_is_srgb_and_says_so(tmp_path):
    artwork = opened(tmp_path, page(b"0 1 0 rg 0 0 144 144 re f"))
    assert (artwork.kind, artwork.profile, artwork.profile_origin) == ("rgb", None, "assumed sRGB")
    assert "taken for sRGB" in told(artwork)
    assert whole(artwork)[72, 72].tolist() == [0, 255, 0]


def test_several_spaces_meet_in_a_wide_one(tmp_path):
    # A saturated green of a wide profile, a Lab colour outside sRGB and a plain red, all kept within 1.5.
    content = (
        b"/W cs 0 1 0 scn 0 0 48 144 re f 1 0 0 rg 48 0 48 144 re f /L cs 60 -80 20 scn 96 0 48 144 re f"
    )
    spaces = (
        b"/ColorSpace << /W [/ICCBased 11 0 R] /L [/Lab << /WhitePoint [0.9642 1 0.8249]"
        b" /Range [-128 127 -128 127] >>] >>"
    )
    artwork = opened(tmp_path, page(content, spaces, more={11: stream(icc("adobergb"), b"/N 3")}))
    assert artwork.profile_origin == "several spaces, kept in a wide RGB"
    row = whole(artwork)[72, [24, 72, 120]] / 255
    lab = profile_to_lab(artwork.profile, "rgb", row)
    expected = [
        profile_to_lab(icc("adobergb"), "rgb", [[0, 1, 0]])[0],
        srgb_to_lab([1, 0, 0]),
        (60, -80, 20),
    ]
    np.testing.assert_allclose(lab, expected, atol=1.5)


def test_cmyk_takes_the_output_intent_and_numbers_pass(tmp_path, smoothed_profile):
    more = {11: stream(smoothed_profile, b"/N 4")}
    catalog = (
        b"/OutputIntents [<< /Type /OutputIntent /S /GTS_PDFX /OutputConditionIdentifier (x)"
        b" /DestOutputProfile 11 0 R >>]"
    )
    content = b"0.2 0.4 0.6 0.1 k 0 0 72 144 re f 0 0 1 rg 72 0 72 144 re f"
    artwork = opened(tmp_path, page(content, more=more, catalog=catalog))
    assert (artwork.profile_origin, artwork.profile) == ("output intent", smoothed_profile)
    np.testing.assert_allclose(whole(artwork)[72, 36] / 2.55, (20, 40, 60, 10), atol=0.5)
    assert "turned into CMYK" in told(artwork)
    lab = profile_to_lab(smoothed_profile, "cmyk", whole(artwork)[72, 108:109] / 255)
    assert lab[0, 2] < -30


def test_cmyk_without_a_profile_can_be_given_one(tmp_path, smoothed_profile):
    (tmp_path / "p.icc").write_bytes(smoothed_profile)
    (tmp_path / "a.pdf").write_bytes(page(b"0.2 0.4 0.6 0.1 k 0 0 144 144 re f"))
    bare = open_artwork(tmp_path / "a.pdf", wish=PageWish(dpi=(72, 72)))
    assert (bare.profile, bare.profile_origin) == (None, "none")
    assert "no known colour" in told(bare)
    given = open_artwork(tmp_path / "a.pdf", wish=PageWish(dpi=(72, 72)), assume_profile=tmp_path / "p.icc")
    assert given.profile_origin == "assumed: p.icc"
    np.testing.assert_allclose(whole(given)[72, 72] / 2.55, (20, 40, 60, 10), atol=0.5)


@pytest.mark.parametrize(
    ("entries", "box", "size_mm"),
    [
        (b"", "trim", (50.8, 50.8)),
        (b"/TrimBox [36 36 108 144]", "trim", (25.4, 38.1)),
        (b"/TrimBox [36 36 108 144] /BleedBox [30 30 114 144]", "bleed", (29.63, 40.22)),
        (b"/CropBox [0 0 72 144]", "trim", (25.4, 50.8)),
        (b"/CropBox [0 0 72 144]", "media", (50.8, 50.8)),
        (b"/UserUnit 10", "trim", (508, 508)),
        (b"/Rotate 90 /TrimBox [36 36 108 144]", "trim", (38.1, 25.4)),
    ],
)
def test_page_boxes_scale_and_turning(tmp_path, entries, box, size_mm):
    # ISO 32000-1, 14.11.2 and table 30: boxes default to the crop box and that to the media box.
    artwork = opened(tmp_path, page(b"0 g 36 36 10 10 re f", entries=entries), box=box, dpi=(144, 144))
    found = [n / dpi * 25.4 for n, dpi in zip((artwork.width, artwork.height), artwork.dpi, strict=True)]
    np.testing.assert_allclose(found, size_mm, atol=0.1)
    assert whole(artwork).min() == 0


def test_box_holds_what_lies_in_it(tmp_path):
    artwork = opened(
        tmp_path, page(b"0 g 36 36 72 108 re f 0.5 g 36 36 36 54 re f", entries=b"/TrimBox [36 36 108 144]")
    )
    values = whole(artwork)[..., 0]
    assert values.shape == (108, 72)
    assert (values[60:, 2:34] // 10 == 12).all(), "lower left quarter is grey"
    assert values[:50].max() == 0
    assert values[60:, 40:].max() == 0


def test_type_and_lines_come_at_press_pitch(tmp_path):
    # A hairline of 0.1 mm covers its share of the pixels: width by height of what is dark.
    artwork = opened(tmp_path, page(b"0.28346 w 20 0 m 20 144 l S"), dpi=(600, 300))
    dark = 255 - whole(artwork)[300, :, 0].astype(float)
    assert dark.sum() / 255 * 25.4 / 600 == pytest.approx(0.1, abs=0.01)


def test_named_colours_in_their_alternates_when_asked(tmp_path):
    data = page(b"/Orange cs 1 scn 0 0 72 144 re f /Green cs 0.5 scn 72 0 72 144 re f 1 0 0 0 k 0 0 1 1 re f",
                RESOURCES, more=MORE)  # fmt: skip
    all_of_them = opened(tmp_path, data, fallback=None)
    assert all_of_them.named == ()
    np.testing.assert_allclose(whole(all_of_them)[72, 36] / 2.55, (0, 50, 100, 0), atol=0.5)
    np.testing.assert_allclose(whole(all_of_them)[72, 108] / 2.55, (50, 0, 50, 0), atol=0.5)
    one = opened(tmp_path, data, fallback=frozenset({"Green Deep"}))
    assert one.named == ("Orange",)
    np.testing.assert_allclose(whole(one)[72, 36] / 2.55, (0, 0, 0, 0, 100), atol=0.5)
    np.testing.assert_allclose(whole(one)[72, 108] / 2.55, (50, 0, 50, 0, 0), atol=0.5)


def test_overprint_of_named_colours_in_rgb_keeps_what_lies_beneath(tmp_path):
    # ISO 32000-1, 11.7.4: the overprinting colourant changes its own plate only; the next one knocks out.
    content = (
        b"1 0 0 rg 0 0 144 144 re f /Green cs 0.25 scn 72 0 72 144 re f"
        b" /OP0 gs /Orange cs 0.5 scn 0 0 144 96 re f /KO gs /Orange cs 0.75 scn 0 0 144 48 re f"
    )
    artwork = opened(tmp_path, page(content, RESOURCES, more=MORE))
    assert (artwork.kind, artwork.named) == ("rgb", ("Orange", "Green Deep"))
    found = whole(artwork)[[24, 72, 120]][:, [36, 108]] / 2.55
    bare, red = (100, 100, 100), (100, 0, 0)
    expected = [
        [(*red, 0, 0), (*bare, 0, 25)],
        [(*red, 50, 0), (*bare, 50, 25)],
        [(*bare, 75, 0), (*bare, 75, 0)],
    ]
    np.testing.assert_allclose(found, expected, atol=0.5)
    assert "overprint" not in told(artwork)


def test_overprinting_rgb_objects_leave_a_warning(tmp_path):
    content = b"1 0 0 rg 0 0 144 144 re f /OP0 gs 0 0.5 1 rg 0 0 72 72 re f /Orange cs 0.5 scn 0 0 9 9 re f"
    artwork = opened(tmp_path, page(content, RESOURCES, more=MORE))
    assert "overprint knock out" in told(artwork)
    assert whole(artwork)[108, 36].tolist() == [0, 127, 255, 0]


def test_page_that_is_not_there_and_wrong_box(tmp_path):
    with pytest.raises(InputError, match="no such page"):
        opened(tmp_path, page(b""), page=2)
    with pytest.raises(UsageError, match="media, crop"):
        opened(tmp_path, page(b""), box="cut")


def nested():
    """Thirty forms, each drawing the next one twice: 2^30 squares in four kilobytes."""
    form = b"/Type /XObject /Subtype /Form /BBox [0 0 144 144] "
    objects = {
        11 + i: stream(b"/F Do /F Do", form + b"/Resources << /XObject << /F %d 0 R >> >>" % (12 + i))
        for i in range(30)
    }
    objects[41] = stream(b"0 g 0 0 9 9 re f", form)
    return page(b"/F Do", b"/XObject << /F 11 0 R >>", more=objects)


def bomb(megabytes):
    """Return so many megabytes of zeros as a flate stream: one full-flushed piece over and over."""
    packer = zlib.compressobj(9)
    head = packer.compress(bytes(1 << 20)) + packer.flush(zlib.Z_FULL_FLUSH)
    piece = packer.compress(bytes(1 << 20)) + packer.flush(zlib.Z_FULL_FLUSH)
    return head + piece * (megabytes - 1) + packer.flush()


def large_image():
    """14.4 GB of samples in a file of 14 MB."""
    data = bomb(14_000)
    image = b"/Type /XObject /Subtype /Image /Width 60000 /Height 60000 /BitsPerComponent 8"
    return page(
        b"144 0 0 144 0 0 cm /I Do",
        b"/XObject << /I 11 0 R >>",
        more={11: stream(data, image + b" /ColorSpace /DeviceCMYK /Filter /FlateDecode")},
    )


def spots(count, name=b"Spot%d"):
    names = [name % i if b"%d" in name else name for i in range(count)]
    return page(
        b" ".join(b"/S%d cs 0.5 scn %d 0 1 9 re f" % (i, i) for i in range(count)),
        b"/ColorSpace << " + b" ".join(b"/S%d " % i + separation(n) for i, n in enumerate(names)) + b" >>",
    )


GOOD = page(b"0 g 0 0 99 99 re f")


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (page(b"1 g", entries=b"/UserUnit 72", size=(14400, 14400)), "size out of bounds"),
        (page(b"1 g", size=(115200, 144)), "115200 units"),
        (nested(), "longer than is allowed|more memory|want of memory"),
        (large_image(), "longer than is allowed|more memory|want of memory"),
        (spots(80), "too many separations"),
        (spots(1, b"x" * 300), "300 characters"),
        (spots(1, b"a#0Ab"), "printable"),
        (GOOD[: len(GOOD) // 3], "cannot be interpreted"),
        (b"%PDF-1.7\n" + bytes(range(256)) * 20, "cannot be interpreted"),
    ],
    ids=["14400 inch", "wide", "2^30 forms", "14 GB image", "80 spots", "long", "line end", "cut", "garbage"],
)  # fmt: skip
def test_hostile_files_end_in_one_clear_error(tmp_path, data, says):
    with pytest.raises(InputError, match=says) as caught:
        whole(opened(tmp_path, data, limits=SMALL))
    assert "\n" not in str(caught.value)


def test_form_that_draws_itself_is_harmless(tmp_path):
    form = b"/Type /XObject /Subtype /Form /BBox [0 0 144 144] /Resources << /XObject << /F 11 0 R >> >>"
    data = page(b"/F Do", b"/XObject << /F 11 0 R >>", more={11: stream(b"0 g 0 0 9 9 re f /F Do", form)})
    assert whole(opened(tmp_path, data, limits=SMALL)).min() == 0


def test_flate_bomb_is_bounded(tmp_path):
    data = page(b"", more={4: stream(bomb(16_000), b"/Filter /FlateDecode")})
    with pytest.raises(InputError, match=r"longer|memory"):
        whole(opened(tmp_path, data, limits=WorkerLimits(1.5, 400 << 20)))


def test_worker_that_dies_is_an_input_error(tmp_path):
    artwork = opened(tmp_path, grid())
    inner = artwork.planes.inner
    inner.worker._process.kill()
    with pytest.raises(InputError, match="broke down"):
        inner.read(0, 3)


def test_without_the_package_the_message_names_the_extra(tmp_path, monkeypatch):
    monkeypatch.setattr("strikeoff.artwork.pdf_process.find_spec", lambda name: None)
    with pytest.raises(UsageError, match=r"strikeoff\[pdf\]"):
        opened(tmp_path, GOOD)


def test_interpreter_is_never_loaded_in_this_process():
    import strikeoff.artwork.pdf

    for module in ("pdf.py", "pdf_process.py", "pdf_page.py", "opening.py"):
        text = (Path(strikeoff.artwork.pdf.__file__).parent / module).read_text()
        assert "import pymupdf" not in text
