"""Files that people edit: what is wrong with their TOML is said in our words, with the line."""

import pytest

from strikeoff.artwork.palette_file import read_palette
from strikeoff.base.errors import InputError
from strikeoff.inks.press_file import read_press
from strikeoff.spot.book import read_book
from strikeoff.spot.colourway import read_colourways
from strikeoff.verification.tolerances import read_tolerances

READERS = {
    "a swatch book": read_book,
    "a file of ink limits": read_press,
    "a tolerance set": read_tolerances,
    "a palette": read_palette,
    "a colourway": lambda path: read_colourways(path, ["a"]),
}


@pytest.mark.parametrize("what", READERS)
@pytest.mark.parametrize(
    ("data", "where", "found"),
    [
        (b'name = "x"\ntitle = "Autumn\n', "line 2", 'title = "Autumn'),
        (b'name = "x"\n\nlab = [1, 2\n\n', "line 3, the last", "lab = [1, 2"),
        (b'name = "x"\nname = "y"\n', "line 2", 'name = "y"'),
        (b"# \xc3\xa9\n\xd2\n", "line 2", "byte 0xd2"),
    ],
)
def test_what_is_no_toml(tmp_path, what, data, where, found):
    path = tmp_path / "edited.toml"
    path.write_bytes(data)
    with pytest.raises(InputError) as caught:
        READERS[what](path)
    error = caught.value
    assert (error.path, error.where, error.found) == (str(path), where, found)
    assert error.message.startswith(f"not {what}: ")
    assert error.expected
    for parser in ("at line", "Illegal", "Unclosed", "overwrite", "codec", "end of document"):
        assert parser not in str(error)
