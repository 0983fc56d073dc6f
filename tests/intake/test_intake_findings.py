"""Trap files: every planted fault is found, its picture is there, and sound artwork passes."""

from fractions import Fraction

import numpy as np
import pytest
import tifffile
from pdf_files import MORE, RESOURCES, page, stream
from PIL import Image

from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.pdf_wish import PageWish
from strikeoff.base.errors import InputError, UsageError
from strikeoff.intake.check import findings, look_at
from strikeoff.intake.colour_checks import out_of_gamut_share
from strikeoff.intake.jpeg_checks import jpeg_quality
from strikeoff.intake.records import Wish
from strikeoff.intake.repeat_checks import joins
from strikeoff.raster.lattice import Lattice


def periodic(height=120, width=160, shift=0.0):
    """A smooth repeat in the middle of the gamut."""
    y, x = np.mgrid[:height, :width] / [[[height]], [[width]]] * 2 * np.pi
    wave = np.stack([np.sin(x + y), np.sin(x - y), np.cos(2 * y)], axis=2)
    return np.rint(150 + 30 * wave + shift).astype(np.uint8)


@pytest.fixture(scope="module")
def condition(small_readings):
    return small_readings.condition


def looked(condition, path, finished=(27.0, 20.25), named=None, **wish):
    artwork = open_artwork(path, wish=PageWish((36, 36)))
    subject = look_at(artwork, condition, Wish(finished, **wish), named or {})
    return subject, {finding.topic: finding for finding in findings(subject)}


def saved(path, art, **options):
    import imagecodecs

    options = {"icc_profile": imagecodecs.cms_profile("srgb")} | options
    Image.fromarray(art).save(path, **options)
    return path


def test_sound_artwork_passes(condition, tmp_path):
    path = saved(tmp_path / "a.png", periodic())
    subject, found = looked(condition, path, repeat="straight")
    assert not [f for f in found.values() if f.severity == "error"]
    assert set(found) <= {"gamut", "ink"}
    assert subject.survey.small.shape == (120, 160, 3)


def test_resolution_is_that_of_the_finished_size(condition, tmp_path):
    path = saved(tmp_path / "a.png", periodic(), dpi=(600, 600))
    # 160 pixels on 40 mm are 101.6 to the inch, on 80 mm half of that.
    for width, severity, value in ((20, None, ""), (40, "warning", "102"), (80, "error", "51")):
        finding = looked(condition, path, (width, width * 0.75))[1].get("resolution")
        assert (finding and finding.severity) == severity
        assert finding is None or value in finding.found
    assert "size" not in found_topics(condition, path, (40, 30))
    stretched = looked(condition, path, (40, 31))[1]["size"]
    assert stretched.severity == "error"
    assert "3.2 % along" in stretched.message


def found_topics(condition, path, finished=(27.0, 20.25), **wish):
    return looked(condition, path, finished, **wish)[1]


@pytest.mark.parametrize(
    ("kind", "cut", "breaks"),
    [
        ("straight", "none", set()),
        ("straight", "right", {"across"}),
        ("straight", "below", {"along"}),
        ("half-drop", "none", {"across"}),
        ("half-drop", "half-drop", set()),
        ("brick", "brick", set()),
        ("brick", "none", {"along"}),
    ],
)
def test_seams_of_a_repeat(condition, tmp_path, kind, cut, breaks):
    art = periodic()
    if cut == "right":
        art = art[:, :-23]
    elif cut == "below":
        art = art[:-17]
    elif cut in ("half-drop", "brick"):
        # Artwork of two halves: what meets its edge lies half a repeat further along or across.
        y, x = np.mgrid[:120, :160] / [[[120]], [[160]]] * 2 * np.pi
        phase = y + x / 2 if cut == "half-drop" else x + y / 2
        wave = np.stack([np.sin(phase), np.cos(phase), np.sin(phase + 1)], axis=2)
        art = np.rint(150 + 30 * wave).astype(np.uint8)
    subject, found = looked(condition, saved(tmp_path / "a.png", art), repeat=kind)
    assert {join.name for join in joins(subject) if join.shows} == breaks
    assert ("repeat" in found) == bool(breaks)
    if breaks:
        assert found["repeat"].picture.shape[2] == 3


LATTICES = [
    Lattice("drop", Fraction(1, 3)),
    Lattice("drop", Fraction(2, 3)),
    Lattice("brick", Fraction(1, 4)),
    Lattice("drop", Fraction(1, 2), "across"),
    Lattice("brick", Fraction(1, 2), "along"),
    Lattice(mirror="both"),
    Lattice(turned=True),
    Lattice("drop", Fraction(1, 2), turned=True),
    Lattice("brick", Fraction(1, 3), turned=True),
]


