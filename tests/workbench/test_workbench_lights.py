"""Colours and prints under other lights, through files."""

import re
from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tristimulus import spectra_to_xyz
from strikeoff.colour.weights import white_point
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.inks.goods import Cloth, Goods
from strikeoff.measurement.light_file import read_light
from strikeoff.measurement.read import read_readings, readings_lab
from strikeoff.measurement.write import write_readings
from strikeoff.mill.press import invented_press
from strikeoff.report.screen_colour import lab_to_srgb
from strikeoff.workbench import compare_lights, match, predict
from strikeoff.workbench.lights_picture import screen_patches, write_picture


@pytest.fixture(scope="module")
def folder(tmp_path_factory, small_readings, measured_set):
    """A condition of three simulated inks, five prints of it, five readings of another press."""
    folder = tmp_path_factory.mktemp("lights")
    write_condition(folder / "a.cond", small_readings.condition)
    inks = np.random.default_rng(3).uniform(0, 0.7, (5, 3))
    spectra = invented_press("T1", inks="CMY").print(inks)
    prints = replace(small_readings.readings.take(np.arange(5)), coverages=inks, spectra=spectra)
    write_readings(folder / "recipes.txt", prints)
    lab = readings_lab(measured_set)
    calm = np.flatnonzero((np.hypot(lab[:, 1], lab[:, 2]) < 20) & (abs(lab[:, 0] - 65) < 10))
    colours = measured_set.take(calm[:: len(calm) // 5][:5])
    plain = replace(colours, ink_columns=(), coverages=np.zeros((len(colours), 0)))
    write_readings(folder / "colours.cxf", plain)
    return folder


def columns(path, prefix):
    lines = path.read_text().splitlines()
    names = lines[lines.index("BEGIN_DATA_FORMAT") + 1].split()
    rows = [line.split() for line in lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")]]
    return {n: [row[i] for row in rows] for i, n in enumerate(names) if n.startswith(prefix)}


def test_recipes_are_compared_with_their_readings(folder, tmp_path):
    out = tmp_path / "o.txt"
    result = compare_lights(
        folder / "a.cond", folder / "recipes.txt", out, illuminants=["A", "fl11"], observer="10"
    )
    assert [row["light"] for row in result.results["lights"]] == ["A", "FL11"]
    record, _ = read_condition(folder / "a.cond")
    readings, _ = read_readings(folder / "recipes.txt")
    printed = record.forward.reflectance(readings.coverages)
    for light, column in zip(("A", "FL11"), columns(out, "DE00_").values(), strict=True):
        lab = [
            xyz_to_lab(spectra_to_xyz(s, readings.wavelengths_nm, light, "10"), white_point(light, "10"))
            for s in (readings.spectra, printed)
        ]
        np.testing.assert_allclose(np.array(column, float), delta_e_2000(*lab), atol=1e-4)
    # The same inks: what the model is off by is about the same under every light.
    assert result.results["lights"][0]["mean_mi"] < 0.7
    assert result.results["lights"][0]["mean_de00"] < 3
    assert 0.1 < result.results["lights"][0]["mean_cii"] < 12


def test_colours_out_of_reach_are_told(folder, tmp_path):
    """No print has L* 5 at C* 100: what is said is of the nearest one."""
    (tmp_path / "c.csv").write_text("SAMPLE_ID,LAB_L,LAB_A,LAB_B\nnear,70,5,5\nfar,5,80,-60\n")
    result = compare_lights(folder / "a.cond", tmp_path / "c.csv", tmp_path / "o.csv", illuminants=["A"])
    told = [p for p in result.problems if "out of reach" in p.message]
    assert [(p.where, p.message[:35]) for p in told] == [("patch far", "1 of 2 colours out of reach under D")]
    # Lab can be compared under no other light: the table is of the prints alone, JSON has its nulls.
    assert result.lines[1].split() == ["light", "inconstancy"]
    assert result.results["lights"][0]["mean_de00"] is None


def test_colours_are_matched_under_the_reference(folder, tmp_path):
    """Four inks find other recipes, with more black or less: metamerism, but little under the reference."""
    result = compare_lights(folder / "a.cond", folder / "colours.cxf", tmp_path / "o.csv")
    rows = {row["light"]: row for row in result.results["lights"]}
    assert list(rows) == ["D65", "A", "FL2", "FL11", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5"]
    assert 0 < rows["FL11"]["mean_mi"] < 6
    assert any("ultraviolet" in p.message for p in result.problems)
    reference = compare_lights(
        folder / "a.cond", folder / "colours.cxf", tmp_path / "p.csv", illuminants=["D50"]
    )
    assert reference.results["lights"][0]["mean_de00"] < 0.5
    assert reference.results["lights"][0]["max_cii"] == 0


def test_whitened_colours_are_undecided(folder, tmp_path, measured_set):
    readings, _ = read_readings(folder / "colours.cxf", need_inks=False)
    spectra = readings.spectra.copy()
    spectra[1, 6] = 1.2
    write_readings(tmp_path / "bright.txt", replace(readings, spectra=spectra))
    out = tmp_path / "o.txt"
    result = compare_lights(folder / "a.cond", tmp_path / "bright.txt", out, illuminants=["A"])
    assert result.results["undecided"] == 1
    for column in columns(out, "DE00_").values():
        assert [cell == "undecided" for cell in column] == [False, True, False, False, False]
    spectra = readings.spectra.copy()
    spectra[3, :8] *= 0.7
    write_readings(tmp_path / "without.txt", replace(readings, spectra=spectra))
    result = compare_lights(
        folder / "a.cond",
        folder / "colours.cxf",
        out,
        illuminants=["A"],
        uv_excluded=tmp_path / "without.txt",
    )
    assert [c == "undecided" for c in columns(out, "CII_")["CII_A"]] == [False, False, False, True, False]


def test_a_cloth_above_one_decides_nothing(folder, tmp_path, small_readings):
    condition = small_readings.condition
    model = condition.forward
    bands = model.bands.copy()
    bands[model.recipes.sum(axis=1) == 0, 5] = 1.3
    glowing = replace(condition, forward=replace(model, bands=bands))
    write_condition(tmp_path / "g.cond", glowing)
    result = compare_lights(tmp_path / "g.cond", folder / "recipes.txt", tmp_path / "o.txt")
    assert result.results["undecided"] == 5
    assert all(row["mean_cii"] is None for row in result.results["lights"])
    assert result.lines[1:] == ("no figures: 5 colours are undecided under other lights",)


def test_a_measured_light(folder, tmp_path):
    """Equal power equals illuminant E; bad files are refused with their line."""
    lamp = tmp_path / "shop.csv"
    lamp.write_text("wavelength,power\n" + "".join(f"{nm},2.5\n" for nm in range(380, 781, 5)))
    result = compare_lights(
        folder / "a.cond", folder / "recipes.txt", tmp_path / "o.txt", illuminants=["E"], measured=[lamp]
    )
    e, shop = result.results["lights"]
    assert (e["light"], shop["light"]) == ("E", "shop")
    assert shop["mean_cii"] == pytest.approx(e["mean_cii"], abs=1e-4)
    for text, says in (
        ("380,1\n385,x\n", "no pair"),
        ("400,1\n300,1\n", "rise"),
        ("400,1\n420,1\n", "coarse"),
        ("nothing\n", "no light"),
        ("".join(f"{nm},-1\n" for nm in range(390, 720, 5)), "negative"),
    ):
        lamp.write_text(text)
        with pytest.raises(InputError, match=says):
            read_light(lamp)


def test_measured_lights_keep_apart_from_illuminants_and_each_other(folder, tmp_path):
    """A file A.csv of equal power is no illuminant A, and does not take its place."""
    power = "".join(f"{nm},2.5\n" for nm in range(380, 781, 5))
    for name in ("A.csv", "more/A.csv"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(power)
    ask = (folder / "a.cond", folder / "recipes.txt", tmp_path / "o.txt")
    result = compare_lights(*ask, illuminants=["A", "E"], measured=[tmp_path / "A.csv"])
    a, e, read = result.results["lights"]
    assert [one["light"] for one in (a, e, read)] == ["A", "E", "A-measured"]
    assert read["mean_cii"] == pytest.approx(e["mean_cii"], abs=1e-4)
    assert abs(read["mean_cii"] - a["mean_cii"]) > 0.05
    with pytest.raises(UsageError, match="one name"):
        compare_lights(*ask, measured=[tmp_path / "A.csv", tmp_path / "more" / "A.csv"])


def test_refusals(folder, tmp_path, small_readings):
    with pytest.raises(UsageError, match="unknown illuminant"):
        compare_lights(folder / "a.cond", folder / "recipes.txt", tmp_path / "o", illuminants=["candle"])
    condition = small_readings.condition
    blind = replace(condition, wavelengths_nm=None)
    write_condition(tmp_path / "b.cond", blind)
    with pytest.raises(UsageError, match="without spectra"):
        compare_lights(tmp_path / "b.cond", folder / "recipes.txt", tmp_path / "o")
    other = replace(condition, setup=replace(condition.setup, mode="M2"))
    write_condition(tmp_path / "m.cond", other)
    readings, _ = read_readings(folder / "recipes.txt")
    write_readings(tmp_path / "m1.txt", replace(readings, setup=replace(readings.setup, mode="M1")))
    with pytest.raises(InputError, match="measuring mode"):
        compare_lights(tmp_path / "m.cond", tmp_path / "m1.txt", tmp_path / "o")


def test_a_picture_of_patches_under_each_light(folder, tmp_path):
    """Every colour once for each light beside its print; undecided ones say so; a page carries the table."""
    for name in ("l.svg", "l.html"):
        result = compare_lights(
            folder / "a.cond", folder / "colours.cxf", tmp_path / "o.txt", illuminants=["A", "FL11"],
            plot=tmp_path / name,
        )  # fmt: skip
        assert result.outputs[-1] == tmp_path / name
    svg = (tmp_path / "l.svg").read_text()
    texts = re.findall(r"<text[^>]*>([^<]*)</text>", svg)
    assert {"mean", "worst"} <= set(texts)
    assert [texts.count(light) for light in ("D50", "A", "FL11")] == [2, 2, 2]
    cells = [float(text) for text in texts if re.fullmatch(r"\d+\.\d", text)]
    wanted = [
        f"{float(cell):.1f}"
        for column in columns(tmp_path / "o.txt", "DE00_").values()
        for cell in column
    ]  # fmt: skip
    assert set(wanted) <= {f"{cell:.1f}" for cell in cells}
    page = (tmp_path / "l.html").read_text()
    assert "ISO 18314-4" in page
    assert "FL11" in page
    # The reference asked for as a light too is drawn once.
    compare_lights(
        folder / "a.cond", folder / "colours.cxf", tmp_path / "o.txt", illuminants=["D50", "A"],
        plot=tmp_path / "l.svg",
    )  # fmt: skip
    texts = re.findall(r"<text[^>]*>([^<]*)</text>", (tmp_path / "l.svg").read_text())
    assert [texts.count(light) for light in ("D50", "A")] == [2, 2]
    with pytest.raises(UsageError, match=r"\.svg or \.html"):
        compare_lights(folder / "a.cond", folder / "colours.cxf", tmp_path / "p.txt", plot=tmp_path / "l.png")
    assert not (tmp_path / "p.txt").exists()


def test_patches_on_the_screen_are_those_of_an_adapted_eye(measured_set):
    """A perfect diffuser is white under every light; under D50 the patch is the reading's own Lab."""
    grid = measured_set.wavelengths_nm
    cyan = measured_set.spectra[[measured_set.coverages.tolist().index([1.0, 0.0, 0.0, 0.0])]]
    spectra = np.vstack([np.ones((1, len(grid))), cyan])
    seen = screen_patches(spectra, grid, ["D50", "A"], "2").astype(int)
    assert (seen[0] >= 254).all()
    row = measured_set.coverages.tolist().index([1.0, 0.0, 0.0, 0.0])
    own, _ = lab_to_srgb(readings_lab(measured_set)[row], white_point("D50", "2"))
    assert np.abs(seen[1, 0] - own).max() <= 1
    assert np.abs(seen[1, 0] - seen[1, 1]).max() > 2


def test_prints_with_fluorescent_ink_are_undecided_below_reflectance_one_too(
    folder, tmp_path, small_readings
):
    condition = small_readings.condition
    spaces = condition.spaces
    inks = (replace(spaces.inks[0], role="fluorescent"), *spaces.inks[1:])
    write_condition(tmp_path / "f.cond", replace(condition, spaces=replace(spaces, inks=inks)))
    readings, _ = read_readings(folder / "recipes.txt")
    amounts = readings.coverages.copy()
    amounts[:, 0] = [0.3, 0.0, 0.05, 0.0, 0.8]
    write_readings(tmp_path / "r.txt", replace(readings, coverages=amounts))
    out = tmp_path / "o.txt"
    result = compare_lights(tmp_path / "f.cond", tmp_path / "r.txt", out, illuminants=["A"])
    wanted = [True, False, True, False, True]
    assert [cell == "undecided" for cell in columns(out, "CII_")["CII_A"]] == wanted
    assert result.results["undecided"] == 3
    assert any("fluorescent ink" in p.message for p in result.problems)


def test_predictions_and_recipes_say_so_as_well_but_not_under_their_own_light(
    folder, tmp_path, small_readings
):
    """The first ink counts as fluorescent, and colours may use it."""
    condition = small_readings.condition
    spaces = condition.spaces
    inks = (replace(spaces.inks[0], role="fluorescent"), *spaces.inks[1:])
    record = replace(condition, spaces=replace(spaces, inks=inks), process_inks=(condition.inks[0],))
    write_condition(tmp_path / "f.cond", record)
    readings, _ = read_readings(folder / "recipes.txt")
    amounts = np.array([[0.6, 0.0, 0.4], [0.0, 0.3, 0.3]])
    write_readings(tmp_path / "r.txt", replace(readings.take(np.arange(2)), coverages=amounts))

    out = tmp_path / "o.txt"
    told = predict(tmp_path / "f.cond", tmp_path / "r.txt", out, illuminant="A")
    radii = columns(out, "DE00_")["DE00_U90"]
    assert radii[0] == "undecided"
    assert 0 < float(radii[1]) == pytest.approx(told.results["median_de00_u90"], abs=1e-3)
    assert told.results["undecided"] == 1
    # What to do about it is told where other lights are asked for; here one short line is enough.
    assert [p.advice for p in told.problems if "fluorescent ink" in p.message] == [None]
    own = predict(tmp_path / "f.cond", tmp_path / "r.txt", tmp_path / "own.txt")
    assert own.results["undecided"] == 0
    assert not [p for p in own.problems if "undecided" in p.message]

    found = match(tmp_path / "f.cond", out, tmp_path / "m.txt", illuminant="A")
    cells = columns(tmp_path / "m.txt", "")
    assert cells["DE00"][0] == "undecided"
    assert float(cells["DE00"][1]) == pytest.approx(found.results["max_de00"], abs=1e-3)
    assert cells["IN_GAMUT"] == ["0", "1"]
    assert (found.results["undecided"], found.results["in_gamut"]) == (1, 1)


@pytest.mark.parametrize(
    ("known", "undecided", "asks"), [("yes", 5, False), ("no", 0, False), ("unknown", 0, True)]
)
def test_what_is_recorded_of_the_cloth_decides_whether_ultraviolet_matters(
    folder, tmp_path, small_readings, known, undecided, asks
):
    condition = replace(small_readings.condition, goods=Goods(cloth=Cloth(optical_brightener=known)))
    write_condition(tmp_path / "b.cond", replace(condition, setup=replace(condition.setup, mode=None)))
    for call in (compare_lights, predict):
        light = {"illuminants": ["A"]} if call is compare_lights else {"illuminant": "A"}
        result = call(tmp_path / "b.cond", folder / "recipes.txt", tmp_path / "o.txt", **light)
        assert result.results["undecided"] == undecided
        assert any("not known whether ultraviolet took part" in p.message for p in result.problems) == asks
        assert any("brightener is recorded" in p.message for p in result.problems) == (known == "yes")


def test_readings_without_ultraviolet_are_of_prints_and_of_their_mode(folder, tmp_path, small_readings):
    """Swatches of other cloth say nothing of the condition's whitener; M1 twice tells nothing (ISO 13655)."""
    condition = small_readings.condition
    whitened = Goods(cloth=Cloth(optical_brightener="yes"))
    setup = replace(condition.setup, mode="M1")
    write_condition(tmp_path / "w.cond", replace(condition, goods=whitened, setup=setup))
    call = {"condition": tmp_path / "w.cond", "out": tmp_path / "o.txt", "illuminants": ["A"]}
    for name, undecided in (("recipes.txt", 0), ("colours.cxf", 5)):
        readings, _ = read_readings(folder / name, need_inks=False)
        for mode in ("M1", "M2"):
            taken = replace(readings, setup=replace(readings.setup, mode=mode))
            write_readings(tmp_path / f"{mode}.txt", taken)
        result = compare_lights(colours=tmp_path / "M1.txt", uv_excluded=tmp_path / "M2.txt", **call)
        assert result.results["undecided"] == undecided
        with pytest.raises(InputError, match="of another mode") as refused:
            compare_lights(colours=tmp_path / "M1.txt", uv_excluded=tmp_path / "M1.txt", **call)
        assert (refused.value.found, refused.value.expected) == ("M1", "M2")


def test_undecided_colours_are_drawn_under_the_reference_only_and_the_page_says_why(
    folder, tmp_path, small_readings
):
    condition = small_readings.condition
    write_condition(
        tmp_path / "b.cond", replace(condition, goods=Goods(cloth=Cloth(optical_brightener="yes")))
    )
    page = tmp_path / "l.html"
    result = compare_lights(
        tmp_path / "b.cond", folder / "recipes.txt", tmp_path / "o.txt", illuminants=["A", "FL11"], plot=page
    )
    assert result.results["undecided"] == 5
    html = page.read_text()
    texts = re.findall(r"<text[^>]*>([^<]*)</text>", html)
    # Each of five colours under two lights, and in the bars; figures under the reference alone.
    assert texts.count("?") == 5 * 2 + 2
    assert len([text for text in texts if re.fullmatch(r"\d\.\d", text)]) >= 5
    assert "an optical brightener is recorded of the cloth" in html
    assert html.count("5 colours, 5 undecided") == 1


def picture_texts(path, unsure, figures):
    """What is written on a drawing of black colours under two lights."""
    names = [str(k) for k in range(len(unsure))]
    write_picture(
        path,
        names=names,
        lights=["D50", "A"],
        printed=np.zeros((len(names), 2, 3), np.uint8),
        wanted=None,
        figures=figures,
        unsure=unsure,
        table=[],
        facts={},
        reasons=[],
        label="measured",
    )
    return re.findall(r"<text[^>]*>([^<]*)</text>", path.read_text())


def test_decided_colours_are_drawn_before_undecided_ones(tmp_path):
    unsure = np.arange(30) < 10
    figures = np.where(unsure, 9.0, 1.0)[:, None] * np.array([0.0, 1.0])
    texts = picture_texts(tmp_path / "l.svg", unsure, figures)
    drawn = [text for text in texts if text in {str(k) for k in range(30)}]
    assert drawn == [str(k) for k in (*range(10, 30), *range(4))]
    assert texts.count("?") == 4


@pytest.mark.parametrize(("all_unsure", "explained"), [(True, set()), (False, {"mean", "worst"})])
def test_bars_are_explained_where_there_are_some(tmp_path, all_unsure, explained):
    """No print changes under the reference, and nobody knows how it changes under the other light."""
    unsure = np.array([True, all_unsure])
    texts = picture_texts(tmp_path / "l.svg", unsure, np.array([[0.0, 2.0], [0.0, 1.0]]))
    assert {"mean", "worst"} & set(texts) == explained
