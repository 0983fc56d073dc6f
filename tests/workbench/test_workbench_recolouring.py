"""Flat artwork through a condition into colourways: planes, pictures, sheet."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from strikeoff.artwork.colour import srgb_to_linear
from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.inks.goods import Cloth, Goods
from strikeoff.raster.tiff_reader import open_planes
from strikeoff.report.screen_colour import encode_srgb
from strikeoff.workbench import artwork_palette, recolour_artwork

COLOURS = np.array([[255, 255, 255], [180, 30, 40], [20, 60, 120]], np.uint8)
WAYS = "from,Day,Night\nground,,#203060\nberry,inks 1 20 2 60,Brick\nsea,lab 45 10 30,#203060\n"
BOOK = '[[colour]]\nname = "Brick"\nlab = [48, 40, 30]\n[[colour]]\nname = "Far"\nlab = [60, 110, -90]\n'


def design(size=(60, 80)) -> np.ndarray:
    """Ground, a band, a disc whose edge is mixed in linear light."""
    high, wide = size
    y, x = np.mgrid[: high * 4, : wide * 4] / 4
    places = np.where(x > 0.6 * wide, 1, 0)
    places[np.hypot(y - 0.5 * high, x - 0.35 * wide) < 0.2 * high] = 2
    mean = srgb_to_linear(COLOURS / 255.0)[places].reshape(high, 4, wide, 4, 3).mean(axis=(1, 3))
    return encode_srgb(mean)


@pytest.fixture(scope="module")
def shop(small_readings, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("recolour")
    write_condition(folder / "a.cond", small_readings.condition)
    Image.fromarray(design()).save(folder / "art.png", dpi=(150, 150))
    artwork_palette(folder / "art.png", folder / "found.toml")
    text = (folder / "found.toml").read_text()
    for number, name in enumerate(("ground", "berry", "sea"), 1):
        text = text.replace(f'"colour {number}"', f'"{name}"')
    (folder / "p.toml").write_text(text)
    (folder / "ways.csv").write_text(WAYS)
    (folder / "book.toml").write_text(BOOK)
    return folder


def recoloured(shop, out, ways="ways.csv", **options):
    options = {"condition": shop / "a.cond", "book": shop / "book.toml"} | options
    return recolour_artwork(
        options.pop("image", shop / "art.png"), options.pop("palette", shop / "p.toml"), [shop / ways],
        out=out, **options,
    )  # fmt: skip


@pytest.fixture(scope="module")
def made(shop):
    return recoloured(shop, shop / "made", sheet=shop / "sheet.html")


@pytest.mark.parametrize("name", ["Day-planes.tif", "Day-picture.tif"])
def test_artwork_of_a_colourways_name_is_not_written_over(shop, tmp_path, name):
    art = tmp_path / name
    Image.fromarray(design()).save(art, dpi=(150, 150))
    before = art.read_bytes()
    with pytest.raises(UsageError, match="would replace an input"):
        recoloured(shop, tmp_path, image=art)
    assert art.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_solids_print_their_recipe_and_bare_cloth_stays_bare(shop, made):
    by_name = {row["name"]: row for row in made.results["colourways"]}
    day = {colour["name"]: colour for colour in by_name["Day"]["colours"]}
    assert day["ground"]["recipe_percent"] == {}
    assert day["berry"]["recipe_percent"] == {"1": 20.0, "2": 60.0}
    assert day["berry"]["de00"] is None
    planes = open_planes(shop / "made" / "Day-planes.tif").read(0, 60)
    assert (planes[0, 0] == 0).all()
    assert (planes[0, 79] == np.rint(np.array([0.2, 0.6, 0.0]) * 65535)).all()
    sea = [day["sea"]["recipe_percent"].get(ink, 0.0) for ink in ("1", "2", "3")]
    np.testing.assert_allclose(planes[30, 28] / 655.35, sea, atol=0.002)
    assert made.results["unexplained_share"] == 0


def test_predictions_are_the_conditions(shop, made):
    record, _ = read_condition(shop / "a.cond")
    for row in made.results["colourways"]:
        for colour in row["colours"]:
            inks = np.array([colour["recipe_percent"].get(ink, 0.0) / 100 for ink in record.inks])
            lab = record.native.lab(inks[None])[0]
            np.testing.assert_allclose(colour["lab"], lab, atol=0.02)
            if colour["wished_lab"] is not None and colour["in_reach"]:
                assert delta_e_2000(colour["wished_lab"], lab) <= 0.27
    white = record.native.lab(np.zeros((1, 3)))[0]
    np.testing.assert_allclose(made.results["cloth_lab"], white, atol=0.001)


def test_edges_have_the_light_of_their_areas(shop, made):
    """Predicted light of the planes at the disc's edge against the light of what meets there."""
    record, _ = read_condition(shop / "a.cond")
    from strikeoff.colour.cielab import lab_to_xyz

    planes = open_planes(shop / "made" / "Day-planes.tif").read(0, 60)
    light = lab_to_xyz(record.native.lab(planes.reshape(-1, 3) / 65535.0), np.ones(3))[:, 1].reshape(60, 80)
    y, x = np.mgrid[:240, :320] / 4
    share = (np.hypot(y - 30, x - 28) < 12).reshape(60, 4, 80, 4).mean(axis=(1, 3))
    wanted = (1 - share) * light[0, 0] + share * light[30, 28]
    edge = (share > 0) & (share < 1)
    assert edge.sum() > 40
    assert np.abs(light - wanted)[edge].mean() < 0.012
    # Ink that goes as area would be darker than its area.
    plain = share[..., None] * planes[30, 28] / 65535.0
    naive = lab_to_xyz(record.native.lab(plain[edge]), np.ones(3))[:, 1]
    assert np.abs(naive - wanted[edge]).mean() > 2 * np.abs(light - wanted)[edge].mean()


