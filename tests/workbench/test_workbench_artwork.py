"""Pages and layered pictures through the same path to planes as images."""

import numpy as np
import pytest
from pdf_files import MORE, RESOURCES, page, separation
from picture_files import kinds, names, psd

from strikeoff.base.errors import UsageError
from strikeoff.condition.archive import write_condition
from strikeoff.raster.tiff_reader import open_planes
from strikeoff.workbench import separate


@pytest.fixture(scope="module")
def condition(small_readings, tmp_path_factory):
    path = tmp_path_factory.mktemp("cond") / "small.cond"
    write_condition(path, small_readings.condition)
    return path


def planes(result):
    opened = open_planes(result.outputs[0])
    return opened, opened.read(0, opened.height)


def test_named_colours_of_a_page_pass_to_their_ink(condition, tmp_path):
    pytest.importorskip("pymupdf")
    spaces = b"/ColorSpace << /A " + separation(b"2") + b" >>"
    (tmp_path / "a.pdf").write_bytes(
        page(b"0.5 1 0.5 rg 0 0 144 144 re f /A cs 0.6 scn 0 0 72 144 re f", spaces)
    )
    result = separate(condition, tmp_path / "a.pdf", tmp_path / "p.tif", dpi=50, intent="relative")
    opened, found = planes(result)
    assert (opened.width, opened.height) == (100, 100)
    assert result.results["named"] == {"2": "2"}
    assert result.results["artwork_kind"] == "rgb"
    np.testing.assert_allclose(found[50, 20] / 65535, (0, 0.6, 0), atol=0.003)
    assert found[50, 80, 1] / 65535 != pytest.approx(0.6, abs=0.1)
    assert found[50, 80].max() > 0


def test_named_colours_without_ink_are_refused_or_fall_back(condition, tmp_path):
    pytest.importorskip("pymupdf")
    (tmp_path / "a.pdf").write_bytes(
        page(b"1 0 0 rg 0 0 9 9 re f /Orange cs 1 scn 0 0 144 144 re f", RESOURCES, more=MORE)
    )
    with pytest.raises(UsageError, match="--named fallback") as caught:
        separate(condition, tmp_path / "a.pdf", tmp_path / "p.tif", dpi=20)
    assert "Orange" in str(caught.value)
    assert not (tmp_path / "p.tif").exists()
    result = separate(condition, tmp_path / "a.pdf", tmp_path / "p.tif", dpi=20, named="fallback")
    assert "alternate colours" in " ".join(map(str, result.problems))
    found = planes(result)[1][20, 20]
    assert found[2] > found[1] > found[0], "orange is yellow and some magenta"
    with pytest.raises(UsageError, match="ink, fallback"):
        separate(condition, tmp_path / "a.pdf", tmp_path / "p.tif", named="drop")


def test_layered_picture_with_a_spot_channel(condition, tmp_path):
    art = np.full((4, 8, 8), 255, np.uint8)
    art[3, :, :4] = 55
    (tmp_path / "a.psd").write_bytes(psd(art, 3, resources=names("3") + kinds(True)))
    found = planes(separate(condition, tmp_path / "a.psd", tmp_path / "p.tif"))[1]
    np.testing.assert_allclose(found[3, 2] / 65535, (0, 0, 200 / 255), atol=1e-4)
    assert found[:, 4:].max() == 0
    (tmp_path / "b.psd").write_bytes(psd(art, 3, resources=names("Coral") + kinds(True)))
    with pytest.raises(UsageError, match="process colours in the file"):
        separate(condition, tmp_path / "b.psd", tmp_path / "q.tif", named="fallback")


def test_lab_artwork_reaches_its_colours(condition, small_readings, tmp_path):
    import tifffile

    record = small_readings.condition
    wanted = record.native.lab(np.array([[0.3, 0.2, 0.1], [0.1, 0.5, 0.4]]))
    relative = record.connection.to_relative(wanted)
    stored = np.rint(relative * [655.35, 256, 256]).astype(np.int64) % 65536
    tifffile.imwrite(tmp_path / "l.tif", stored[None].astype(np.uint16), photometric="cielab")
    result = separate(condition, tmp_path / "l.tif", tmp_path / "p.tif", intent="relative")
    assert result.results["artwork_kind"] == "lab"
    found = record.native.lab(planes(result)[1][0] / 65535.0)
    # Between the table's nodes, 2.5 L* and 6.4 a*, b* apart.
    np.testing.assert_allclose(found, wanted, atol=0.6)
