"""Swatch books: what they say, and what is refused."""

import numpy as np
import pytest

from strikeoff.base.errors import InputError, StorageError
from strikeoff.spot.book import read_book

GOOD = """
name = "Autumn"
illuminant = "D65"
observer = "10"
[[colour]]
name = "Coral 12"
lab = [62, 48, 31]
[[colour]]
name = "coral 12"
lab = [60, 48, 31]
illuminant = "A"
tint = [[0, 0], [50, 40], [100, 100]]
[[colour]]
name = "Rose\u0301"
wavelengths_nm = [400, 700, 50]
spectrum = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7]
[[colour]]
name = "Brown"
recipe_percent = { M = 50, Y = 25.5 }
[[colour]]
name = "Glow"
ink = "Fluo pink"
limit_percent = 80
"""


def book(tmp_path, text):
    path = tmp_path / "b.toml"
    path.write_text(text, encoding="utf-8")
    return read_book(path)


def test_every_way_to_say_a_colour(tmp_path):
    found = book(tmp_path, GOOD)
    assert [s.name for s in found.swatches] == ["Coral 12", "coral 12", "Ros\u00e9", "Brown", "Glow"]
    coral, other, rose, brown, glow = found.swatches
    assert (coral.lab, coral.illuminant, coral.observer) == ((62, 48, 31), "D65", "10")
    assert (other.illuminant, other.observer) == ("A", "10")
    np.testing.assert_allclose(other.aim(np.array([0, 0.25, 0.5, 0.75, 1])), [0, 0.2, 0.4, 0.7, 1])
    assert rose.wavelengths_nm == (400, 450, 500, 550, 600, 650, 700)
    assert brown.recipe == (("M", 0.5), ("Y", 0.255))
    assert (glow.ink, glow.limit) == ("Fluo pink", 0.8)


def test_samples_of_readings_and_their_digest(tmp_path):
    head = "SAMPLE_ID," + ",".join(f"nm{n}" for n in range(400, 701, 50))
    (tmp_path / "r.csv").write_text(head + "\nP 1,0.1,0.2,0.3,0.4,0.5,0.6,0.7\nP 2,1,1,1,1,1,1,1\n")
    text = '[[colour]]\nname = "A"\nsample = "P 1"\nreadings = "r.csv"\n'
    first = book(tmp_path, text)
    assert first.swatches[0].spectrum == (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7)
    (tmp_path / "r.csv").write_text(head + "\nP 1,0.1,0.2,0.3,0.4,0.5,0.6,0.8\n")
    assert book(tmp_path, text).digest != first.digest
    with pytest.raises(InputError, match="lack the sample"):
        book(tmp_path, text.replace("P 1", "P 9"))
    with pytest.raises(StorageError):
        book(tmp_path, text.replace("r.csv", "none.csv"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no colours"),
        ("[[colour]]\nlab = [1, 2, 3]", "no name"),
        ('[[colour]]\nname = "A"', "one way"),
        ('[[colour]]\nname = "A"\nlab = [50, 0, 0]\nink = "K"', "one way"),
        ('[[colour]]\nname = "A"\nlab = [50, 0]', "not a Lab"),
        ('[[colour]]\nname = "A"\nlab = [50, 0, nan]', "not such a number"),
        ('[[colour]]\nname = "A"\nlab = [true, 0, 0]', "not such a number"),
        ('[[colour]]\nname = "A"\nlab = [50, 0, 0]\nilluminant = "X9"', "illuminant"),
        ('[[colour]]\nname = "A"\nlab = [50, 0, 0]\nlimit_percent = 5', "only an ink"),
        ('[[colour]]\nname = "A"\nlab = [50, 0, 0]\ncolor = 5', "unknown key"),
        ('[[colour]]\nname = "A"\nlab = [50, 0, 0]\ntint = [[0, 0], [60, 5], [50, 6], [100, 100]]', "rises"),
        ('[[colour]]\nname = "A"\nlab = [50, 0, 0]\ntint = [[0, 0], [50, 40]]', "rises"),
        ('[[colour]]\nname = "A"\nlab = [50, 0, 0]\ntint = "steep"', "rises"),
        ('[[colour]]\nname = "A"\nink = "K"\n[[colour]]\nname = "A"\nink = "C"', "one name"),
        ('[[colour]]\nname = "A"\nspectrum = [0, 0, 0, 0, 0]\nwavelengths_nm = [400, 700, 50]', "not fit"),
        ('[[colour]]\nname = "A"\nsample = "P"', "needs readings"),
        ("[[colour", "not a swatch book"),
        ("colour = 5", "no colours"),
        ("colour = [5]", "not a swatch book"),
    ],
)  # fmt: skip
def test_faults_are_named(tmp_path, text, said):
    with pytest.raises(InputError, match=said) as caught:
        book(tmp_path, text)
    assert "b.toml" in str(caught.value)


def test_bytes_that_are_no_text(tmp_path):
    (tmp_path / "b.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="not a swatch book"):
        read_book(tmp_path / "b.toml")
