"""Colourway files. No source: a format of our own, docs/contracts.md."""

import pytest

from strikeoff.base.errors import InputError
from strikeoff.spot.colourway import Change, read_colourway

NAMES = ("ground", "leaf", "line", "dot")


def test_both_forms_say_the_same(tmp_path):
    (tmp_path / "a.csv").write_text("from,to\nground,#ff8000\nleaf,lab 50 -20 30\nline,Deep Sea\n")
    (tmp_path / "a.toml").write_text(
        '[[colour]]\nfrom="ground"\nhex="#ff8000"\n[[colour]]\nfrom="leaf"\nlab=[50,-20,30]\n'
        '[[colour]]\nfrom="line"\nswatch="Deep Sea"\n'
    )
    one, two = (read_colourway(tmp_path / f"a.{form}", NAMES) for form in ("csv", "toml"))
    assert one == two
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
        "colour = 3",
        "paint = 3",
    ],
)
def test_what_is_no_colourway_is_refused(tmp_path, text):
    path = tmp_path / "a.toml"
    path.write_text(text)
    with pytest.raises(InputError):
        read_colourway(path, NAMES)
