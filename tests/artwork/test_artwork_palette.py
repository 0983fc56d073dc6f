"""Palettes of drawings that were made by number; no source: own oracle.

`flat_drawings` draws what the finder was never set on: set on seeds below 100, and these are above.
"""

import flat_art
import flat_drawings
import numpy as np
import pytest
from scipy.cluster.vq import kmeans2

from strikeoff.artwork.kernels_regions import line_scores
from strikeoff.artwork.linear_rgb import linear_rgb
from strikeoff.artwork.palette import find_palette
from strikeoff.artwork.palette_file import NamedPalette, read_palette, write_palette
from strikeoff.artwork.palette_lines import explained
from strikeoff.artwork.palette_ragged import is_ragged
from strikeoff.base.errors import InputError
from strikeoff.colour.difference import delta_e_2000
from strikeoff.raster.bands import ArraySource

SPACE = linear_rgb(None, 8)
NEAR_DE00 = 4.0
SMALL = (200, 240)


def missing_and_extra(linear, codes):
    """Return drawn colours without a palette colour of their own, and how many of these are left over."""
    off = delta_e_2000(SPACE.lab(SPACE.linear(codes.astype(int)))[:, None], SPACE.lab(linear)[None])
    missing, used = [], set()
    for i in np.argsort(off.min(axis=1)):
        own = [j for j in np.argsort(off[i]) if j not in used and off[i, j] < NEAR_DE00]
        used.update(own[:1])
        missing += [] if own else [int(i)]
    return missing, len(linear) - len(used)


@pytest.mark.parametrize(("seed", "count", "least"), [(1, 8, 20), (5, 8, 6)])
@pytest.mark.parametrize("mixing", ["linear", "encoded"])
def test_palettes_are_found_where_means_of_clusters_fail(seed, count, least, mixing):
    rng = np.random.default_rng(seed)
    colours = flat_art.palette(rng, count, least)
    pixels, _ = flat_art.drawn(flat_art.shapes(rng, 200, 240, count), colours, mixing)
    found = find_palette(ArraySource(pixels), SPACE)
    assert (len(found.palette.linear), found.palette.mixing) == (count, mixing)
    codes = SPACE.encode(found.palette.linear).astype(int)
    off = [np.linalg.norm(codes - one, axis=1).min() for one in colours]
    # Lines one pixel wide are never quite pure.
    assert max(off) <= 3.5
    assert max(off[:-2]) <= 1.0
    means, _ = kmeans2(pixels.reshape(-1, 3).astype(float), count, minit="++", rng=seed)
    assert max(np.linalg.norm(means - one, axis=1).min() for one in colours) > 2 * max(off)


@pytest.mark.parametrize("seed", [1001, 1002, 1004])
def test_new_clean_drawings(seed):
    pixels, codes, _, _ = flat_drawings.draw(seed)
    found = find_palette(ArraySource(pixels), SPACE)
    assert missing_and_extra(found.palette.linear, codes) == ([], 0)
    assert not found.doubts


@pytest.mark.parametrize("way", ["noise 2", "noise 4", "jpeg 75", "jpeg 90"])
def test_new_drawings_that_came_badly_are_right_or_doubted(way):
    for seed in (1001, 1002):
        pixels, codes, kinds, share = flat_drawings.draw(seed, way, SMALL)
        found = find_palette(ArraySource(pixels), SPACE)
        missing, extra = missing_and_extra(found.palette.linear, codes)
        assert found.doubts or not (missing or extra)
        solid = [i for i in missing if share[i] > 0.03 and kinds[i] in ("ground", "blob", "tiles")]
        assert not solid
        assert extra <= 3


def test_a_person_gives_the_number():
    pixels, *_ = flat_drawings.draw(1002, "jpeg 75", (120, 150), 6)
    free = find_palette(ArraySource(pixels), SPACE)
    few = find_palette(ArraySource(pixels), SPACE, count=3)
    assert len(few.palette.linear) == 3
    np.testing.assert_array_equal(few.palette.linear, free.palette.linear[:3])
    assert len(few.maybe) == len(free.palette.linear) + len(free.maybe) - 3
    with pytest.raises(InputError, match="told apart"):
        find_palette(ArraySource(pixels), SPACE, count=40)


