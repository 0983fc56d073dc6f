"""What pixels of a page belong to: on made pages whose classes are known.

Painting order, clips and soft masks: ISO 32000-1:2008, 8.2, 8.5.4, 11.6.5. Which class wins where several
make up a pixel, and that transparent objects count as pictures, is a choice of our own: no source.
"""

import numpy as np
import pymupdf
import pytest
from pdf_files import MORE, RESOURCES, page, stream

from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.pdf_wish import PageWish

BARE, GRAPHICS, TEXT, IMAGES = range(4)
WISH = PageWish(dpi=(72.0, 72.0))


def classes(path, wish=WISH):
    artwork = open_artwork(path, wish=wish)
    assert artwork.classes is not None
    return artwork, artwork.classes.read(0, artwork.height)[..., 0]


def written(tmp_path, content, resources=RESOURCES, more=MORE):
    path = tmp_path / "page.pdf"
    path.write_bytes(page(content, resources, more=more))
    return path


@pytest.fixture
def mixed(tmp_path):
    """A picture, a box over its corner, type over both, a line over all."""
    document = pymupdf.open()
    leaf = document.new_page(width=144, height=144)
    picture = pymupdf.Pixmap(pymupdf.csRGB, pymupdf.IRect(0, 0, 32, 32), False)
    picture.set_rect(picture.irect, (200, 50, 20))
    leaf.insert_image(pymupdf.Rect(10, 10, 70, 70), pixmap=picture)
    leaf.draw_rect(pymupdf.Rect(60, 60, 100, 100), color=None, fill=(0, 0.5, 1))
    leaf.insert_text((20, 50), "Hem", fontsize=24, color=(0, 0, 0))
    leaf.draw_line((0, 120), (144, 120), color=(1, 0, 0), width=2)
    path = tmp_path / "mixed.pdf"
    document.save(path)
    return path


def test_each_object_has_its_class_and_the_top_one_the_border(mixed):
    _, codes = classes(mixed)
    assert codes[30:32, 12:16].tolist() == [[IMAGES] * 4] * 2
    assert codes[80, 80] == GRAPHICS
    assert codes[65, 65] == GRAPHICS  # the box lies over the picture
    assert codes[65, 59] == IMAGES
    assert (codes[119:121] == GRAPHICS).all()
    assert codes[130, 5] == BARE
    inside_type = codes[32:51, 20:70]
    assert (inside_type == TEXT).sum() > 150
    assert set(np.unique(codes)) == {BARE, GRAPHICS, TEXT, IMAGES}


def test_a_pixel_that_type_touches_is_types(mixed):
    artwork, codes = classes(mixed)
    drawn = artwork.source.read(30, 52)[:, 20:60].astype(float)
    # Black type on red: how much of the red is gone is how much of the pixel the type covers.
    covered = 1 - drawn[..., 0] / drawn[0, 0, 0]
    codes = codes[30:52, 20:60]
    assert (covered > 0.1).sum() > 150
    assert (codes[covered > 0.1] == TEXT).all()
    assert (codes[covered == 0] == IMAGES).all()


def test_bands_and_pitches_do_not_change_classes(mixed):
    artwork, codes = classes(mixed)
    assert artwork.classes is not None
    pieces = [artwork.classes.read(y, min(y + 7, 144)) for y in range(0, 144, 7)]
    np.testing.assert_array_equal(np.concatenate(pieces)[..., 0], codes)
    finer, big = classes(mixed, PageWish(dpi=(144.0, 72.0)))
    assert big.shape == (144, 288)
    assert (big[80, 160:164] == GRAPHICS).all()
    assert finer.classes is not None
    assert finer.classes.pitch_mm == finer.source.pitch_mm


def test_drawing_classes_leaves_the_page_as_it_was(mixed):
    artwork = open_artwork(mixed, wish=WISH)
    before = artwork.source.read(0, 144).copy()
    assert artwork.classes is not None
    artwork.classes.read(0, 70)
    again = open_artwork(mixed, wish=WISH)
    assert again.classes is not None
    again.classes.read(0, 144)
    np.testing.assert_array_equal(again.source.read(0, 144), before)


@pytest.mark.parametrize(
    ("content", "spot", "wanted"),
    [
        # Half opaque and multiplied boxes, and a soft mask of half, count as pictures.
        (b"0 0 0 1 k 20 20 60 60 re f /Half gs 1 0 0 0 k 40 40 60 60 re f", (94, 50), IMAGES),
        (b"0 0 0 1 k 20 20 60 60 re f /Mul gs 1 0 0 0 k 40 40 60 60 re f", (94, 50), IMAGES),
        (b"q /SM gs 1 0 0 0 k 40 40 60 60 re f Q", (94, 50), IMAGES),
        # What comes after them does not.
        (b"q /Half gs 1 0 0 0 k 40 40 60 60 re f Q 0 0 0 1 k 40 40 60 60 re f", (94, 50), GRAPHICS),
        (b"q /SM gs 1 0 0 0 k 40 40 60 60 re f Q 0 0 0 1 k 40 40 60 60 re f", (94, 50), GRAPHICS),
        # An overprinting box on top has the pixel, though colour beneath stays.
        (b"/Two cs 0.5 0.5 scn 0 0 144 144 re f /OP1 gs 0 0 0 1 k 40 40 60 60 re f", (94, 50), GRAPHICS),
        # A gradient through a clip: there a picture, outside not.
        (b"0 0 0 1 k 0 0 144 144 re f q 40 40 60 60 re W n /Sh sh Q", (94, 50), IMAGES),
        (b"0 0 0 1 k 0 0 144 144 re f q 40 40 60 60 re W n /Sh sh Q", (94, 20), GRAPHICS),
    ],
)
def test_transparent_objects_gradients_and_overprints(tmp_path, content, spot, wanted):
    _, codes = classes(written(tmp_path, content))
    assert codes[spot] == wanted


def test_pictures_show_only_through_their_own_mask(tmp_path):
    """A picture with an explicit mask, ISO 32000-1 8.9.6.3: type shows where it is masked out."""
    more = {
        10: stream(
            bytes([200, 0, 0] * 4),
            b"/Type /XObject /Subtype /Image /Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceRGB"
            b" /SMask 11 0 R",
        ),
        11: stream(
            bytes([255, 0, 255, 0]),
            b"/Type /XObject /Subtype /Image /Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceGray",
        ),
    }
    content = b"0 0 1 rg 0 0 144 144 re f q 80 0 0 80 20 20 cm /Im Do Q"
    _, codes = classes(written(tmp_path, content, b"/XObject << /Im 10 0 R >>", more))
    assert codes[84, 30] == IMAGES
    assert codes[84, 90] == GRAPHICS


def test_patterns_that_repeat_are_line_work(tmp_path):
    cell = stream(
        b"1 0 0 rg 0 0 4 4 re f",
        b"/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 8 8] /XStep 8 /YStep 8"
        b" /Resources << >>",
    )
    path = written(tmp_path, b"/Pattern cs /P scn 16 16 80 80 re f", b"/Pattern << /P 10 0 R >>", {10: cell})
    artwork, codes = classes(path)
    drawn = artwork.source.read(0, 144).min(axis=2) < 255
    assert drawn.sum() > 1000
    assert (codes[drawn] == GRAPHICS).all()
    assert set(np.unique(codes)) == {BARE, GRAPHICS}
