"""One condition, one separation and one roll for all tests here, each made once."""

import numpy as np
import pytest
from contracts_program import ROLL, call, chart_text, recipes


@pytest.fixture(scope="session")
def shop(tmp_path_factory):
    """A folder with a chart, an image and what the program makes of them, each made once."""
    return tmp_path_factory.mktemp("shop")


@pytest.fixture(scope="session")
def chart(shop):
    path = shop / "chart.txt"
    path.write_text(chart_text(recipes()))
    return path


@pytest.fixture(scope="session")
def build(shop, chart):
    """The run that made the condition."""
    out = shop / "cloth.cond"
    done = call("condition", "build", "--readings", chart, "--total-ink", "300", "--out", out, "--json")
    assert done.code == 0, done.err + done.out
    return done


@pytest.fixture(scope="session")
def condition(shop, build):
    return shop / "cloth.cond"


@pytest.fixture(scope="session")
def image(shop):
    from PIL import Image

    across, along = np.meshgrid(np.arange(96), np.arange(64))
    pixels = np.stack([across * 2, along * 3, 255 - across], axis=2).astype(np.uint8)
    path = shop / "motif.png"
    Image.fromarray(pixels).save(path, dpi=(150, 150))
    return path


@pytest.fixture(scope="session")
def separation(shop, condition, image):
    """The run that made the planes."""
    done = call("artwork", "separate", condition, image, "--out", shop / "planes.tif", "--json")
    assert done.code == 0, done.err + done.out
    return done


@pytest.fixture(scope="session")
def planes(shop, separation):
    return shop / "planes.tif"


@pytest.fixture(scope="session")
def composition(shop, planes):
    """The run that made the roll, its drawing and its strip."""
    extra = ["--drawing", shop / "roll.svg", "--strip-reference", shop / "strip.txt", "--job", "Fern 3"]
    done = call("roll", "compose", planes, *ROLL.split(), *extra, "--out", shop / "roll.tif", "--json")
    assert done.code == 0, done.err + done.out
    return done


@pytest.fixture(scope="session")
def roll(shop, composition):
    return shop / "roll.tif"