@pytest.mark.parametrize("lattice", LATTICES, ids=lambda lattice: lattice.name)
def test_joins_are_those_of_tiles_that_are_laid_out(condition, tmp_path, lattice):
    """The lattice is laid out pixel by pixel; jumps over the joins of two cells are read off there."""
    art = np.random.default_rng(4).integers(60, 200, (48, 72, 3), np.uint8)
    subject, _ = looked(condition, saved(tmp_path / "a.png", art), repeat=lattice)
    high, wide = art.shape[:2]
    share = lattice.share

    def pixel(x, y):
        column, row = x // wide, y // high
        if lattice.offset == "drop":
            y -= round(column * share * high)
            row = y // high
        if lattice.offset == "brick":
            x -= round(row * share * wide)
            column = x // wide
        x, y = x % wide, y % high
        across, along = lattice.flips(column, row)
        return art[high - 1 - y if along else y, wide - 1 - x if across else x].astype(float)

    cells = range(2 if lattice.turned or lattice.mirror != "none" else 1)
    drop = [round(c * share * high) if lattice.offset == "drop" else 0 for c in cells]
    brick = [round(c * share * wide) if lattice.offset == "brick" else 0 for c in cells]
    across = [(c * wide + wide - 1, y + drop[c], 1, 0) for c in cells for y in range(high)]
    along = [(x + brick[c], c * high + high - 1, 0, 1) for c in cells for x in range(wide)]
    for join, places in zip(joins(subject), (across, along), strict=True):
        jumps = [np.abs(pixel(x, y) - pixel(x + dx, y + dy)) for x, y, dx, dy in places]
        usual = {"across": subject.survey.across_jumps, "along": subject.survey.along_jumps}[join.name]
        expected = np.mean(jumps) / 255 / max(np.percentile(usual, 99), 1e-3)
        assert join.over_inside == pytest.approx(expected, abs=1e-9), join.name


def test_a_stripe_has_joins_in_its_own_direction_only(condition, tmp_path):
    art = periodic()[:, :-23]
    path = saved(tmp_path / "a.png", art)
    subject, found = looked(condition, path, repeat=Lattice(repeats="along"))
    assert [join.name for join in joins(subject)] == ["along"]
    assert "repeat" not in found
    subject, found = looked(condition, path, repeat=Lattice(repeats="across"))
    assert [join.name for join in joins(subject)] == ["across"]
    assert "repeat" in found


def test_gamut_share_counts_what_the_inks_do_not_reach(condition, tmp_path):
    art = np.full((100, 100, 3), 150, np.uint8)
    art[:25] = (0, 255, 0)
    subject, found = looked(condition, saved(tmp_path / "a.png", art), (17, 17))
    assert out_of_gamut_share(subject) == pytest.approx(0.25)
    assert "25.0 %" in found["gamut"].message
    assert "duller" in found["gamut"].message
    marked = (found["gamut"].picture == (255, 0, 200)).all(axis=2)
    assert marked[:24].all()
    assert not marked[26:].any()


def test_ink_load_is_at_most_the_limit_and_mapped(condition, tmp_path):
    art = np.zeros((60, 60, 3), np.uint8)
    art[30:] = 250
    subject, found = looked(condition, saved(tmp_path / "a.png", art), (10, 10))
    assert subject.need.total.max() <= condition.limits.total * 1.001
    assert "ink" in found
    assert found["ink"].picture[5, 5].sum() < found["ink"].picture[50, 5].sum()


def test_profiles_missing_and_strange(condition, tmp_path):
    from strikeoff.icc.matrix import matrix_profile

    tifffile.imwrite(tmp_path / "c.tif", np.zeros((20, 20, 4), np.uint8), photometric="separated")
    subject, found = looked(condition, tmp_path / "c.tif", (3, 3))
    assert found["profile"].severity == "error"
    assert (subject.need, out_of_gamut_share(subject)) == (None, None)
    Image.fromarray(periodic()).save(tmp_path / "s.png")
    assert found_topics(condition, tmp_path / "s.png")["profile"].severity == "warning"
    primaries = [[0.4361, 0.2225, 0.0139], [0.3851, 0.7169, 0.0971], [0.1431, 0.0606, 0.7141]]
    linear = matrix_profile(version=2, primaries=primaries, gamma=1.0, description="x", copyright_text="x",
                            date=(2024, 1, 1, 0, 0, 0))  # fmt: skip
    path = saved(tmp_path / "l.png", periodic(), icc_profile=linear)
    assert "lightness of 76" in found_topics(condition, path)["profile"].message


@pytest.mark.parametrize(("quality", "severity"), [(95, None), (70, "warning"), (30, "error")])
def test_jpeg_that_was_pressed_hard(condition, tmp_path, quality, severity):
    path = saved(tmp_path / "a.jpg", periodic(), quality=quality)
    finding = found_topics(condition, path).get("JPEG")
    assert (finding and finding.severity) == severity


