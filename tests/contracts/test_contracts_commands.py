"""Every command once, through the installed program."""

import csv
import hashlib
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from contracts_page import result_fields
from contracts_program import CMYK, ROLL, call, chart_text, ink_lab, inside, recipes

from strikeoff.measurement.read import read_readings
from strikeoff.measurement.write import write_readings

KEYS = ["schema", "status", "results", "problems", "outputs"]


def checked(document, schema, *outputs):
    """Look at what every document has; return its results."""
    assert list(document) == KEYS
    assert document["schema"] == f"strikeoff/{schema}/1"
    assert document["status"] == "ok"
    assert set(document["results"]) == result_fields(schema.replace("-", " ", 1))
    assert [output["path"] for output in document["outputs"]] == [str(path) for path in outputs]
    for output in document["outputs"]:
        data = Path(output["path"]).read_bytes()
        assert output["sha256"] == hashlib.sha256(data).hexdigest()
    return document["results"]


def table(path):
    """Header and rows of an ISO 28178 text, read here by hand."""
    text = path.read_text()
    names = text.split("BEGIN_DATA_FORMAT\n")[1].split("\nEND_DATA_FORMAT")[0].split()
    rows = text.split("BEGIN_DATA\n")[1].split("\nEND_DATA")[0].splitlines()
    return text, [dict(zip(names, row.split("\t"), strict=True)) for row in rows]


def floats(rows, *names):
    return np.array([[float(row[name]) for name in names] for row in rows])


def test_readings_check(chart):
    done = inside("readings", "check", chart)
    assert (done.code, done.err.count("Traceback")) == (0, 0)
    assert done.out
    results = checked(call("readings", "check", chart, "--json").document, "readings-check")
    assert results["patches"] == len(recipes())
    assert (results["noise"]["source"], results["sequence"]) == ("default", [])


def test_readings_assign(tmp_path):
    done = inside(
        "chart", "make", "--kind", "lot-check", "--inks", "C,M,Y,K", "--out", tmp_path / "lot", "--json"
    )
    assert done.code == 0
    reference = tmp_path / "lot" / "lot-check.txt"
    _, rows = table(reference)
    inks = floats(rows, *CMYK.split()) / 100
    plain, out = tmp_path / "plain.csv", tmp_path / "readings.txt"
    lines = [
        f"{row['ROW']}{row['COLUMN']},{','.join(f'{v:.4f}' for v in lab)}"
        for row, lab in zip(rows, ink_lab(inks), strict=True)
    ]
    # Backwards: places say which patch is which.
    plain.write_text("\n".join(["Id,LAB_L,LAB_A,LAB_B", *lines[::-1], ""]))
    done = inside("readings", "assign", reference, plain, "--out", out, "--json")
    assert done.code == 0, done.err + done.out
    results = checked(done.document, "readings-assign", out)
    assert (results["by"], results["readings"], results["missing"]) == ("places", len(rows), [])
    _, made = table(out)
    assert (
        np.abs(ink_lab(floats(made, *CMYK.split()) / 100) - floats(made, "LAB_L", "LAB_A", "LAB_B")).max()
        < 1e-3
    )
    assert [row["SAMPLE_ID"] for row in made] == [row["SAMPLE_ID"] for row in rows][::-1]
    refused = tmp_path / "refused.txt"
    assert inside("readings", "assign", reference, plain, "--by", "names", "--out", refused).code == 3
    assert inside("readings", "assign", reference, plain, "--by", "luck", "--out", refused).code == 2
    assert not refused.exists()


def test_readings_merge_and_convert(chart, tmp_path):
    """The mean of a chart and one that reads alike is the chart, whatever the format; a copy is refused."""
    other, again, out = tmp_path / "chart.cxf", tmp_path / "again.cxf", tmp_path / "merged.txt"
    done = call("readings", "convert", chart, "--out", other, "--json")
    assert checked(done.document, "readings-convert", other)["format"] == "CxF3"
    assert inside("readings", "merge", chart, other, "--out", out).code == 3
    copy, _ = read_readings(other)
    write_readings(again, replace(copy, lab=copy.lab + 5e-4))
    done = inside("readings", "merge", chart, again, "--out", out, "--json")
    results = checked(done.document, "readings-merge", out)
    assert (results["readings"], results["recipes"]) == (2 * len(recipes()), len(recipes()))
    _, rows = table(out)
    assert {row["READINGS"] for row in rows} == {"2"}
    assert np.abs(floats(rows, "LAB_L", "LAB_A", "LAB_B") - ink_lab(recipes())).max() < 1e-3


