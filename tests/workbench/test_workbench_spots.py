"""A swatch book through a condition to planes."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from picture_files import kinds, names, psd
from PIL import Image

from strikeoff.base.errors import InputError, UsageError
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.inks.goods import Cloth, Goods
from strikeoff.raster.tiff_reader import open_planes
from strikeoff.report.screen_colour import hex_colour
from strikeoff.spot.compiled import read_spots, write_spots
from strikeoff.spot.tints import full_table
from strikeoff.workbench import check_artwork, match_spots, proof_artwork, separate
from strikeoff.workbench.artwork_named import underbase_of
from strikeoff.workbench.artwork_white import underbase_problems
from strikeoff.workbench.spots import SPOT_LIGHTS

BOOK = """
name = "Autumn"
[[colour]]
name = "Coral 12"
lab = [60, 35, 20]
[[colour]]
name = "Far"
lab = [60, 110, 20]
[[colour]]
name = "Line"
ink = "{ink}"
limit_percent = 80
"""


@pytest.fixture(scope="module")
def shop(small_readings, tmp_path_factory):
    folder = tmp_path_factory.mktemp("spots")
    write_condition(folder / "small.cond", small_readings.condition)
    (folder / "book.toml").write_text(BOOK.format(ink=small_readings.condition.inks[2]))
    result = match_spots(
        folder / "small.cond", folder / "book.toml", folder / "a.spots", page=folder / "a.html"
    )
    return folder, result


def test_what_is_said_of_a_book(shop):
    folder, result = shop
    coral, far, line = result.results["colours"]
    assert (coral["in_reach"], far["in_reach"], line["in_reach"]) == (True, False, None)
    assert "duller" in far["direction"]
    assert coral["direction"] == []
    assert [problem.where for problem in result.problems if problem.severity == "warning"] == ["colour Far"]
    page = (folder / "a.html").read_text()
    assert "Coral 12" in page
    assert "http" not in page.replace("http://www.w3.org", "")
    spots, digest = read_spots(folder / "a.spots")
    assert digest == result.results["spots"]
    assert [spots.digest_of(i) for i in range(3)] == [row["table"] for row in result.results["colours"]]
    recipe = [coral["recipe_percent"].get(ink, 0) * 655.35 for ink in spots.inks]
    np.testing.assert_allclose(spots.tables[0, -1], recipe, atol=1)


def test_nothing_is_said_of_fluorescing_prints_under_other_lights(shop, small_readings, tmp_path):
    """As `condition lights`: what fluoresces answers to the ultraviolet of each light (ISO 13655)."""
    folder, _ = shop
    grid = small_readings.condition.wavelengths_nm
    (tmp_path / "book.toml").write_text(
        'name = "Two"\n[[colour]]\nname = "Day"\nlab = [60, 35, 20]\nilluminant = "D65"\n'
        f'[[colour]]\nname = "Grey"\nwavelengths_nm = [{grid[0]:g}, {grid[-1]:g}, {grid[1] - grid[0]:g}]\n'
        f"spectrum = {[0.3] * len(grid)}\n"
    )
    plain = match_spots(folder / "small.cond", tmp_path / "book.toml", tmp_path / "a.spots")
    whitened = Goods(cloth=Cloth(optical_brightener="yes"))
    write_condition(tmp_path / "w.cond", replace(small_readings.condition, goods=whitened))
    page = tmp_path / "a.html"
    told = match_spots(tmp_path / "w.cond", tmp_path / "book.toml", tmp_path / "a.spots", page=page)
    (day, grey), (day_before, grey_before) = told.results["colours"], plain.results["colours"]
    assert day["recipe_percent"] == day_before["recipe_percent"]
    assert day_before["in_reach"] is True
    assert (day["de00"], day["de00_u90"], day["in_reach"], day["direction"]) == (None, None, None, [])
    assert set(grey_before["lights_de00"]) == set(SPOT_LIGHTS)
    assert grey["lights_de00"] == {"D50": grey_before["lights_de00"]["D50"]}
    assert told.lines[0].startswith("Day   undecided under D65; ")
    assert [p.message for p in told.problems if p.severity == "warning"] == [
        "an optical brightener is recorded of the cloth: 2 colours are undecided under other lights"
    ]
    assert page.read_text().count(">undecided<") == len(SPOT_LIGHTS) - 1


def picture(path, *wanted):
    """White, with a plane for each name: its tint rises from none at the left."""
    art = np.full((3 + len(wanted), 6, 32), 255, np.uint8)
    for place in range(len(wanted)):
        art[3 + place] = 255 - np.arange(32) * 8
    blocks = b"".join([names(*wanted), kinds(*[True] * len(wanted))])
    path.write_bytes(psd(art, 3, resources=blocks))
    return path


def test_flat_named_colours_are_their_tables(shop, tmp_path):
    folder, _ = shop
    art = picture(tmp_path / "a.psd", "Coral 12")
    result = separate(folder / "small.cond", art, tmp_path / "p.tif", spots=folder / "a.spots")
    spots, digest = read_spots(folder / "a.spots")
    assert result.results["spots"] == {"digest": digest, "tables": {"Coral 12": spots.digest_of(0)}}
    opened = open_planes(tmp_path / "p.tif")
    wanted = full_table(spots.tables[0])[np.arange(32) * 8 * 257]
    np.testing.assert_array_equal(opened.read(0, 6), np.broadcast_to(wanted, (6, 32, 3)))
    assert opened.info["spots"]["digest"] == digest


def test_names_count_to_the_letter(shop, tmp_path):
    folder, _ = shop
    art = picture(tmp_path / "a.psd", "coral 12")
    with pytest.raises(UsageError, match="The book has 'Coral 12'"):
        separate(folder / "small.cond", art, tmp_path / "p.tif", spots=folder / "a.spots")
    assert not (tmp_path / "p.tif").exists()


def test_tables_of_another_condition_are_refused(shop, tmp_path, small_readings):
    folder, _ = shop
    write_condition(tmp_path / "other.cond", replace(small_readings.condition, name="other"))
    art = picture(tmp_path / "a.psd", "Coral 12")
    with pytest.raises(InputError, match="another condition"):
        separate(tmp_path / "other.cond", art, tmp_path / "p.tif", spots=folder / "a.spots")


def test_underbase_lies_under_the_others(shop, tmp_path, small_readings):
    """One of the three inks plays white: it lies where the others are, drawn in by two pixels."""
    folder, _ = shop
    white = small_readings.condition.inks[2]
    art = picture(tmp_path / "a.psd", small_readings.condition.inks[0])
    result = separate(
        folder / "small.cond", art, tmp_path / "p.tif", dpi=254, underbase=white, underbase_percent=50,
        choke_mm=0.2,
    )  # fmt: skip
    assert result.results["underbase"] == {"ink": white, "percent": 50, "choke_mm": 0.2}
    found = open_planes(tmp_path / "p.tif").read(0, 6)
    assert (found[:, 1:, 0] > 0).all()
    np.testing.assert_array_equal(found[..., 2], np.where(np.arange(32) >= 3, 32768, 0)[None].repeat(6, 0))
    with pytest.raises(UsageError, match="no such ink"):
        separate(folder / "small.cond", art, tmp_path / "q.tif", underbase="White")
    with pytest.raises(UsageError, match="only an underbase"):
        separate(folder / "small.cond", art, tmp_path / "q.tif", choke_mm=0.2)


@pytest.mark.parametrize(
    ("cloth", "by_name", "advice"),
    [(30.0, ("W",), "--process-ink"), (30.0, (), "Separate without"), (84.0, (), None)],
)
def test_an_underbase_that_lightens_the_cloth_changes_colours(small_readings, cloth, by_name, advice):
    """White of L* 86 under colours that were separated for the bare cloth, or for white of their own."""
    record = small_readings.condition
    name = record.spaces.channels[2]
    under = underbase_of(record, name, 100.0, 0.0)
    assert underbase_problems(record, None) == ()
    model = SimpleNamespace(lab=lambda inks: np.array([[cloth, 0, 0], [86.0, 0, 0]]))
    seen = SimpleNamespace(
        spaces=record.spaces, n_inks=record.n_inks, native=model, by_name_only=tuple(name for _ in by_name)
    )
    told = underbase_problems(seen, under)
    assert [p.severity for p in told] == ([] if advice is None else ["warning"])
    if advice is not None:
        assert told[0].found == f"{name} 100 % with L* 86.0 on cloth of 30.0"
        assert advice in told[0].advice


def test_colours_give_way_to_an_underbase_that_would_pass_the_total(tmp_path, small_readings):
    """Full underbase below process colours of nearly the whole total: the planes keep it, hues and white."""
    record = small_readings.condition
    tight = replace(
        record, limits=replace(record.limits, total=1.5), spaces=replace(record.spaces, total=1.5)
    )
    write_condition(tmp_path / "tight.cond", tight)
    white = record.inks[2]
    image = np.zeros((6, 32, 3), np.uint8)
    image[:, 16:] = 255
    Image.fromarray(image).save(tmp_path / "a.png")
    options = {"dpi": 254, "assume_profile": None}
    plain = separate(tmp_path / "tight.cond", tmp_path / "a.png", tmp_path / "q.tif", **options)
    under = separate(
        tmp_path / "tight.cond", tmp_path / "a.png", tmp_path / "p.tif", underbase=white, **options
    )
    before, after = (open_planes(tmp_path / name).read(0, 6).astype(float) for name in ("q.tif", "p.tif"))
    assert before[0, 0, :2].sum() > 0.6 * 65535
    assert (after[:, :16, 2] == 65535).all()
    assert (after.sum(axis=2) <= 1.5 * 65535 + 3).all()
    share = after[0, 0, :2] / before[0, 0, :2]
    assert share[0] == pytest.approx(share[1], abs=1e-3)
    assert share[0] < 0.9
    assert under.results["share_held"] == pytest.approx(0.5)
    assert under.results["share_over_limit"] == plain.results["share_held"] == 0.0
    assert under.results["highest_total_percent"] <= 150.0
    (said,) = [p for p in under.problems if "total ink limit" in p.message]
    assert (said.severity, said.where) == ("warning", "underbase")
    assert said.found.startswith("50.00 % of the pixels, up to ")
    assert "--underbase-percent" in said.advice
    proof = proof_artwork(
        tmp_path / "tight.cond", tmp_path / "a.png", tmp_path / "b.png", finished=(40, 8), underbase=white
    )
    assert [p.where for p in proof.problems if "total ink limit" in p.message] == ["underbase"]


def test_check_tells_how_a_swatch_prints(shop, tmp_path):
    """Colour and difference are those that matching the book told; without the book there is a fault."""
    folder, matched = shop
    art = picture(tmp_path / "a.psd", "Coral 12", "Far")
    result = check_artwork(folder / "small.cond", art, finished=(40, 20), spots=folder / "a.spots")
    coral, far, _ = matched.results["colours"]
    for row, told in zip((coral, far), result.results["named"], strict=True):
        assert told["by_swatch"]
        assert told["swatch"]["lab"] == pytest.approx(row["lab"], abs=0.002)
        assert told["swatch"]["target_lab"] == row["target_lab"]
        assert told["swatch"]["de00"] == pytest.approx(row["de00"], abs=0.002)
    found = {f["message"].split()[0]: f for f in result.results["findings"] if f["topic"] == "named colours"}
    assert (found["Coral"]["severity"], found["Far"]["severity"]) == ("note", "warning")
    assert f"CIEDE2000 {far['de00']:.2f}" in found["Far"]["found"]
    plain = check_artwork(folder / "small.cond", art, finished=(40, 20))
    assert plain.outcome == "fail"


def test_proof_shows_swatches_as_they_print(shop, tmp_path):
    """The full tint has the predicted colour of the swatch, not that of bare cloth."""
    folder, matched = shop
    art = picture(tmp_path / "a.psd", "Coral 12")
    result = proof_artwork(
        folder / "small.cond", art, tmp_path / "p.png", finished=(40, 8), spots=folder / "a.spots"
    )
    assert result.results["named_by_swatch"] == ["Coral 12"]
    assert result.results["named_left_out"] == []
    seen = np.asarray(Image.open(tmp_path / "p.png").convert("RGB")).astype(int)
    record = read_condition(folder / "small.cond")[0]
    wanted = hex_colour(np.array(matched.results["colours"][0]["lab"]), record.native.view.white)
    full = np.array([int(wanted[i : i + 2], 16) for i in (1, 3, 5)])
    assert np.abs(seen[3, -1] - full).max() <= 12
    assert np.abs(seen[3, 0] - full).max() > 40
    with pytest.raises(UsageError, match="only an underbase"):
        proof_artwork(folder / "small.cond", art, tmp_path / "q.png", finished=(40, 8), choke_mm=0.2)


def test_proof_shows_the_underbase(shop, tmp_path, small_readings):
    """An ink that plays white changes what is seen under a tint, and nothing where nothing lies."""
    folder, _ = shop
    art = picture(tmp_path / "a.psd", small_readings.condition.inks[0])
    options = {"finished": (40, 8), "spots": folder / "a.spots"}
    white = small_readings.condition.inks[2]
    proof_artwork(folder / "small.cond", art, tmp_path / "a.png", **options)
    proof_artwork(folder / "small.cond", art, tmp_path / "b.png", underbase=white, **options)
    a, b = (np.asarray(Image.open(tmp_path / name).convert("RGB")).astype(int) for name in ("a.png", "b.png"))
    np.testing.assert_array_equal(a[:, 0], b[:, 0])
    assert np.abs(a[:, 16] - b[:, 16]).max() > 30


def test_swatches_of_older_tables_have_no_colours(shop, tmp_path):
    folder, _ = shop
    spots, _ = read_spots(folder / "a.spots")
    write_spots(tmp_path / "old.spots", replace(spots, prints=()))
    assert read_spots(tmp_path / "old.spots")[0].prints == ()
    art = picture(tmp_path / "a.psd", "Coral 12")
    result = check_artwork(folder / "small.cond", art, finished=(40, 20), spots=tmp_path / "old.spots")
    assert result.results["named"][0]["by_swatch"]
    assert result.results["named"][0]["swatch"] is None