@pytest.mark.parametrize("quality", [20, 50, 75, 90])
def test_jpeg_quality_is_what_the_encoder_was_told(tmp_path, quality):
    saved(tmp_path / "a.jpg", periodic(), quality=quality)
    with Image.open(tmp_path / "a.jpg") as image:
        assert jpeg_quality(np.array(image.quantization[0])) == pytest.approx(quality, abs=1.5)


def trap():
    """A page of 100 x 100 mm with one fault of each kind that pages have."""
    image = stream(periodic(8, 8).tobytes(), b"/Type /XObject /Subtype /Image /Width 8 /Height 8"
                   b" /BitsPerComponent 8 /ColorSpace /DeviceRGB")  # fmt: skip
    font = b"/Font << /F1 << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >>"
    content = (
        b"0.5 0.6 0.7 rg 0 0 283.46 283.46 re f q 72 0 0 72 10 10 cm /I Do Q"
        b" 0 0 0 RG 0.3 w 150 50 m 250 90 l S 5 w 150 70 m 250 110 l S"
        b" 200 20 40 0.4 re f"
        b" BT /F1 4 Tf 20 200 Td (small) Tj ET BT /F1 30 Tf 20 240 Td (large) Tj ET"
        b" /Orange cs 0.9 scn 120 200 60 60 re f"
        b" /OP1 gs 1 g 30 120 50 50 re f"
    )
    resources = RESOURCES + font + b" /XObject << /I 11 0 R >>"
    return page(content, resources, size=(283.46, 283.46), more=MORE | {11: image})


def test_trap_page_loses_no_fault(condition, tmp_path):
    pytest.importorskip("pymupdf")
    (tmp_path / "t.pdf").write_bytes(trap())
    _, found = looked(condition, tmp_path / "t.pdf", (100, 100), bleed_mm=3)
    severities = {topic: finding.severity for topic, finding in found.items()}
    assert severities | {"gamut": "", "ink": ""} == {
        "resolution": "error", "named colours": "error", "overprint": "error", "fonts": "error",
        "bleed": "error", "profile": "warning", "thin lines": "warning", "small type": "warning",
        "gamut": "", "ink": "",
    }  # fmt: skip
    for finding in found.values():
        assert finding.fix
        assert finding.picture is not None
        assert finding.caption
    # 8 pixels on an inch; a stroke and a sliver; 4 points are 1.41 mm.
    assert "8 x 8" in found["resolution"].found
    assert found["thin lines"].found.startswith("2 of them, the thinnest 0.106 mm")
    assert found["small type"].found.startswith("1 pieces, the smallest 1.41 mm")
    # Marks lie where the faults are: the white square at 30-80 points across, 113-163 from the top.
    marked = np.argwhere((found["overprint"].picture == (255, 0, 200)).all(axis=2))
    size = found["overprint"].picture.shape[0]
    np.testing.assert_allclose(marked.min(axis=0) / size * 283.46, (113, 30), atol=12)
    np.testing.assert_allclose(marked.max(axis=0) / size * 283.46, (163, 80), atol=12)


def test_faults_of_a_page_scale_with_the_goods(condition, tmp_path):
    pytest.importorskip("pymupdf")
    (tmp_path / "t.pdf").write_bytes(trap())
    topics = found_topics(condition, tmp_path / "t.pdf", (1000, 1000))
    assert not {"thin lines", "small type"} & set(topics)
    assert topics["size"].severity == "note"
    assert "10 times" in topics["size"].message
    inches = found_topics(condition, tmp_path / "t.pdf", (2540, 2540))
    assert "inches taken for millimetres" in inches["size"].message


def test_bleed_and_named_ink_that_are_there(condition, tmp_path):
    pytest.importorskip("pymupdf")
    boxes = b"/TrimBox [20 20 120 120] /BleedBox [10 10 130 130]"
    (tmp_path / "b.pdf").write_bytes(
        page(b"/Orange cs 0.5 scn 0 0 144 144 re f", RESOURCES, boxes, more=MORE)
    )
    mm = 100 / 72 * 25.4
    _, found = looked(condition, tmp_path / "b.pdf", (mm, mm), {"Orange": 2}, bleed_mm=3.5)
    assert "bleed" not in found
    assert found["named colours"].severity == "note"
    assert "100.0 %" in found["named colours"].message
    solid = condition.native.lab(np.array([[0.0, 0.0, 1.0]]))[0]
    assert found["named colours"].found.startswith(f"full tone L* {solid[0]:.0f}")
    assert "bleed" in found_topics(condition, tmp_path / "b.pdf", (mm, mm), bleed_mm=3.6)


def test_wishes_that_cannot_be():
    with pytest.raises(UsageError, match="half-drop"):
        Wish((10, 10), repeat="third-drop")
    with pytest.raises(InputError, match="finished size"):
        Wish((0, 10))
    with pytest.raises(InputError, match="limit"):
        Wish((10, 10), least_ppi=float("nan"))