def test_condition_build(build, condition):
    results = checked(build.document, "condition-build", condition)
    assert results["ink_columns"] == CMYK.split()
    assert results["total_ink_percent"] == 300
    with zipfile.ZipFile(condition) as archive:
        names = archive.namelist()
        assert names[:2] == ["condition.json", "readings/original"]
        assert {name.rsplit(".", 1)[-1] for name in names[2:]} == {"npy", "icc"}
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_condition_show(build, condition):
    done = inside("condition", "show", condition)
    assert done.code == 0
    assert "300 %" in done.out
    shown = checked(call("condition", "show", condition, "--json").document, "condition-show")
    assert shown == build.document["results"]


def test_condition_predict(condition, tmp_path):
    """Rows come back in order, close to the physics that made the chart."""
    inks = np.array([[0.3, 0.1, 0, 0], [0, 0, 0, 0], [0.6, 0.2, 0.4, 0.1], [0, 0.9, 0.1, 0]])
    patches, out = tmp_path / "patches.txt", tmp_path / "colours.txt"
    patches.write_text(chart_text(inks, lab=np.zeros((4, 0)), fields=""))
    done = call("condition", "predict", condition, patches, "--out", out, "--json")
    checked(done.document, "condition-predict", out)
    text, rows = table(out)
    assert [row["SAMPLE_ID"] for row in rows] == ["P1", "P2", "P3", "P4"]
    assert np.abs(floats(rows, *CMYK.split()) - 100 * inks).max() < 1e-6
    assert np.abs(floats(rows, "LAB_L", "LAB_A", "LAB_B") - ink_lab(inks)).max() < 4.0
    assert 'ILLUMINATION_NAME "D50"' in text
    assert 'OBSERVER_ANGLE "2"' in text
    assert "CONDITION_DIGEST" in text


def test_condition_spots_and_their_separation(condition, image, tmp_path):
    """A book becomes tint tables and a page; artwork is separated with them and an underbase."""
    book, out, page = tmp_path / "book.toml", tmp_path / "a.spots", tmp_path / "a.html"
    lab = ink_lab([[0.4, 0.3, 0.2, 0.0]])[0]
    book.write_text(
        'name = "Autumn"\n[[colour]]\nname = "Coral"\n'
        f"lab = [{', '.join(f'{v:.3f}' for v in lab)}]\n"
        '[[colour]]\nname = "Far"\nlab = [50, 110, -90]\n'
    )
    done = inside("condition", "spots", condition, book, "--page", page, "--out", out, "--json")
    results = checked(done.document, "condition-spots", out, page)
    assert (results["in_reach"], results["out_of_reach"]) == (1, 1)
    assert [row["kind"] for row in results["colours"]] == ["lab", "lab"]
    white = ["--underbase", "Y", "--underbase-percent", "50", "--choke-mm", "0.5", "--spots", out]
    planes = tmp_path / "p.tif"
    done = inside("artwork", "separate", condition, image, *white, "--out", planes, "--json")
    results = checked(done.document, "artwork-separate", planes)
    assert results["underbase"] == {"ink": "Y", "percent": 50, "choke_mm": 0.5}
    both = inside("artwork", "separate", condition, image, *white, "--spread-mm", "1", "--out", planes)
    assert both.code == 2