def test_equal_colours_merge_without_an_edge(shop, made):
    night = made.results["colourways"][1]
    pair = next(p for p in night["pairs"] if p["colours"] == ["ground", "sea"])
    assert (pair["merges"], pair["merge_wished"], pair["neighbours"]) == (True, True, True)
    planes = open_planes(shop / "made" / "Night-planes.tif").read(0, 60)
    assert (planes[:, :40] == planes[0, 0]).all()
    assert any("merge, as wished" in p.message for p in made.problems)


def test_pictures_are_artwork_again(shop, made):
    with tifffile.TiffFile(shop / "made" / "Day-picture.tif") as tiff:
        page = tiff.pages[0]
        assert (page.photometric, page.dtype) == (2, np.uint8)
        assert page.tags[34675].value[36:40] == b"acsp"
        assert np.divide(*page.tags["XResolution"].value) == pytest.approx(150, abs=0.05)
        day = page.asarray()
    # The ground stays, its codes untouched; a hex is its codes.
    assert (day[:, :10] == 255).all()
    night = tifffile.imread(shop / "made" / "Night-picture.tif")
    assert (night[0, 0] == (0x20, 0x30, 0x60)).all()
    assert (night[:, :40] == night[0, 0]).all()


def test_a_colourway_that_changes_nothing_is_the_artwork(shop, tmp_path):
    (shop / "same.toml").write_text('name = "Same"\n[[colour]]\nfrom = "sea"\nhex = "#143c78"\n')
    recoloured(shop, tmp_path, "same.toml", make="picture")
    assert np.abs(tifffile.imread(tmp_path / "Same-picture.tif").astype(int) - design()).max() <= 1


@pytest.mark.parametrize("form", ["pdf", "png"])
def test_sheets(shop, tmp_path, form):
    sheet = tmp_path / f"s.{form}"
    done = recoloured(shop, tmp_path, make="picture", sheet=sheet)
    assert done.outputs[-1] == sheet
    assert sheet.read_bytes()[:4] == {"pdf": b"%PDF", "png": b"\x89PNG"}[form]


def test_the_page_tells_all(shop, made):
    page = (shop / "sheet.html").read_text()
    for text in ("Day", "Night", "berry", "1 20 2 60", "merge", "simulated"):
        assert text in page


def test_out_of_reach_is_told_with_its_direction(shop, tmp_path):
    (shop / "far.csv").write_text("from,to\nberry,Far\n")
    done = recoloured(shop, tmp_path, "far.csv", make="picture")
    berry = done.results["colourways"][0]["colours"][1]
    assert (berry["in_reach"], berry["kind"]) == (False, "swatch")
    assert "duller" in berry["direction"]
    said = [p for p in done.problems if "out of reach" in p.message]
    assert "colourway far, berry" in [p.where for p in said]
    stay = next(p for p in done.problems if "stay as the artwork has them" in p.message)
    assert stay.found == "ground, sea"


def test_nothing_is_said_of_fluorescing_prints_under_the_light_of_a_swatch(shop, tmp_path, small_readings):
    """As `condition spots`: what fluoresces answers to the ultraviolet of each light (ISO 13655)."""
    (tmp_path / "book.toml").write_text(
        '[[colour]]\nname = "Brick"\nlab = [60, 25, 20]\nilluminant = "D65"\n'
    )
    (shop / "light.csv").write_text("from,One,Two\nground,,\nberry,Brick,Brick\nsea,lab 60 10 20,\n")
    whitened = Goods(cloth=Cloth(optical_brightener="yes"))
    write_condition(tmp_path / "w.cond", replace(small_readings.condition, goods=whitened))
    colours, doubts, lines = {}, {}, {}
    for name, condition in (("plain", shop / "a.cond"), ("whitened", tmp_path / "w.cond")):
        done = recoloured(
            shop, tmp_path / name, "light.csv", condition=condition, book=tmp_path / "book.toml",
            make="picture", sheet=tmp_path / f"{name}.html",
        )  # fmt: skip
        colours[name] = done.results["colourways"][0]["colours"]
        doubts[name] = [p.message for p in done.problems if "undecided" in p.message]
        lines[name] = done.lines[0]
    assert doubts["plain"] == []
    # One swatch in two colourways is one colour; what is asked for under the condition's own light is known.
    assert doubts["whitened"] == [
        "an optical brightener is recorded of the cloth: 1 colour is undecided under other lights"
    ]
    before, after = colours["plain"][1], colours["whitened"][1]
    figures = ("de00", "de00_u90", "in_reach", "de00_from_cloth")
    assert [after[key] for key in figures] == [None] * 4
    assert None not in [before[key] for key in figures]
    assert (after["recipe_percent"], after["lab"]) == (before["recipe_percent"], before["lab"])
    assert colours["whitened"][2] == colours["plain"][2]
    assert lines["plain"].startswith("One: all in reach")
    assert lines["whitened"].startswith("One: 1 undecided (berry)")
    assert (tmp_path / "whitened.html").read_text().count("undecided under D65") >= 2


