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
    (tmp_path / "a.pdf").write_bytes(page(b"0.5 g 0 0 144 144 re f /A cs 0.6 scn 0 0 72 144 re f", spaces))
    result = separate(condition, tmp_path / "a.pdf", tmp_path / "p.tif", dpi=50, intent="relative")
    opened, found = planes(result)
    assert (opened.width, opened.height) == (100, 100)
    assert result.results["named"] == {"2": "2"}
    assert result.results["artwork_kind"] == "grey"
    np.testing.assert_allclose(found[50, 20] / 65535, (0, 0.6, 0), atol=0.003)
    # Grey needs all three inks.
    assert found[50, 80].min() > 2000


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


def test_lab_artwork_reaches_its_colours(condition, small_readings, tmp_path, monkeypatch):
    import tifffile

    from strikeoff.condition import links

    # Fewer nodes than usual, to be quick.
    monkeypatch.setitem(links.GRID, "lab", 21)

    record = small_readings.condition
    wanted = record.native.lab(np.array([[0.3, 0.2, 0.1], [0.1, 0.5, 0.4]]))
    relative = record.connection.to_relative(wanted)
    stored = np.rint(relative * [655.35, 256, 256]).astype(np.int64) % 65536
    tifffile.imwrite(tmp_path / "l.tif", stored[None].astype(np.uint16), photometric="cielab")
    result = separate(condition, tmp_path / "l.tif", tmp_path / "p.tif", intent="relative")
    assert result.results["artwork_kind"] == "lab"
    found = record.native.lab(planes(result)[1][0] / 65535.0)
    # Between the table's nodes, 5 L* and 12.8 a*, b* apart.
    np.testing.assert_allclose(found, wanted, atol=1.5)


def test_check_writes_a_page_and_fails_on_faults(condition, tmp_path):
    from PIL import Image

    from strikeoff.workbench import check_artwork

    art = np.full((64, 64, 3), 160, np.uint8)
    art[:, :8] = (0, 250, 0)
    Image.fromarray(art).save(tmp_path / "a.png")
    result = check_artwork(
        condition, tmp_path / "a.png", finished=(64.0, 64.0), repeat="straight", out=tmp_path / "c.html"
    )
    assert result.outcome == "fail"
    text = (tmp_path / "c.html").read_text()
    assert "Faults" in text
    assert text.count("<img") >= 1 + len(result.results["findings"])
    assert "http" not in text.replace("http://www.w3.org", "")
    topics = [finding["topic"] for finding in result.results["findings"]]
    assert {"resolution", "repeat", "profile", "gamut"} <= set(topics)
    assert result.results["effective_ppi"] == [25.4, 25.4]
    # A finding is not told once more as a note.
    told = [problem.message for problem in result.problems] + [
        f["message"] for f in result.results["findings"]
    ]
    assert sum("without a profile is taken for sRGB" in message for message in told) == 1
    good = check_artwork(condition, tmp_path / "a.png", finished=(8.0, 8.0))
    assert good.outcome == "pass"


def test_proof_shows_predicted_colours_at_finished_scale(condition, small_readings, tmp_path):
    import io

    from PIL import Image, ImageCms

    from strikeoff.report.screen_colour import lab_to_srgb
    from strikeoff.workbench import proof_artwork

    art = np.full((50, 100), 255, np.uint8)
    art[:, 50:] = 130
    Image.fromarray(art).save(tmp_path / "a.png")
    record = small_readings.condition
    planes_result = separate(condition, tmp_path / "a.png", tmp_path / "p.tif")
    inks = planes(planes_result)[1][10, [10, 90]] / 65535.0
    for light, eye in ((None, None), ("A", "10")):
        proof_artwork(
            condition,
            tmp_path / "a.png",
            tmp_path / "p.png",
            finished=(50.0, 25.0),
            illuminant=light,
            observer=eye,
        )
        with Image.open(tmp_path / "p.png") as image:
            seen = np.asarray(image)
            assert image.info["dpi"] == pytest.approx((50.8, 50.8), rel=1e-3)
            profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
            assert "sRGB" in ImageCms.getProfileDescription(profile)
        model = record.under(light, eye)
        expected = lab_to_srgb(model.lab(inks), model.view.white)[0]
        assert np.abs(seen[10, [10, 90]].astype(int) - expected).max() <= 2
    proof_artwork(
        condition, tmp_path / "a.png", tmp_path / "q.png", finished=(50.0, 25.0), view="before-after"
    )
    with Image.open(tmp_path / "q.png") as image:
        both = np.asarray(image)
    assert both.shape == (50, 212, 3)
    np.testing.assert_allclose(both[10, [10, 90]], [[255] * 3, [130] * 3], atol=1)
    with pytest.raises(UsageError, match="before-after"):
        proof_artwork(condition, tmp_path / "a.png", tmp_path / "q.png", finished=(5.0, 5.0), view="x")


def test_proof_of_a_page_shows_named_colours_in_their_alternates(condition, tmp_path, monkeypatch):
    pytest.importorskip("pymupdf")
    from PIL import Image

    from strikeoff.condition import links
    from strikeoff.workbench import proof_artwork

    monkeypatch.setitem(links.GRID, "rgb", 9)
    monkeypatch.setattr("strikeoff.workbench.artwork_proof._LONGER_PX", 300)
    (tmp_path / "a.pdf").write_bytes(page(b"/Orange cs 1 scn 0 0 72 144 re f", RESOURCES, more=MORE))
    result = proof_artwork(condition, tmp_path / "a.pdf", tmp_path / "p.png", finished=(50.0, 50.0))
    assert result.results["named_in_alternates"] == ["Orange"]
    with Image.open(tmp_path / "p.png") as image:
        seen = np.asarray(image).astype(int)
    orange, bare = seen[seen.shape[0] // 2, [100, -100]]
    assert orange[0] > orange[1] > orange[2] + 40
    assert bare.min() > 200
