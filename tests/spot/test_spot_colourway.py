"""Colourway files. No source: a format of our own, docs/contracts.md."""

import pytest

from strikeoff.base.errors import InputError
from strikeoff.spot.colourway import Change, read_colourways

NAMES = ("ground", "leaf", "line", "dot")


def test_both_forms_say_the_same(tmp_path):
    (tmp_path / "a.csv").write_text("from,to\nground,#ff8000\nleaf,lab 50 -20 30\nline,Deep Sea\n")
    (tmp_path / "a.toml").write_text(
        '[[colour]]\nfrom="ground"\nhex="#ff8000"\n[[colour]]\nfrom="leaf"\nlab=[50,-20,30]\n'
        '[[colour]]\nfrom="line"\nswatch="Deep Sea"\n'
    )
    one, two = (read_colourways(tmp_path / f"a.{form}", NAMES) for form in ("csv", "toml"))
    assert one == two
    (one,) = one
    assert one.name == "a"
    assert one.changes["ground"] == Change(rgb=(255, 128, 0))
    assert one.changes["leaf"].lab == (50.0, -20.0, 30.0)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[[colour]]",
        '[[colour]]\nfrom="sky"\nhex="#ff8000"',
        '[[colour]]\nfrom="leaf"\nhex="ff8000"',
        '[[colour]]\nfrom="leaf"\nlab=[50,1]',
        '[[colour]]\nfrom="leaf"\nhex="#ff8000"\nlab=[50,1,1]',
        '[[colour]]\nfrom="leaf"\nspectrum=[1,1,1,1,1]\nwavelengths_nm=[400,700,10]',
        '[[colour]]\nfrom="leaf"\nhex="#ff8000"\n[[colour]]\nfrom="leaf"\nhex="#ff8000"',
        '[[colour]]\nfrom="leaf"\nrecipe_percent={C=101}',
        '[[colour]]\nfrom="leaf"\nrecipe_percent=7',
        "colour = 3",
        "paint = 3",
    ],
)
def test_what_is_no_colourway_is_refused(tmp_path, text):
    path = tmp_path / "a.toml"
    path.write_text(text)
    with pytest.raises(InputError):
        read_colourways(path, NAMES)


def test_a_table_holds_many_colourways_and_empty_cells_stay(tmp_path):
    path = tmp_path / "many.csv"
    path.write_text("from,Day,Night\nground,#ff8000,inks C 30 K 12.5\nleaf,,Deep Sea\n")
    day, night = read_colourways(path, NAMES)
    assert (day.name, night.name) == ("Day", "Night")
    assert day.changes == {"ground": Change(rgb=(255, 128, 0))}
    assert night.changes["ground"].recipe == (("C", 0.3), ("K", 0.125))
    assert night.changes["leaf"].swatch == "Deep Sea"


@pytest.mark.parametrize(
    "text",
    [
        "from\nground\n",
        "from,Day,Day\nground,#ff8000,#ff8000\n",
        "from,,Day\nground,#ff8000,#ff8000\n",
        "to,Day\nground,#ff8000\n",
        "from,Day\nground,#ff8000,#ff8001\n",
        "from,Day\nground,inks C\n",
        "from,Day\nground,inks C much\n",
        "from,Day\nground,lab a b c\n",
        "from,Day,Night\nground,#ff8000,\n",
        'from,Day\n"ground,#ff8000\n',
    ],
)
def test_tables_that_are_none_are_refused(tmp_path, text):
    path = tmp_path / "a.csv"
    path.write_text(text)
    with pytest.raises(InputError):
        read_colourways(path, NAMES)
