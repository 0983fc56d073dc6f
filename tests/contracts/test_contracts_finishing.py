"""Commands on sizes give the fields that the page names."""

import pytest
from contracts_page import result_fields
from contracts_program import inside

ROWS = ["direction,lot,specimen,file_mm,finished_mm"] + [
    f"{way},{lot},{specimen},500,{base + lot + specimen / 4}"
    for way, base in (("warp", 470), ("weft", 485))
    for lot in (1, 2, 3)
    for specimen in (1, 2)
]


@pytest.mark.parametrize("words", [["measure"], ["risk", "--finished", "640x640", "--tolerance", "3"]])
def test_finishing(words, tmp_path):
    table = tmp_path / "grid.csv"
    table.write_text("\n".join(ROWS))
    done = inside("finishing", words[0], table, *words[1:], "--json", "--quiet")
    assert done.code == 0
    assert set(done.document["results"]) == result_fields(f"finishing {words[0]}")


def test_roll_options():
    words = ["--finished", "640x640", "--warp", "-5.5", "--weft", "-3", "--width", "1450", "--order", "420"]
    done = inside("roll", "options", *words, "--json", "--quiet")
    assert done.code == 0
    assert set(done.document["results"]) == result_fields("roll options")


def test_roll_panels():
    words = [
        "--visible",
        "6000x2500",
        "--warp",
        "-1.2",
        "--weft",
        "0.3",
        "--width",
        "3200",
        "--eyelets",
        "500",
    ]
    done = inside("roll", "panels", *words, "--json", "--quiet")
    assert done.code == 0
    assert set(done.document["results"]) == result_fields("roll panels")


def test_roll_copies():
    words = ["--finished", "450x300", "--count", "10", "--warp", "-5", "--weft", "-3", "--width", "1500"]
    done = inside("roll", "copies", *words, "--json", "--quiet")
    assert done.code == 0
    assert set(done.document["results"]) == result_fields("roll copies")
