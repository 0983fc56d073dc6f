"""Bad input: one clear line, the documented exit code, nothing half-written, the same as JSON."""

import struct

import numpy as np
import pytest
from contracts_program import CMYK, ROLL, call, chart_text, ink_lab, inside, recipes

CHART = recipes()


def listing(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def refused(words, folder, code, *says, run=inside):
    """Run both ways; nothing may appear in the folder, the text must name what matters."""
    before = listing(folder)
    human, machine = run(*words, "--quiet"), inside(*words, "--json", "--quiet")
    assert human.code == machine.code == code, human.err
    assert human.out == machine.err == ""
    assert human.err.count("\n") == 1
    assert human.err.startswith("error: ")
    assert "Traceback" not in human.err
    for text in says:
        assert text in human.err
    document = machine.document
    assert (document["status"], document["results"], document["outputs"]) == ("error", {}, [])
    assert len(document["problems"]) == 1
    assert document["problems"][0]["severity"] == "error"
    assert listing(folder) == before


def with_cell(text, row, column, value):
    lines = text.splitlines()
    at = lines.index("BEGIN_DATA") + row
    cells = lines[at].split()
    cells[column] = value
    lines[at] = " ".join(cells)
    return "\n".join(lines) + "\n"


def shuffled_ramp():
    """The readings of black's ramp against its order."""
    lab = ink_lab(CHART)
    rows = np.flatnonzero(CHART[:, :3].max(axis=1) == 0)[1:]
    lab[rows] = lab[np.roll(rows, 3)]
    return lab


BACKINGS = 'SAMPLE_BACKING "black"\nSAMPLE_BACKING "white"\nBEGIN_DATA_FORMAT'
GOOD = chart_text(CHART)
CHARTS = {
    "swapped ink columns": (chart_text(CHART, names="CMYK_M CMYK_C CMYK_Y CMYK_K"), "swapped"),
    "swapped colour columns": (chart_text(CHART, fields="LAB_L LAB_B LAB_A"), "swapped"),
    "lightness and red exchanged": (chart_text(CHART, fields="LAB_A LAB_L LAB_B"), "LAB_L"),
    "lightness and yellow exchanged": (chart_text(CHART, fields="LAB_B LAB_A LAB_L"), "LAB_L"),
    "a ramp in the wrong order": (chart_text(CHART, lab=shuffled_ramp()), "in the order of the recipes"),
    "two backings": (chart_text(CHART).replace("BEGIN_DATA_FORMAT", BACKINGS, 1), "several set-ups"),
    "fewer recipes than inks": (chart_text(CHART[[0, 1, 2]]), "fewer recipes"),
    "XML of another kind": ("<?xml version='1.0'?><html/>", "not CxF3"),
    "not a number": (with_cell(GOOD, 5, 6, "nan"), "line 15"),
    "words for a number": (with_cell(GOOD, 5, 6, "n/a"), "line 15"),
    "ink above full": (with_cell(GOOD, 5, 1, "140"), "CMYK_C"),
    "missing ink column": (
        chart_text(CHART[:, :3], names="CMYK_C CMYK_M CMYK_Y", lab=ink_lab(CHART)),
        "not complete",
    ),
    "ink never printed": (chart_text(CHART[CHART[:, 3] == 0]), "CMYK_K"),
    "no colour": (chart_text(CHART, lab=np.zeros((len(CHART), 0)), fields=""), "colour"),
    "no inks": (chart_text(np.zeros((len(CHART), 0)), names="", lab=ink_lab(CHART)), "ink"),
    "no cloth": (chart_text(CHART[CHART.sum(axis=1) > 0]), "bare cloth"),
    "cut short": (GOOD[: len(GOOD) // 2], "cut short"),
    "header only": (GOOD[: GOOD.index("BEGIN_DATA\n")], "no "),
    "empty": ("", "empty"),
    "a letter": ("Dear Sir,\nplease find the chart attached.\n", "field names"),
    "zeros": ("\0" * 5000, "empty"),
    "control characters": ("\1\2\3" * 5000, "no text"),
}


@pytest.mark.parametrize("name", CHARTS)
def test_bad_charts(name, tmp_path):
    text, says = CHARTS[name]
    chart = tmp_path / "chart.txt"
    chart.write_text(text)
    words = ["condition", "build", "--readings", chart, "--out", tmp_path / "out.cond"]
    refused(words, tmp_path, 3, says, "chart.txt")


def tiff_header(width, height, samples=3, bits=8):
    """One strip, no pixels: TIFF 6.0 section 2."""
    entries = [(256, 4, width), (257, 4, height), (258, 3, bits), (259, 3, 1), (262, 3, 2), (273, 4, 8)]
    entries += [(277, 3, samples), (278, 4, height), (279, 4, 4)]
    body = b"".join(
        struct.pack("<HHII" if kind == 4 else "<HHIHxx", code, kind, 1, value)
        for code, kind, value in entries
    )
    return b"II*\0" + struct.pack("<I", 12) + b"\0" * 4 + struct.pack("<H", len(entries)) + body + b"\0" * 4


PICTURES = {
    "cut off": (tiff_header(4000, 4000)[:-4] + b"\0" * 1000, "tif"),
    "a header of 100 gigapixels": (tiff_header(320_000, 320_000), "tif"),
    "a text": (b"Dear Sir,\nplease find the artwork attached.\n", "tif"),
    "empty": (b"", "tif"),
    "no picture": (bytes(range(200)) * 20, "png"),
    "half a JPEG": (b"\xff\xd8\xff\xe0\0\x10JFIF\0", "jpg"),
}


@pytest.mark.parametrize("name", PICTURES)
def test_bad_pictures(name, condition, tmp_path):
    data, ending = PICTURES[name]
    image = tmp_path / f"a.{ending}"
    image.write_bytes(data)
    refused(
        ["artwork", "separate", condition, image, "--out", tmp_path / "p.tif"], tmp_path, 3, f"a.{ending}"
    )


def test_recolouring_of_what_does_not_fit(condition, image, tmp_path):
    """A picture takes no palette; colourways must name what is there."""
    from PIL import Image

    palette, way, out = tmp_path / "p.toml", tmp_path / "way.csv", tmp_path / "out"
    palette.write_text(
        'schema = "strikeoff/palette/2"\n[[colour]]\nname = "a"\nhex = "#102030"\n'
        '[[colour]]\nname = "b"\nhex = "#f0e0d0"\n'
    )
    way.write_text("from,to\na,#405060\n")
    words = ["artwork", "recolour", image, palette, way, "--condition", condition, "--out", out]
    refused(words, tmp_path, 3, "palette does not fit the artwork", "artwork separate")
    flat = np.full((20, 30, 3), (16, 32, 48), np.uint8)
    flat[:, 20:] = (240, 224, 208)
    Image.fromarray(flat).save(tmp_path / "flat.png")
    words[2] = tmp_path / "flat.png"
    way.write_text("from,to\nb,Nowhere\n")
    refused(words, tmp_path, 3, "no such swatch", "--book")
    way.write_text("from,to\nc,#405060\n")
    refused(words, tmp_path, 3, "palette has no such colour", "row 1")
    palette.write_text("colour = 7")
    refused(words, tmp_path, 3, "not a palette", "p.toml")
    refused([*words, "--make", "all"], tmp_path, 2, "--make")


@pytest.mark.parametrize(
    "name", ["whole file cut off", "cut off", "a header of 100 gigapixels", "a text", "empty"]
)
def test_bad_planes(name, planes, tmp_path):
    whole = planes.read_bytes()
    bad, out = tmp_path / "a.tif", tmp_path / "out.tif"
    bad.write_bytes(PICTURES[name][0] if name in PICTURES else whole[: len(whole) // 2])
    refused(["roll", "compose", bad, *ROLL.split(), "--out", out], tmp_path, 3, "a.tif")
    refused(["roll", "screen", bad, "--out", out], tmp_path, 3, "a.tif")


@pytest.mark.parametrize("version", ["cut off", "a text", "other bytes", "empty"])
def test_bad_conditions(version, condition, tmp_path):
    whole = condition.read_bytes()
    changed = bytearray(whole)
    changed[len(whole) // 2] ^= 0xFF
    data = {"cut off": whole[:-500], "a text": b"hello", "other bytes": bytes(changed), "empty": b""}[version]
    bad = tmp_path / "bad.cond"
    bad.write_bytes(data)
    refused(["condition", "show", bad], tmp_path, 3, "bad.cond")


def change(words, option, value):
    words = list(words)
    words[words.index(option) + 1] = value
    return words


@pytest.mark.parametrize(
    ("option", "value", "code", "says"),
    [
        ("--warp", "-51", 3, "-50 to +20 %"),
        ("--warp", "20.5", 3, "-50 to +20 %"),
        ("--weft", "-80", 3, "-50 to +20 %"),
        ("--width", "60", 3, "narrower than one repeat"),
        ("--width", "-1400", 3, "width"),
        ("--length", "30", 3, "shorter than one repeat"),
        ("--length", "1e9", 3, "length"),
        ("--finished", "0.2x40", 3, "width"),
        ("--dpi", "5", 3, "dpi"),
        ("--dpi", "600x0", 2, "--dpi"),
        ("--finished", "640", 2, "--finished"),
        ("--warp", "-5,5", 2, "--warp"),
        ("--repeat", "spiral", 2, "--repeat"),
    ],
)
def test_bad_roll_sizes(option, value, code, says, planes, tmp_path):
    words = ["roll", "compose", planes, *change(ROLL.split(), option, value), "--out", tmp_path / "r.tif"]
    refused(words, tmp_path, code, says)


def test_bad_recipes_colours_and_limits(condition, chart, tmp_path):
    other = tmp_path / "other.txt"
    other.write_text(chart_text(CHART[:5, :2], names="2CLR_1 2CLR_2", lab=ink_lab(CHART[:5])))
    out = tmp_path / "o.txt"
    refused(["condition", "predict", condition, other, "--out", out], tmp_path, 3, "2CLR_1")
    refused(["control", "verify", condition, other], tmp_path, 3, "2CLR_1", "CMYK_C")
    far = tmp_path / "far.csv"
    far.write_text("LAB_L,LAB_A,LAB_B\n50,0,0\n50,900,0\n")
    refused(["condition", "match", condition, far, "--out", out], tmp_path, 3, "line 3")
    limits = tmp_path / "limits.toml"
    limits.write_text("[[item]]\nname = \n")
    refused(["control", "verify", condition, chart, "--tolerances", limits], tmp_path, 3, "limits.toml")


def test_light_without_spectra(condition, chart, tmp_path):
    """These readings hold Lab under D50; nobody can know them under another light."""
    words = ["condition", "predict", condition, chart, "--out", tmp_path / "o.txt"]
    refused([*words, "--illuminant", "D65", "--observer", "10"], tmp_path, 2, "spectra")
    refused([*words, "--illuminant", "candle"], tmp_path, 2, "candle")


def test_unwritable_places(condition, planes, chart, tmp_path):
    """A path below a file: no rights of any user help there."""
    (tmp_path / "file").write_text("x")
    below = tmp_path / "file" / "out"
    refused(["profile", "write", condition, "--out", below], tmp_path, 6, "not a folder")
    refused(["roll", "screen", planes, "--out", below], tmp_path, 6, "not a folder")
    refused(["condition", "match", condition, chart, "--out", below], tmp_path, 6, "not a folder")
    refused(["profile", "write", condition, "--out", tmp_path], tmp_path, 6, "folder")
    refused(["profile", "write", condition, "--out", "/dev/full"], tmp_path, 6, "device")


def test_missing_files(condition, tmp_path):
    refused(["condition", "show", tmp_path / "no.cond"], tmp_path, 6, "no.cond", "no such file", run=call)
    refused(["readings", "check", tmp_path / "no.txt"], tmp_path, 6, "no.txt")
    words = ["artwork", "separate", condition, tmp_path / "no.tif", "--out", tmp_path / "p.tif"]
    refused(words, tmp_path, 6, "no.tif")


def test_columns_are_named_as_expected():
    """The charts above would test nothing if the names were not those of real files."""
    assert CMYK.split() == ["CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"]
    assert inside("frob").code == 2