def test_tall_artwork_is_never_held_whole(shop, tmp_path, monkeypatch):
    """16,000 rows hold 3.6 MB of pixels and 10.8 MB of weights more than 4,000, and need no more memory."""
    (shop / "one.csv").write_text("from,to\nberry,#2a9d8f\n")
    # The writer holds up to 16 MiB of planes a thread: less here, so that the height would show.
    for module in ("tiff_plan", "tiff_writer"):
        monkeypatch.setattr(f"strikeoff.raster.{module}.TASK_BYTES", 1 << 18)
    peaks = []
    for times in (70, 266):
        tall = np.repeat(design((60, 100)), times, axis=0)
        tifffile.imwrite(tmp_path / "tall.tif", tall, photometric="rgb", rowsperstrip=64)
        del tall
        tracemalloc.start()
        recoloured(shop, tmp_path, "one.csv", image=tmp_path / "tall.tif")
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] - peaks[0] < 2_000_000
    assert [p.name for p in tmp_path.iterdir() if p.suffix != ".tif"] == []


def test_what_does_not_fit_is_refused(shop, tmp_path):
    soft = np.random.default_rng(0).integers(0, 255, (60, 80, 3)).astype(np.uint8)
    Image.fromarray(soft).save(tmp_path / "noise.png")
    out = tmp_path / "out"
    with pytest.raises(InputError, match="artwork is not flat"):
        recoloured(shop, out, image=tmp_path / "noise.png")
    wrong = (shop / "p.toml").read_text().split("[[colour]]")
    (tmp_path / "short.toml").write_text("[[colour]]".join(wrong[:2]).replace("ground", "berry"))
    (tmp_path / "berry.csv").write_text("from,to\nberry,#2a9d8f\n")
    with pytest.raises(InputError, match="does not fit the artwork"):
        recoloured(shop, out, ways=tmp_path / "berry.csv", palette=tmp_path / "short.toml")
    for text, says in (
        ("from,to\nberry,Nowhere\n", "no such swatch"),
        ("from,to\nsky,#2a9d8f\n", "palette has no such colour"),
        ("from,to\nberry,inks Q 10\n", "condition has no such ink"),
        ("from,to\nberry,inks 1 100 2 100 3 100\n", "above the ink limits"),
        ("from,A b,A/b\nberry,#2a9d8f,#2a9d8e\n", "two colourways have one name"),
    ):
        (tmp_path / "bad.csv").write_text(text)
        with pytest.raises(InputError, match=says):
            recoloured(shop, out, ways=tmp_path / "bad.csv")
    for options in ({"make": "all"}, {"merge_de": 0.0}, {"sheet": tmp_path / "s.doc"}):
        with pytest.raises(UsageError):
            recoloured(shop, out, **options)
    assert not out.exists()


def test_a_palette_by_hand_needs_no_more_than_names_and_colours(shop, made, tmp_path):
    rows = [
        f'[[colour]]\nname = "{name}"\nhex = "#{bytes(code).hex()}"\n'
        for name, code in zip(("ground", "berry", "sea"), COLOURS, strict=True)
    ]
    (tmp_path / "hand.toml").write_text('schema = "strikeoff/palette/2"\n' + "".join(rows))
    recoloured(shop, tmp_path, palette=tmp_path / "hand.toml", make="planes")
    for name in ("Day-planes.tif", "Night-planes.tif"):
        one, two = (open_planes(folder / name).read(0, 60) for folder in (tmp_path, shop / "made"))
        assert np.abs(one.astype(int) - two.astype(int)).max() <= 700


def test_the_same_design_through_jpeg_is_still_recoloured(shop, made, tmp_path):
    """Noise and mixing of the palette belong to the clean file; solids away from edges print their recipe."""
    Image.fromarray(design((120, 160))).save(tmp_path / "a.jpg", quality=85, dpi=(150, 150))
    done = recoloured(shop, tmp_path, image=tmp_path / "a.jpg", make="planes")
    planes = open_planes(tmp_path / "Day-planes.tif").read(0, 120)
    berry = np.rint(np.array([0.2, 0.6, 0.0]) * 65535)
    assert (planes[:, 112:] == berry).all()
    assert (planes[:20, :80] == 0).all()
    assert any("found in other artwork" in p.message for p in done.problems)
