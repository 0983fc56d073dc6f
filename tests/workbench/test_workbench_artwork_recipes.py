"""Which recipes artwork needs, named colours among them.

Pages by ISO 32000-1 clause 8.6.6.4: a named colour and the alternate colours that stand in for it.
"""

import numpy as np
import pytest
from pdf_files import page, separation
from picture_files import kinds, names, psd

from strikeoff.base.errors import InputError, UsageError
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.rendering import render
from strikeoff.spot.compiled import read_spots
from strikeoff.workbench import match_spots, next_chart
from strikeoff.workbench.artwork_recipes import artwork_recipes

BOOK = 'name = "Autumn"\n[[colour]]\nname = "Coral"\nlab = [60, 35, 20]\n'


@pytest.fixture(scope="module")
def shop(small_readings, tmp_path_factory):
    folder = tmp_path_factory.mktemp("shop")
    write_condition(folder / "small.cond", small_readings.condition)
    (folder / "book.toml").write_text(BOOK)
    match_spots(folder / "small.cond", folder / "book.toml", folder / "a.spots")
    # The left half in the named colour, the right half bare; over all a third of the height in grey.
    ink = small_readings.condition.inks[1]
    for name in ("Coral", "Fern", ink):
        content = b"/Spot cs 1 scn 0 0 72 96 re f 0.5 0.5 0.5 rg 0 96 144 48 re f"
        spaces = b"/ColorSpace << /Spot " + separation(name.encode(), (0, 0.5, 1, 0)) + b" >>"
        (folder / f"{name}.pdf").write_bytes(page(content, spaces))
    return folder


def test_a_named_colour_counts_by_its_tint_table(shop):
    record, _ = read_condition(shop / "small.cond")
    book, _ = read_spots(shop / "a.spots")
    recipes, problems = artwork_recipes(record, shop / "Coral.pdf", 0, book)
    assert problems == ()
    solid = book.tables[0, -1] / 65535
    held = np.abs(recipes - solid).max(axis=1) < 2e-4
    # A third of the area; of 600 pixels drawn by lot (binomial) 0.065 either way hold 999 cases of 1,000.
    assert held.mean() == pytest.approx(1 / 3, abs=0.065)
    assert (np.abs(recipes).max(axis=1) < 1e-3).mean() == pytest.approx(1 / 3, abs=0.065)


def test_without_a_table_the_files_own_colours_count_and_it_is_told(shop):
    record, _ = read_condition(shop / "small.cond")
    book, _ = read_spots(shop / "a.spots")
    recipes, (told,) = artwork_recipes(record, shop / "Fern.pdf", 0, book)
    assert (told.severity, told.found) == ("warning", "Fern")
    assert "own alternate colours" in told.message
    orange = recipes[recipes[:, 2] > recipes[:, 0] + 0.3]
    assert len(orange) / len(recipes) == pytest.approx(1 / 3, abs=0.065)


def test_a_named_colour_counts_as_the_ink_of_its_name(shop):
    record, _ = read_condition(shop / "small.cond")
    recipes, problems = artwork_recipes(record, shop / f"{record.inks[1]}.pdf", 0)
    assert problems == ()
    assert (np.abs(recipes - [0, 1, 0]).max(axis=1) < 1e-4).mean() == pytest.approx(1 / 3, abs=0.065)


def test_images_have_no_other_colours_for_names(shop, tmp_path):
    """A document of white RGB and a named plane in full: the plane is left out, and it is told."""
    record, _ = read_condition(shop / "small.cond")
    art = np.full((4, 20, 30), 255, np.uint8)
    art[3] = 0  # a named plane is stored as light, so this is its solid
    (tmp_path / "a.psd").write_bytes(psd(art, 3, resources=names("Moss") + kinds(1)))
    recipes, (told,) = artwork_recipes(record, tmp_path / "a.psd", 0)
    assert (told.severity, told.where, told.found) == ("warning", "a.psd", "Moss")
    assert told.message.endswith("do not count")
    assert recipes.max() < 1e-3


def test_neutrals_of_the_page_are_rendered_as_ever(shop):
    record, _ = read_condition(shop / "small.cond")
    recipes, _ = artwork_recipes(record, shop / "Coral.pdf", 0, read_spots(shop / "a.spots")[0])
    grey = render(record, np.array([[53.39, 0.0, 0.0]]), "perceptual").inks[0]
    assert (np.abs(recipes - grey).max(axis=1) < 0.02).mean() == pytest.approx(1 / 3, abs=0.065)


def test_tables_of_another_condition_and_without_artwork_are_refused(shop, small_readings, tmp_path):
    from dataclasses import replace

    write_condition(tmp_path / "other.cond", replace(small_readings.condition, name="other"))
    spots = shop / "a.spots"
    with pytest.raises(InputError, match="another condition"):
        next_chart(
            tmp_path / "other.cond", tmp_path / "out", artwork=[shop / "Coral.pdf"], spots=spots, patches=2
        )
    with pytest.raises(UsageError, match="without artwork"):
        next_chart(shop / "small.cond", tmp_path / "out", spots=spots, patches=2)
    assert not (tmp_path / "out").exists()


def test_patches_stand_where_the_named_colour_is_printed(shop, tmp_path):
    with_table = next_chart(
        shop / "small.cond",
        tmp_path / "with",
        artwork=[shop / "Coral.pdf"],
        spots=shop / "a.spots",
        patches=3,
    )
    assert with_table.results["weighted_by"] == ["Coral.pdf"]
    assert not any("named colours" in p.message for p in with_table.problems)
    without = next_chart(shop / "small.cond", tmp_path / "w", artwork=[shop / "Coral.pdf"], patches=3)
    assert [p.found for p in without.problems if "named colours" in p.message] == ["Coral"]
