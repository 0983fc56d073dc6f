"""Commands on sizes give the fields that the page names."""

import pytest
from contracts_page import result_fields
from contracts_program import call, inside

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


def test_roll_options_of_a_stripe_and_a_border():
    """By hand: 640 / 0.97 = 659.8 of 1430 mm; 42 m hold 66 stripes of 0.64 m, or one border across."""
    words = ["--finished", "640x640", "--warp", "-5.5", "--weft", "-3", "--width", "1450", "--order", "42"]
    along = call("roll", "options", *words, "--only", "along", "--json")
    assert along.code == 0, along.err
    found = {o["name"]: o for o in along.document["results"]["options"]}
    assert set(found) == {"left-bare", "motif-bare", "scaled-1"}
    assert found["motif-bare"]["left_mm"][0] == pytest.approx((1430 - 640 / 0.97) / 2)
    assert {o["repeats_along"] for o in found.values()} == {66, 31}  # 1.387 m each at 216.7 %
    across = call("roll", "options", *words, "--only", "across", "--json")
    assert across.code == 0, across.err
    found = {o["name"]: o for o in across.document["results"]["options"]}
    assert (found["gap-edge"]["whole_across"], found["gap-edge"]["repeats_along"]) == (2, 1)
    assert {o["order_m"][1] for o in found.values()} == {42.0}


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