def test_artwork_palette_and_recolour(condition, tmp_path):
    """A palette found; colourways of hex, swatch and recipe: planes, picture and sheet."""
    import tifffile
    from PIL import Image

    pixels = np.full((40, 60, 3), 255, np.uint8)
    pixels[10:30, :30], pixels[:, 45:] = (200, 40, 50), (20, 60, 120)
    Image.fromarray(pixels).save(tmp_path / "flat.png", dpi=(100, 100))
    found, ways, book = (tmp_path / name for name in ("p.toml", "ways.csv", "book.toml"))
    done = call("artwork", "palette", tmp_path / "flat.png", "--out", found, "--json")
    results = checked(done.document, "artwork-palette", found)
    assert ([c["hex"] for c in results["colours"]], results["is_sure"]) == (
        ["#ffffff", "#143c78", "#c82832"], True,
    )  # fmt: skip
    book.write_text('[[colour]]\nname = "Moss"\nlab = [50, -15, 25]\n')
    ways.write_text("from,Day,Night\ncolour 1,,#506070\ncolour 2,inks C 20 M 40,Moss\n")
    words = [
        "artwork",
        "recolour",
        tmp_path / "flat.png",
        found,
        ways,
        "--condition",
        condition,
        "--book",
        book,
    ]
    out, sheet = tmp_path / "made", tmp_path / "sheet.html"
    done = call(*words, "--sheet", sheet, "--out", out, "--json")
    files = [out / f"{way}-{what}.tif" for way in ("Day", "Night") for what in ("planes", "picture")]
    results = checked(done.document, "artwork-recolour", *files, sheet)
    assert [row["files"]["planes"] for row in results["colourways"]] == ["Day-planes.tif", "Night-planes.tif"]
    planes = tifffile.imread(files[0])
    assert (planes[0, 0] == 0).all()
    assert planes[0, 50].tolist() == [13107, 26214, 0, 0]
    assert tifffile.imread(files[3])[0, 0].tolist() == [0x50, 0x60, 0x70]
    assert "Moss" in sheet.read_text()


def test_artwork_repeat(tmp_path):
    """A swatch of known repeat in grey gives its size and one tile; half of it is refused."""
    import tifffile
    from PIL import Image

    unit = np.random.default_rng(3).integers(0, 256, (10, 12), np.uint8).repeat(8, axis=0).repeat(8, axis=1)
    swatch = np.tile(unit, (3, 3))[5:, 7:]
    Image.fromarray(swatch).save(tmp_path / "swatch.png")
    words = [
        "artwork",
        "repeat",
        tmp_path / "swatch.png",
        "--finished",
        "240x200",
        "--out",
        tmp_path / "t.tif",
    ]
    done = call(*words, "--json")
    results = checked(done.document, "artwork-repeat", tmp_path / "t.tif")
    assert (results["repeat"], results["offset"], results["tile_px"]) == ("straight", None, [96, 80])
    assert np.abs(np.subtract(results["repeat_px"], (96, 80))).max() < 0.05
    assert np.abs(np.subtract(results["ppi"], 96 / 240 * 25.4)).max() < 0.01
    assert tifffile.imread(tmp_path / "t.tif").shape == (80, 96)
    Image.fromarray(swatch[:120, :140]).save(tmp_path / "swatch.png")
    refused = inside(*words)
    assert (refused.code, "no repeat found" in refused.err) == (3, True)


def test_condition_match(condition, tmp_path):
    """A colour of the inks is found, a colour beyond them is said to be beyond, order is kept."""
    lab = np.vstack([[[50.0, 110.0, -90.0]], ink_lab([[0.4, 0.3, 0.2, 0.0]])])
    colours, out = tmp_path / "colours.csv", tmp_path / "recipes.txt"
    colours.write_text(
        "LAB_L,LAB_A,LAB_B\n" + "\n".join(",".join(f"{v:.4f}" for v in row) for row in lab) + "\n"
    )
    done = call("condition", "match", condition, colours, "--out", out, "--json")
    checked(done.document, "condition-match", out)
    _, rows = table(out)
    assert [row["IN_GAMUT"] for row in rows] == ["0", "1"]
    assert float(rows[0]["DE00"]) > 3
    inks = floats(rows, *CMYK.split())
    assert inks.min() >= 0
    assert inks.sum(axis=1).max() <= 300.01
    assert np.abs(ink_lab(inks[1:] / 100) - lab[1:]).max() < 4.0


