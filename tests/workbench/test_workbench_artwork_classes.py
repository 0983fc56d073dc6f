"""Intents by class of object, through the same path to planes as one intent for all."""

import numpy as np
import pytest
from pdf_files import MORE, RESOURCES, page, stream

from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.pdf_wish import PageWish
from strikeoff.base.errors import UsageError
from strikeoff.condition.archive import write_condition
from strikeoff.raster.tiff_reader import open_planes
from strikeoff.workbench import separate

_IMAGE = stream(
    bytes([20, 40, 250, 30, 90, 40] * 2),
    b"/Type /XObject /Subtype /Image /Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceRGB",
)
_MIXED = (
    b"0.1 0.2 0.98 rg 0 0 144 144 re f q 80 0 0 80 20 20 cm /Im Do Q 0.1 0.2 0.98 rg"
    b" BT /F 40 Tf 1 0 0 1 10 60 Tm (Hem) Tj ET"
)
_FONT = b"/XObject << /Im 10 0 R >> /Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >>"


@pytest.fixture(scope="module")
def condition(small_readings, tmp_path_factory):
    path = tmp_path_factory.mktemp("cond") / "small.cond"
    write_condition(path, small_readings.condition)
    return path


@pytest.fixture(autouse=True)
def _coarse_links(monkeypatch):
    monkeypatch.setitem(__import__("strikeoff.condition.links", fromlist=["GRID"]).GRID, "rgb", 9)


def planes(result):
    opened = open_planes(result.outputs[0])
    return opened.read(0, opened.height)


def test_every_class_gets_the_bytes_of_its_own_intent(condition, tmp_path):
    pytest.importorskip("pymupdf")
    path = tmp_path / "m.pdf"
    path.write_bytes(page(_MIXED, _FONT, more={10: _IMAGE}))
    alone = {
        intent: planes(separate(condition, path, tmp_path / f"{intent}.tif", dpi=72, intent=intent))
        for intent in ("perceptual", "relative", "saturation")
    }
    result = separate(
        condition, path, tmp_path / "c.tif", dpi=72, intent="perceptual",
        intent_graphics="relative", intent_text="saturation",
    )  # fmt: skip
    found = planes(result)
    artwork = open_artwork(path, wish=PageWish(dpi=(72.0, 72.0)))
    codes = artwork.classes.read(0, 144)
    by_code = [alone["relative"], alone["relative"], alone["saturation"], alone["perceptual"]]
    np.testing.assert_array_equal(found, np.select([codes == code for code in range(4)], by_code))
    # The three differ where it matters, or the test would say nothing.
    for code, other in ((1, "perceptual"), (2, "relative"), (3, "saturation")):
        own = codes[..., 0] == code
        assert own.sum() > 300
        assert (found[own] != alone[other][own]).any(), code
    told = result.results["classes"]
    assert {name: row["intent"] for name, row in told.items()} == {
        "images": "perceptual", "graphics": "relative", "text": "saturation",
    }  # fmt: skip
    assert told["text"]["share"] == pytest.approx((codes == 2).mean(), abs=1e-6)
    assert len({row["link"] for row in told.values()}) == 3
    assert result.results["link"] == told["images"]["link"]


@pytest.mark.parametrize(
    ("content", "own"),
    [
        (b"0.1 0.9 0.2 rg 0 0 144 144 re f", {"intent_images": "perceptual", "intent_text": "saturation"}),
        (b"q 144 0 0 144 0 0 cm /Im Do Q", {"intent_graphics": "perceptual", "intent_text": "absolute"}),
    ],
)
def test_a_page_of_one_class_equals_the_plain_path(condition, tmp_path, content, own):
    pytest.importorskip("pymupdf")
    path = tmp_path / "m.pdf"
    path.write_bytes(page(content, _FONT, more={10: _IMAGE}))
    plain = separate(condition, path, tmp_path / "p.tif", dpi=36, intent="relative")
    classed = separate(condition, path, tmp_path / "c.tif", dpi=36, intent="relative", **own)
    np.testing.assert_array_equal(planes(classed), planes(plain))
    assert planes(plain).any()
    assert plain.results["classes"]["images"]["share"] is None


def test_named_colours_and_overprints_are_as_without_classes(condition, tmp_path):
    """A named colour that overprints stays on its ink under line work of another intent."""
    pytest.importorskip("pymupdf")
    spaces = RESOURCES.replace(b"/Orange ", b"/Own [/Separation /2 /DeviceCMYK 11 0 R] /Orange ", 1)
    more = MORE | {11: b"<< /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [0 1 0 0] /N 1 >>"}
    content = b"0.5 g 0 0 144 144 re f /OP1 gs /Own cs 0.6 scn 0 0 72 144 re f"
    path = tmp_path / "m.pdf"
    path.write_bytes(page(content, spaces, more=more))
    plain = separate(condition, path, tmp_path / "p.tif", dpi=36, intent="relative")
    same = separate(
        condition, path, tmp_path / "c.tif", dpi=36, intent="saturation", intent_graphics="relative"
    )
    np.testing.assert_array_equal(planes(same), planes(plain))
    assert plain.results["named"] == {"2": "2"}
    assert planes(plain)[30, 10, 1] > planes(plain)[30, 60, 1]


def test_images_are_pictures_and_odd_intents_are_refused(condition, tmp_path):
    from PIL import Image

    Image.new("RGB", (8, 8), (20, 200, 30)).save(tmp_path / "i.png")
    result = separate(
        condition, tmp_path / "i.png", tmp_path / "c.tif", intent_images="relative", intent_text="absolute"
    )
    assert list(result.results["classes"]) == ["images"]
    assert result.results["intent"] == "relative"
    assert any(problem.where == "classes" for problem in result.problems)
    plain = separate(condition, tmp_path / "i.png", tmp_path / "p.tif", intent="relative")
    np.testing.assert_array_equal(planes(result), planes(plain))
    with pytest.raises(UsageError, match="rendering intent"):
        separate(condition, tmp_path / "i.png", tmp_path / "c.tif", intent_text="vivid")