def test_compiled_scores_equal_the_plain_ones():
    rng = np.random.default_rng(4)
    value, slope = rng.random((200, 3)), rng.uniform(5, 40, (200, 3))
    known, amounts = rng.random((6, 3)), rng.integers(0, 9, 200).astype(float)
    tried, scores = np.arange(0, 200, 7), np.empty(29)
    line_scores(value, slope, amounts, known, tried, 3.5, scores)
    plain = [amounts[explained(value, slope, known, value[i], 3.5)].sum() for i in tried]
    np.testing.assert_array_equal(scores, plain)
    assert 0 < min(plain) < max(plain) < amounts.sum()


def test_ripples_are_told_from_noise_and_from_drawing():
    ways = ("clean", "noise 2", "noise 4", "ordered", "jpeg 75", "jpeg 90")
    told = [is_ragged(ArraySource(flat_drawings.draw(1001, way, (120, 150))[0]), SPACE) for way in ways]
    assert told == [False] * 4 + [True] * 2


def soft(rng, size):
    """Clouds: smooth colours and no flat ones."""
    from scipy.ndimage import gaussian_filter

    noise = rng.normal(size=(*size, 3))
    clouds = sum(gaussian_filter(noise, (s, s, 0)) * s for s in (3, 9, 30))
    return np.asarray((clouds - clouds.min()) / np.ptp(clouds) * 255, np.uint8)


@pytest.mark.parametrize("kind", ["noise", "clouds", "ramp"])
def test_pictures_are_refused(kind):
    rng = np.random.default_rng(0)
    if kind == "noise":
        pixels = rng.integers(0, 256, (64, 64, 3)).astype(np.uint8)
    elif kind == "clouds":
        pixels = soft(rng, (160, 200))
    else:
        x, y = np.meshgrid(np.arange(256), np.arange(128))
        pixels = np.stack([x, 2 * y, 255 - x], axis=2).astype(np.uint8)
    with pytest.raises(InputError, match="not flat"):
        find_palette(ArraySource(pixels), SPACE)


def test_palettes_come_back_from_their_file(tmp_path):
    rng = np.random.default_rng(3)
    lab = rng.uniform((5, -60, -60), (95, 60, 60), (5, 3)).round(4)
    names = tuple(f'colour "{k}"' for k in range(5))
    path = tmp_path / "p.toml"
    write_palette(
        path, NamedPalette(lab, names, "sha256:0", 0.003, "encoded"), ["of much"] * 5,
        head=["a doubt"], maybe=[(lab[0] + 9, "#123456")],
    )  # fmt: skip
    back = read_palette(path)
    assert (back.names, back.artwork, back.mixing) == (names, "sha256:0", "encoded")
    assert back.noise == pytest.approx(0.003)
    np.testing.assert_array_equal(back.lab, lab)
    # The signs taken away, a proposal is a colour.
    text = path.read_text()
    start = text.index("# [[colour]]")
    path.write_text(text[:start] + text[start:].replace("# ", ""))
    assert read_palette(path).names[-1] == "perhaps 1"


def test_a_persons_hex_is_the_colour(tmp_path):
    """IEC 61966-2-1 red under D50 (Bradford), as many calculators print it."""
    path = tmp_path / "p.toml"
    path.write_text('schema = "strikeoff/palette/2"\n[[colour]]\nname = "red"\nhex = "#ff0000"\n')
    back = read_palette(path)
    np.testing.assert_allclose(back.lab, [[54.29, 80.81, 69.89]], atol=0.02)
    assert (back.noise, back.mixing, back.artwork) == (None, None, None)


GOOD = 'schema = "strikeoff/palette/2"\n[[colour]]\nname = "a"\nlab = [50, 1, 2]\n'


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\0",
        "schema = 1",
        GOOD.replace("/2", "/1"),
        GOOD.replace("lab", "hex"),
        GOOD + 'hex = "#102030"\n',
        GOOD + "linear = [0, 0, 0]\n",
        GOOD + '[[colour]]\nname = "a"\nlab = [60, 1, 2]\n',
        GOOD + '[[colour]]\nname = "b"\nlab = [50, 1, 2]\n',
        GOOD.replace("[50, 1, 2]", "[nan, 1, 2]"),
        GOOD.replace("[50, 1, 2]", "[50, 1]"),
        "mixing = 7\n" + GOOD,
        "noise_percent = 99\n" + GOOD,
        GOOD.split("[[")[0],
    ],
)
def test_what_is_no_palette_is_refused(tmp_path, text):
    path = tmp_path / "p.toml"
    path.write_text(text)
    with pytest.raises(InputError):
        read_palette(path)