def test_condition_lights(small_readings, tmp_path):
    from strikeoff.condition.archive import write_condition

    cond, out = tmp_path / "a.cond", tmp_path / "lights.csv"
    write_condition(cond, small_readings.condition)
    recipes_file = tmp_path / "recipes.txt"
    recipes_file.write_bytes(small_readings.data)
    words = ["condition", "lights", cond, recipes_file, "--illuminant", "A", "--out", out]
    done = call(*words, "--illuminant", "LED-B3", "--observer", "10", "--json")
    results = checked(done.document, "condition-lights", out)
    assert [row["light"] for row in results["lights"]] == ["A", "LED-B3"]
    assert "metamerism" in inside(*words).out


def test_condition_report(condition, tmp_path):
    page, paper = tmp_path / "report" / "condition.html", tmp_path / "c.pdf"
    done = inside("condition", "report", condition, "--out", tmp_path / "report", "--pdf", paper, "--json")
    results = checked(done.document, "condition-report", page, paper)
    assert paper.read_bytes()[:5] == b"%PDF-"
    assert results["pdf_pages"] >= 5
    assert results["condition"] in page.read_text()


@pytest.mark.parametrize(("version", "byte"), [("2", 2), ("4", 4)])
def test_profile_write(condition, tmp_path, version, byte):
    """ICC.1:2022 clause 7.2: byte 8 is the major version, bytes 16-19 the data colour space."""
    out = tmp_path / "cloth.icc"
    run = call if version == "2" else inside
    done = run("profile", "write", condition, "--version", version, "--out", out, "--json")
    checked(done.document, "profile-write", out)
    data = out.read_bytes()
    assert (data[8], data[12:16], data[16:20]) == (byte, b"prtr", b"CMYK")


def test_artwork_separate(separation, planes):
    import tifffile

    checked(separation.document, "artwork-separate", planes)
    with tifffile.TiffFile(planes) as tiff:
        page = tiff.pages[0]
        assert (page.shape, page.dtype) == ((64, 96, 4), np.uint16)
        assert (page.photometric, page.tags["InkSet"].value) == (5, 1)
        assert np.divide(*page.tags["XResolution"].value) == pytest.approx(150, abs=0.05)


