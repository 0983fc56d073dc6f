"""One condition, one separation and one roll for all tests here, each made once."""

import numpy as np
import pytest
from contracts_program import ROLL, call, chart_text, recipes
from made_once import made_once, shared_folder


@pytest.fixture(scope="session")
def shop(tmp_path_factory):
    """A folder with a chart, an image and what the program makes of them, each made once for all workers."""
    path = shared_folder(tmp_path_factory) / "shop"
    path.mkdir(exist_ok=True)
    return path


@pytest.fixture(scope="session")
def run_once(tmp_path_factory):
    """Run the installed program once for all workers: ``run_once(name, *words)``."""

    def run(name, *words):
        done = made_once(tmp_path_factory, name, lambda: call(*words, "--json"))
        assert done.code == 0, done.err + done.out
        return done

    return run


@pytest.fixture(scope="session")
def chart(shop, tmp_path_factory):
    path = shop / "chart.txt"
    made_once(tmp_path_factory, "chart", lambda: path.write_text(chart_text(recipes())))
    return path


@pytest.fixture(scope="session")
def build(shop, chart, run_once):
    """The run that made the condition."""
    words = ["condition", "build", "--readings", chart, "--total-ink", "300"]
    return run_once("build", *words, "--out", shop / "cloth.cond")


@pytest.fixture(scope="session")
def condition(shop, build):
    return shop / "cloth.cond"


@pytest.fixture(scope="session")
def image(shop, tmp_path_factory):
    from PIL import Image

    across, along = np.meshgrid(np.arange(96), np.arange(64))
    pixels = np.stack([across * 2, along * 3, 255 - across], axis=2).astype(np.uint8)
    path = shop / "motif.png"
    made_once(tmp_path_factory, "image", lambda: Image.fromarray(pixels).save(path, dpi=(150, 150)))
    return path


@pytest.fixture(scope="session")
def separation(shop, condition, image, run_once):
    """The run that made the planes."""
    return run_once("separation", "artwork", "separate", condition, image, "--out", shop / "planes.tif")


@pytest.fixture(scope="session")
def planes(shop, separation):
    return shop / "planes.tif"


@pytest.fixture(scope="session")
def composition(shop, planes, run_once):
    """The run that made the roll, its drawing and its strip."""
    extra = ["--drawing", shop / "roll.svg", "--strip-reference", shop / "strip.txt", "--job", "Fern 3"]
    words = ["roll", "compose", planes, *ROLL.split(), *extra]
    return run_once("composition", *words, "--out", shop / "roll.tif")


@pytest.fixture(scope="session")
def roll(shop, composition):
    return shop / "roll.tif"


@pytest.fixture(scope="module")
def small_tables():
    """Profiles and links of few nodes, for runs inside this process that ask for no colour of them."""
    from strikeoff.condition import links
    from strikeoff.qualify import from_profile, profile_grids

    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(links.GRID, "rgb", 5)
        patch.setattr(profile_grids, "_LEVELS", (5,))
        patch.setattr(profile_grids, "_LARGEST", {4: 5})
        patch.setattr(from_profile, "_FILL", 150)
        yield