def test_roll_compose_with_nozzles(planes, tmp_path):
    """Every column has its line in every ink, 5 rows at 120 dots per inch, in the last part of the leader."""
    import tifffile

    out = tmp_path / "nozzles.tif"
    done = inside("roll", "compose", planes, *ROLL.split(), "--nozzles", "--out", out, "--json", "--quiet")
    assert done.code == 0
    plan = done.document["results"]
    leader = tifffile.imread(out)[: plan["leader_px"], plan["margin_px"] : -plan["margin_px"]]
    first = np.flatnonzero((leader[..., 3] == 65535).sum(axis=1) == -(-leader.shape[1] // 16))[0] - 3 * 17 * 5
    assert (np.count_nonzero(leader[first : first + 4 * 17 * 5], axis=0) == 5).all()


def test_roll_compose_with_marks(planes, tmp_path):
    """Cutter marks beside the design, 400 mm apart on the finished goods; drops from the same roll."""
    out, drops, places = tmp_path / "marked.tif", tmp_path / "drops.tif", tmp_path / "places.csv"
    marks = ["--marks", "cutter,register", "--bare", "0", "--positions", places]
    done = inside(
        "roll", "compose", planes, *ROLL.split(), *marks, "--out", out, "--drops", drops, "--json", "--quiet"
    )
    assert done.code == 0, done.err
    counts = done.document["results"]["marks"]
    assert counts["register"] == 6
    with places.open() as stream:
        rows = list(csv.DictReader(stream))
    for kind in ("cutter", "register"):
        assert sum(row["kind"] == kind for row in rows) == counts[kind]
    left = [float(row["y_finished_mm"]) for row in rows if (row["kind"], row["side"]) == ("cutter", "left")]
    assert left[1] - left[0] <= 400.01
    wrong = inside("roll", "compose", planes, *ROLL.split(), "--marks", "fold", "--out", out, "--json")
    assert wrong.code == 2
    assert "no such marks" in wrong.document["problems"][0]["message"]


def test_roll_compose(composition, roll, shop):
    """C1 of any textbook: printed = finished / (1 + change), here 60 / 0.97 mm at 100 dpi is 243.5 px."""
    results = checked(composition.document, "roll-compose", roll, shop / "roll.svg", shop / "strip.txt")
    assert results["repeat_px"] == [244, 200]
    assert results["whole_repeats_across"] == 3
    assert (shop / "roll.svg").read_text().startswith("<svg")
    strip = (shop / "strip.txt").read_text()
    assert "CMYK_K" in strip
    assert 'INK_NAMES "C M Y K"' in strip


def test_roll_screen(roll, tmp_path):
    import tifffile

    out = tmp_path / "drops.tif"
    done = call("roll", "screen", roll, "--out", out, "--json")
    checked(done.document, "roll-screen", out)
    with tifffile.TiffFile(out) as tiff:
        page = tiff.pages[0]
        assert (page.bitspersample, page.samplesperpixel) == (1, 4)
        assert (page.tags["XResolution"].value, page.tags["YResolution"].value) == ((100, 1), (120, 1))


@pytest.mark.parametrize(
    ("shift", "status", "code"), [(0.0, "ok", 0), (6.0, "fail", 1), (None, "undecided", 4)]
)
def test_control_verify(condition, composition, shop, tmp_path, shift, status, code):
    """As printed: pass. Six units lighter: fail. On the limit: undecided."""
    _, rows = table(shop / "strip.txt")
    inks = floats(rows, *CMYK.split()) / 100
    predicted = tmp_path / "aims.txt"
    assert inside("condition", "predict", condition, shop / "strip.txt", "--out", predicted).code == 0
    lab = floats(table(predicted)[1], "LAB_L", "LAB_A", "LAB_B")
    limit = 1.0 if shift is None else 2.0
    lab[:, 0] -= 1.0 if shift is None else shift
    readings, limits = tmp_path / "strip read.txt", tmp_path / "limits.toml"
    readings.write_text(chart_text(inks, lab=lab))
    limits.write_text(
        '[guard]\ncoverage_factor = 2.0\ninstrument_sd = 0.1\nreading_sd = 0.3\n[[item]]\nname = "Mean"\n'
        f'patches = "all"\nstatistic = "mean"\nformula = "de1976"\nlimit = {limit}\n'
    )
    run = call if code == 1 else inside
    done = run("control", "verify", condition, readings, "--tolerances", limits, "--json")
    assert (done.code, done.document["status"]) == (code, status), done.out
    assert done.document["schema"] == "strikeoff/control-verify/1"
    assert set(done.document["results"]) == result_fields("control verify")
    human = inside("control", "verify", condition, readings, "--tolerances", limits)
    assert human.code == code
    assert "Mean" in human.out


def test_the_same_again_gives_the_same_bytes(planes, roll, tmp_path):
    """A second roll of the same planes is the same file, bit for bit."""
    again = tmp_path / "again.tif"
    assert inside("roll", "compose", planes, *ROLL.split(), "--job", "Fern 3", "--out", again).code == 0
    assert again.read_bytes() == roll.read_bytes()


def test_chart_make(tmp_path):
    """A page, its preview and its reference; the middle of the first patch holds the first row's inks."""
    import tifffile

    out = tmp_path / "chart"
    words = ["chart", "make", "--inks", "C,M,Y,K", "--patches", "40", "--repeats", "2", "--page", "150x200"]
    options = [
        "--kind",
        "characterisation",
        "--dpi",
        "50.8",
        "--bits",
        "8",
        "--seed",
        "3",
        "--total-ink",
        "260",
    ]
    done = call(*words, *options, "--out", out, "--json")
    files = [out / f"characterisation{end}" for end in ("-01.tif", ".pdf", ".txt")]
    results = checked(done.document, "chart-make", *files)
    assert (results["patches"], results["recipes"], results["pages"]) == (42, 40, 1)
    assert results["highest_total_percent"] <= 260
    text, rows = table(files[2])
    assert 'INK_SPACE "calibrated"' in text
    assert 'CURVES_DIGEST "identity"' in text
    plane = tifffile.imread(files[0])
    x, y = floats(rows[:1], "POSITION_X_MM", "POSITION_Y_MM")[0] + results["patch_mm"] / 2
    assert np.abs(plane[round(2 * y), round(2 * x)] / 2.55 - floats(rows[:1], *CMYK.split())[0]).max() < 0.2
    again = tmp_path / "again"
    assert inside(*words, *options, "--out", again).code == 0
    for file in files:
        assert (again / file.name).read_bytes() == file.read_bytes()


@pytest.mark.parametrize("kind", ["ink-limit", "total-ink", "grid", "strip", "linearisation", "first"])
def test_chart_make_of_a_condition(condition, tmp_path, kind):
    """Charts that find curves and limits are printed past them."""
    words = ["chart", "make", "--kind", kind, "--condition", condition, "--dpi", "30", "--out", tmp_path]
    endings = ["-01.tif", ".pdf", ".txt"][: 2 if kind in ("total-ink", "grid") else 3]
    files = [tmp_path / f"{kind}{ending}" for ending in endings]
    results = checked(inside(*words, "--json").document, "chart-make", *files)
    past = kind in ("ink-limit", "total-ink", "grid", "linearisation")
    assert results["ink_space"] == ("laid-down" if past else "calibrated")
    assert results["highest_total_percent"] <= (400 if past else 300)
    assert (results["highest_total_percent"] == 400) == (kind == "total-ink")


@pytest.mark.parametrize(
    ("kind", "option", "value", "said"),
    [
        ("characterisation", "--seed", "-3", "0 or more"),
        ("strip", "--patches", "40", "characterisation, first, lot-check"),
        ("grid", "--combine", "C+M", "ink-limit, total-ink"),
        ("linearisation", "--steps", "100,200", "total-ink"),
        ("total-ink", "--total-ink", "280", "--steps"),
        ("strip", "--dpi", "5", "10 to 10,000 dpi"),
    ],
)
def test_chart_options_that_cannot_be(tmp_path, kind, option, value, said):
    """What a kind does not take is refused, not passed over."""
    words = ["chart", "make", "--kind", kind, "--inks", "C,M,Y,K", option, value, "--out", tmp_path / "no"]
    done = inside(*words, "--json")
    assert (done.code, done.document["problems"][0]["kind"]) in ((2, "usage"), (3, "range"))
    assert said in str(done.document["problems"][0])
    assert not (tmp_path / "no").exists()


def test_chart_next(condition, image, tmp_path):
    out = tmp_path / "next"
    words = ["chart", "next", condition, "--patches", "12", "--artwork", image, "--dpi", "50", "--out", out]
    files = [out / f"next{end}" for end in ("-01.tif", ".pdf", ".txt")]
    results = checked(call(*words, "--json").document, "chart-next", *files)
    assert results["weighted_by"] == ["motif.png"]
    errors = [error for _, error in results["expected_de00"]]
    assert errors == sorted(errors, reverse=True)
    assert results["stopped_by"] == "patches"
    inks = floats(table(files[2])[1], *CMYK.split())
    assert len(inks) == 12
    assert inks.sum(axis=1).max() <= 300
    assert np.abs(inks[:, None] - 100 * recipes()[None]).max(axis=2).min() >= 2
    done = inside("chart", "next", condition, "--target", "50", "--out", tmp_path / "none")
    assert done.code == 2
    assert "good enough" in done.err


def test_artwork_check(condition, image, tmp_path):
    page = tmp_path / "check.html"
    words = ["artwork", "check", image, "--condition", condition, "--out", page]
    done = call(*words, "--finished", "16x10.667", "--json")
    results = checked(done.document, "artwork-check", page)
    assert (done.code, results["effective_ppi"][0]) == (0, pytest.approx(152.4))
    large = inside(*words, "--finished", "96x64")
    assert large.code == 1
    assert "error: resolution" in large.out


def test_artwork_proof(condition, image, tmp_path):
    picture = tmp_path / "proof.png"
    words = ["artwork", "proof", image, "--condition", condition, "--finished", "96x64", "--weave", "plain"]
    done = inside(*words, "--out", picture, "--json")
    results = checked(done.document, "artwork-proof", picture)
    assert (results["width_px"], results["mm_per_pixel"]) == (96, 1.0)
