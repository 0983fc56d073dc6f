"""Ramps on dark cloth: inks that show over white only are judged there, white by how it lightens."""

import json
import zipfile
from dataclasses import replace

import iccdev
import numpy as np
import pytest
import tifffile

from strikeoff import workbench
from strikeoff.artwork.colour import srgb_to_lab
from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.chart.designs import ink_limit_ramps, linearisation
from strikeoff.colour.cielab import lab_to_xyz, xyz_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.ink_space import without_named
from strikeoff.condition.links import artwork_table
from strikeoff.condition.rendering import render
from strikeoff.icc.evaluate import device_to_lab, lab_to_device, media_white
from strikeoff.icc.profile import read_profile
from strikeoff.inks.press_file import read_curves, read_over_white, read_press
from strikeoff.inks.records import plain_inks
from strikeoff.inks.spaces import identity_spaces
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.write import write_readings
from strikeoff.model.expert_share import EVEN
from strikeoff.model.inverse import make_inverse
from strikeoff.model.neugebauer import fit_area_coverage
from strikeoff.qualify import profile_grids
from strikeoff.qualify.build import build_condition
from strikeoff.qualify.learnt_tones import match_tones
from strikeoff.qualify.limits import LimitRule, find_limits
from strikeoff.qualify.linearise import linearise
from strikeoff.qualify.media_white import NEAR_NEUTRAL, find_white
from strikeoff.qualify.profiles import build_profiles
from strikeoff.qualify.ramps import ink_ramps
from strikeoff.qualify.reach import lighter_problem

INKS = ("C", "K", "White")
WHITE_LAB = np.array([84.0, 0.0, -2.0])
# Full ink over white, and what it moves the cloth by at most.
SOLIDS = {"C": np.array([54.0, -30.0, -42.0]), "K": np.array([24.0, 0.5, 0.0])}


def colours(recipes, cloth):
    """White stops at 70 %; colours move what is beneath towards their solid, less where that is dark."""
    lab = cloth + np.minimum(recipes[:, 2:] / 0.7, 1.0) * (WHITE_LAB - cloth)
    for ink, name in enumerate(("C", "K")):
        seen = np.clip((lab[:, :1] - 20.0) / 64.0, 0.02, 1.0)
        lab = lab + recipes[:, ink : ink + 1] ** 0.6 * seen * (SOLIDS[name] - WHITE_LAB)
    return lab


def readings_of(recipes, cloth):
    ids = tuple(map(str, range(len(recipes))))
    columns = ("3CLR_1", "3CLR_2", "3CLR_3")
    return ReadingSet(
        ids, columns, recipes, lab=colours(recipes, np.array(cloth)), keywords={"INK_NAMES": "C K White"}
    )


BLACK, NATURAL = (26.0, 0.0, 0.0), (80.0, 1.0, 8.0)


def test_charts_have_ramps_over_white():
    ramps = ink_limit_ramps(INKS)
    assert len(ramps) == 5
    assert ramps[3][0].tolist() == ramps[4][0].tolist() == [0, 0, 1]
    assert ramps[4][-1].tolist() == [0, 1, 1]
    rows = linearisation(INKS).recipes
    over = rows[(rows[:, 2] == 1) & (rows[:, :2].max(axis=1) > 0)]
    alone = rows[(rows[:, 2] == 0) & (rows[:, :2].max(axis=1) > 0)]
    assert sorted(map(tuple, over[:, :2])) == sorted(map(tuple, alone[:, :2]))
    assert len(ink_limit_ramps(INKS[:2])) == 2


def test_dark_cloth_is_judged_over_white_and_light_cloth_is_not():
    chart = np.vstack(ink_limit_ramps(INKS))
    dark = ink_ramps(readings_of(chart, BLACK))
    assert [ramp.over for ramp in dark] == ["White", "White", None]
    np.testing.assert_allclose(dark[0].lab[0], WHITE_LAB)
    np.testing.assert_allclose(dark[0].lab[-1], SOLIDS["C"])
    assert [ramp.over for ramp in ink_ramps(readings_of(chart, NATURAL))] == [None] * 3
    # A chart without them: the old refusal, with the way out.
    bare = chart[chart[:, :2].max(axis=1) * chart[:, 2] == 0]
    with pytest.raises(InputError, match="leaves no colour") as refused:
        find_limits(ink_ramps(readings_of(bare, BLACK)))
    assert "ramps over it" in refused.value.advice


def dusky(recipes):
    """Half-hidden yellow and blue on a dusky cloth, each by a straight way; white covers all of it."""
    yellow, blue, white = recipes.T[:, :, None]
    cloth = np.array([44.0, 2.0, -10.0])
    lab = cloth + white * (np.array([88.0, 0.0, -1.0]) - cloth)
    lab = lab + yellow**0.6 * np.where(white > 0.5, [[-6.0, 2.0, 80.0]], [[2.0, 0.0, 16.0]])
    return lab + blue**0.6 * np.where(white > 0.5, [[-48.0, 0.0, -46.0]], [[-15.0, 2.0, -9.0]])


def write_dusky(path, chart):
    columns = ("3CLR_1", "3CLR_2", "3CLR_3")
    readings = ReadingSet(tuple(map(str, range(len(chart)))), columns, chart, lab=dusky(chart))
    write_readings(path, readings, header={"INK_NAMES": "Y Blue White"})


def test_it_is_open_where_colours_show_half_and_the_file_decides(tmp_path):
    """Tones of the ramp over white where it is said; on the cloth, and asked about, where it is not."""
    names = ("Y", "Blue", "White")
    write_dusky(tmp_path / "ramps.txt", np.vstack(ink_limit_ramps(names)))
    limits = tmp_path / "limits.toml"
    asked = workbench.find_ink_limits(tmp_path / "ramps.txt", limits)
    (note,) = [p for p in asked.problems if "less than over white" in p.message]
    assert note.where == "ink Y, Blue"
    assert "over_white = true" in note.advice
    assert read_press(limits).over_white is None
    chart = workbench.make_chart(tmp_path / "open", kind="linearisation", curves=limits, dpi=(50, 50))
    assert "over_white = false" in next(p.advice for p in chart.problems if p.where == "ramps over white")
    tones = {}
    write_dusky(tmp_path / "lin.txt", linearisation(names).recipes)
    text = limits.read_text()
    for word in ("true", "false"):
        said = tmp_path / f"{word}.toml"
        said.write_text(f"over_white = {word}\n{text}")
        made = workbench.find_ink_limits(tmp_path / "ramps.txt", tmp_path / "again.toml", inks=said)
        assert not [p for p in made.problems if "over white" in p.message]
        told = [row["reason"].endswith("over White") for row in made.results["limits"]]
        assert told == [word == "true", word == "true", False]
        assert read_press(tmp_path / "again.toml").over_white is (word == "true")
        curves = tmp_path / f"{word}.json"
        workbench.make_tone_curves(tmp_path / "lin.txt", curves, limits=said)
        assert read_over_white(curves) is (word == "true")
        tones[word] = read_curves(curves).tone[0].astype(int)
        chart = workbench.make_chart(tmp_path / word, kind="linearisation", curves=curves, dpi=(50, 50))
        assert not [p for p in chart.problems if p.where == "ramps over white"]
        chart = workbench.make_chart(tmp_path / word, kind="linearisation", curves=said, dpi=(50, 50))
        tones[f"{word} patches"] = chart.results["patches"]
    for word, row in (("true", 1), ("false", 0)):
        ramp = np.zeros((256, 3))
        ramp[:, 0], ramp[:, 2] = np.linspace(0.0, 1.0, 256), row
        lab = dusky(ramp)
        reach = delta_e_2000(lab[0], lab)
        wanted = np.interp(np.linspace(0.0, 1.0, 256), reach / reach[-1], ramp[:, 0])
        assert np.abs(tones[word] / 65535 - wanted)[8:].max() < 0.02
    assert np.abs(tones["true"] - tones["false"]).max() > 0.03 * 65535
    assert tones["true patches"] > 1.6 * tones["false patches"]
    limits.write_text(f'over_white = "yes"\n{text}')
    with pytest.raises(InputError, match="not yes or no"):
        read_press(limits)


def test_one_hidden_ink_brings_all_that_show_more_over_white(tmp_path):
    chart = np.vstack(ink_limit_ramps(INKS))
    readings = readings_of(chart, BLACK)
    lab = np.array(readings.lab)
    alone = (chart[:, 0] > 0) & (chart[:, 1:].max(axis=1) == 0)
    lab[alone] += chart[alone, :1] * (np.array([34.0, -9.0, -14.0]) - lab[0])
    shown = ink_ramps(replace(readings, lab=lab))
    assert [ramp.over for ramp in shown] == ["White", "White", None]


def test_limits_of_inks_over_white_and_of_white_that_lightens():
    ramps = ink_ramps(readings_of(np.vstack(ink_limit_ramps(INKS)), BLACK))
    limits = find_limits(ramps, LimitRule(least_gain=0.05))
    assert limits[0].limit == limits[1].limit == 1.0
    assert limits[0].reason.endswith("over White")
    assert limits[2].limit == pytest.approx(0.665, abs=0.03)


@pytest.mark.parametrize("aim", ["colour", "lightness"])
def test_tones_grow_evenly_over_white(aim):
    ramps = ink_ramps(readings_of(linearisation(INKS).recipes, BLACK))
    fits = linearise(ramps, [1.0, 1.0, 0.7], aim)
    if aim == "lightness":
        half = fits[0].curve[128] / 65535
        # Tone is amount ** 0.6 by the making of it.
        assert half == pytest.approx((128 / 255) ** (1 / 0.6), abs=0.01)
    assert all((np.diff(fit.curve.astype(int)) >= 0).all() for fit in fits)


def test_tones_come_back_over_white():
    """Inks that lay down as the square root now, on the model of before: curves square."""
    chart = linearisation(INKS).recipes
    steps = np.zeros((256, 3))
    steps[:, 2] = 1.0
    model = []
    for ink in (0, 1):
        over = steps.copy()
        over[:, ink] = np.linspace(0.0, 1.0, 256)
        model.append(colours(over, np.array(BLACK)))
    white = np.zeros((256, 3))
    white[:, 2] = np.linspace(0.0, 1.0, 256)
    model.append(colours(white, np.array(BLACK)))
    strong = chart.copy()
    strong[:, :2] = np.sqrt(strong[:, :2])
    today = replace(readings_of(chart, BLACK), lab=colours(strong, np.array(BLACK)))
    ramps = ink_ramps(today)
    assert [ramp.over for ramp in ramps] == ["White", "White", None]
    fits = match_tones(ramps, [1.0] * 3, model)
    even = np.linspace(0.0, 1.0, 256)
    for fit in fits[:2]:
        assert np.abs(fit.curve / 65535 - even**2)[8:].max() < 0.02
    # White stops at 70 %, and where its curve lies flat the least of it counts.
    assert np.abs(fits[2].curve / 65535 - even)[:176].max() < 0.02


@pytest.fixture(scope="module")
def black(coarse_gamut_of_module):
    """A condition on black cloth whose colours use white; nobody judges its errors or its gamut."""
    rng = np.random.default_rng(2)
    rest = rng.random((60, 3))
    rest[rng.random(rest.shape) < 0.3] = 0.0
    chart = np.vstack([np.zeros((1, 3)), np.kron(np.eye(3), [[0.3], [0.65], [1.0]]), rest])
    made = build_condition(
        readings_of(chart, BLACK),
        b"data",
        name="black",
        label="simulated",
        spaces=identity_spaces(INKS, 3.0, inks=plain_inks(INKS)),
        process_inks=("White",),
        validated=False,
    )
    return replace(made, readings_digest=digest_bytes(b"data"))


def test_white_is_the_lightest_neutral_and_told(black):
    (told,) = [problem for problem in black.problems if problem.where == "white"]
    assert told.severity == "note"
    assert told.found == black.white_words
    assert black.white_words.startswith("White ")
    assert black.media_lab[0] == pytest.approx(84.0, abs=2.0)
    assert np.hypot(*black.media_lab[1:]) <= NEAR_NEUTRAL + 0.2
    # No more of it than lightens; the white of the tests stops at 70 %.
    assert 0.6 < black.white_recipe[2] <= 1.0
    assert black.white_recipe[:2].max() == 0.0
    np.testing.assert_allclose(black.connection.to_relative(black.media_lab), [100, 0, 0], atol=1e-9)


@pytest.mark.parametrize("intent", ["perceptual", "relative", "relative-bpc", "saturation"])
def test_white_of_artwork_is_white_ink_and_greys_lie_between_it_and_black(black, intent):
    grey = np.zeros((6, 3))
    grey[:, 0] = [100.0, 90.0, 75.0, 60.0, 45.0, 30.0]
    recipes = render(black, grey, intent)
    np.testing.assert_array_equal(recipes.inks[0], black.white_recipe)
    printed = colours(recipes.inks, np.array(BLACK))
    assert (np.diff(printed[:, 0]) < 0).all()
    wanted = black.connection.from_relative(grey)
    if intent == "relative":
        assert recipes.lab[:4] == pytest.approx(wanted[:4], abs=1.5)
        # The model of some 70 patches knows the kink of this white roughly.
        assert printed[:4] == pytest.approx(wanted[:4], abs=5.0)


def test_bare_cloth_stays_bare_in_absolute_where_it_is_asked_for(black):
    cloth = black.connection.to_absolute(black.cloth_lab[None])
    recipes = render(black, np.vstack([cloth, [[100.0, 0.0, 0.0]]]), "absolute")
    assert recipes.inks[0].max() == 0.0
    assert recipes.inks[1].max() > 0.6


def test_profiles_take_white_for_white(black, monkeypatch):
    monkeypatch.setattr(profile_grids, "_LEVELS", (5, 9))
    monkeypatch.setattr(profile_grids, "_LARGEST", {3: 9})
    monkeypatch.setattr(profile_grids, "A2B_BYTES", 1 << 17)
    for version, data in build_profiles(black).items():
        checked = iccdev.validate_profile(data)
        assert (checked.status, checked.report) == (iccdev.ValidationStatus.OK, "")
        profile = read_profile(data)
        np.testing.assert_allclose(media_white(profile), black.connection.media_white, atol=1e-4)
        white = lab_to_device(profile, [[100.0, 0.0, 0.0]], "relative")[0]
        np.testing.assert_allclose(white, black.white_recipe, atol=0.005)
        cloth = device_to_lab(profile, np.zeros((1, 3)), "absolute")
        np.testing.assert_allclose(cloth, black.connection.to_absolute(black.cloth_lab[None]), atol=0.1)
        relative = device_to_lab(profile, np.zeros((1, 3)), "relative")
        np.testing.assert_allclose(relative, black.connection.to_relative(black.cloth_lab[None]), atol=0.1)
        for tag in ("desc", "vued"):
            words = profile.decode(tag)
            text = getattr(words, "unicode_text", "") or getattr(words, "text", "") or str(words)
            assert f"white is {black.white_words}" in text, (version, tag)


def test_links_print_white_and_their_digests_hang_on_it(black):
    new = artwork_table(black, "rgb", srgb_to_lab, "relative", size=3)
    np.testing.assert_allclose(new.nodes[-1, -1, -1] / 65535, black.white_recipe, atol=1e-4)
    old = artwork_table(replace(black, white_recipe=None), "rgb", srgb_to_lab, "relative", size=3)
    assert old.nodes[-1, -1, -1].max() == 0


def test_transparent_artwork_keeps_the_cloth_bare(black, tmp_path):
    pixels = np.full((3, 40, 2), 255, np.uint8)
    pixels[0, :, 1] = 0
    pixels[1, :, 1] = 51
    pixels[:, 20:, 0] = 0
    tifffile.imwrite(tmp_path / "a.tif", pixels, photometric="minisblack", extrasamples=["unassalpha"])
    path = tmp_path / "black.cond"
    write_condition(path, black)
    made = workbench.separate(path, tmp_path / "a.tif", tmp_path / "p.tif", intent="relative")
    planes = tifffile.imread(tmp_path / "p.tif")
    planes = planes if planes.shape[-1] == 3 else np.moveaxis(planes, 0, -1)
    assert planes[0].max() == 0
    np.testing.assert_allclose(planes[2, 0] / 65535, black.white_recipe, atol=1e-4)
    # A fifth of the light comes from the print, four from the cloth, and ink by area would not look so.
    whole, part = planes[2, [0, 39]] / 65535.0, planes[1, [0, 39]] / 65535.0
    one = np.ones(3)
    light = 0.2 * lab_to_xyz(black.native.lab(whole), one) + 0.8 * lab_to_xyz(black.cloth_lab, one)
    mixed = xyz_to_lab(light, one)
    assert delta_e_2000(black.native.lab(part), mixed).max() < 0.8
    assert delta_e_2000(black.native.lab(whole / 5), mixed).max() > 3.0
    assert planes[2, 39, 1] > planes[2, 0, 1]
    assert not any(problem.where == "white" for problem in made.problems)
    # Asked for, so nothing to warn of.
    assert [p.severity for p in made.problems if p.where == "alpha"] == ["note"]
    # Intake counts no ink where nothing is.
    tifffile.imwrite(tmp_path / "n.tif", pixels[::2], photometric="minisblack", extrasamples=["unassalpha"])
    seen = workbench.check_artwork(path, tmp_path / "n.tif", finished=(40.0, 2.0), intent="relative")
    mean = 100 * (planes[[0, 2]] / 65535.0).sum(axis=2).mean()
    assert seen.results["mean_total_percent"] == pytest.approx(mean, rel=0.02)
    # Opaque artwork is told that its white is printed.
    tifffile.imwrite(tmp_path / "o.tif", pixels[2:, :, 0], photometric="minisblack")
    made = workbench.separate(path, tmp_path / "o.tif", tmp_path / "q.tif", intent="relative")
    (told,) = [problem for problem in made.problems if problem.where == "white"]
    assert told.found == black.white_words


def test_white_is_kept_and_files_of_before_take_the_cloth(black, tmp_path):
    path = tmp_path / "black.cond"
    readings = black.forward
    physics = fit_area_coverage(readings.recipes, readings.bands)
    forward = replace(readings, share=EVEN, physics=physics)
    black = replace(black, forward=forward, native=forward.under(black.native.view))
    write_condition(path, black)
    kept, digest = read_condition(path)
    np.testing.assert_array_equal(kept.white_recipe, black.white_recipe)
    assert json.loads(zipfile.ZipFile(path).read("condition.json"))["schema"] == 5
    again = tmp_path / "again.cond"
    assert write_condition(again, kept) == digest
    old = replace(black, white_recipe=None)
    write_condition(path, old)
    assert json.loads(zipfile.ZipFile(path).read("condition.json"))["schema"] == 4
    kept, _ = read_condition(path)
    assert kept.white_recipe is None
    np.testing.assert_array_equal(kept.media_lab, kept.cloth_lab)
    told = lighter_problem(kept)
    assert told.severity == "warning"
    assert "built again" in told.advice
    fresh = lighter_problem(kept, fresh=True)
    assert "reach no lighter grey" in fresh.message
    assert "built again" not in fresh.advice


@pytest.mark.parametrize("recipe", [[0.0, 0.0, 0.0], [0.1, 0.2], [0.0, 0.0, 1.5], [0.0, -0.1, 1.0]])
def test_a_white_that_does_not_fit_is_refused(black, tmp_path, recipe):
    path = tmp_path / "bad.cond"
    write_condition(path, replace(black, white_recipe=np.array(recipe)))
    with pytest.raises(InputError, match="recipe of white"):
        read_condition(path)


def test_a_yellowish_white_is_brought_near_neutral_by_other_inks(black):
    class Tinted:
        """White of b* = 8, which blue takes back for a third of its own lightness."""

        n_inks = 3

        def lab(self, inks):
            blue, dark, white = np.clip(inks, 0.0, 1.0).T
            return np.stack(
                [26 + (58 - 10 * blue) * white * (1 - dark), 0 * white, (8 - 30 * blue) * white], 1
            )

    model, limits = Tinted(), black.recipe_limits
    white = find_white(make_inverse(model, INKS, limits, black.policy), model, limits)
    lab = model.lab(white[None])[0]
    assert white[0] == pytest.approx(1 / 6, abs=0.03)
    assert np.hypot(lab[1], lab[2]) < NEAR_NEUTRAL + 0.6
    # Less of the white alone would be as neutral at L* 48 only.
    assert lab[0] == pytest.approx(82.3, abs=1.0)


def test_colours_lighter_than_the_cloth_are_reached_with_absolute(black):
    # Artwork's white and a light grey, D50 Lab: white ink as it is, and less of it or a little black.
    recipes = render(black, np.array([[100.0, 0.0, 0.0], [70.0, 0.0, -1.0]]), "absolute")
    assert recipes.inks[0, 2] > 0.65
    assert recipes.inks[0, :2].max() < 0.05
    assert colours(recipes.inks, np.array(BLACK))[:, 0] == pytest.approx([84.0, 70.0], abs=4.0)


NAVY = np.array([20.0, 3.0, -24.0])


def on_navy(recipes):
    """An opaque yellow that greys navy on its way, black, and a white that covers all of it."""
    yellow, dark, white = recipes.T[:, :, None]
    lab = NAVY + white * (np.array([86.0, 0.0, -1.0]) - NAVY)
    lab = lab + yellow * np.where(white > 0.5, [[-6.0, 2.0, 80.0]], [[22.0, -4.0, 42.0]])
    return lab + dark * (np.array([14.0, 0.0, 0.0]) - lab)


def navy(names, **options):
    rng = np.random.default_rng(4)
    rest = rng.random((50, 3))
    rest[rng.random(rest.shape) < 0.4] = 0.0
    chart = np.vstack([np.zeros((1, 3)), np.kron(np.eye(3), [[0.3], [0.65], [1.0]]), rest])
    readings = replace(readings_of(chart, BLACK), lab=on_navy(chart), keywords={"INK_NAMES": " ".join(names)})
    spaces = identity_spaces(names, 3.0, inks=plain_inks(names))
    options = {"spaces": spaces, "validated": False} | options
    return build_condition(readings, b"data", name="navy", label="simulated", **options)


def test_what_is_taken_for_white_is_told_and_asked(coarse_gamut):
    """Yellow over navy is grey on its way (subtractive mixing, common knowledge): it is not the white."""
    made = navy(("Y", "K", "White"))
    (told,) = [problem for problem in made.problems if problem.where == "white"]
    assert told.severity == "warning"
    assert made.white_recipe.argmax() == 0
    assert "main ink Y is coloured" in told.message
    assert told.found.startswith("Y ")
    assert told.expected.startswith("White of L* 8")
    assert "--process-ink White" in told.advice
    made = navy(("Y", "K", "White"), process_inks=("White",))
    (told,) = [problem for problem in made.problems if problem.where == "white"]
    assert (told.severity, made.white_recipe.argmax()) == ("note", 2)
    # Known by what it prints, but called otherwise: asked about.
    made = navy(("Y", "K", "Base"))
    (told,) = [problem for problem in made.problems if problem.where == "white"]
    assert (told.severity, made.white_recipe.argmax()) == ("warning", 2)
    assert "Base is pale, but not called white" in told.message
    assert 'role = "white"' in told.advice


def test_a_white_ink_left_aside_is_told_when_it_is_fresh(black):
    aside = replace(black, process_inks=(), white_recipe=None)
    told = lighter_problem(aside, fresh=True)
    assert told.severity == "note"
    assert told.found.startswith("White of L* 8")
    assert told.found.endswith("on cloth of 26.0")
    assert "--process-ink White" in told.advice


def test_an_ink_called_white_goes_before_a_lighter_one(black):
    class Two:
        """Blue is the lightest neutral here, by a little; the ink that is called white is nearly as light."""

        n_inks = 3

        def lab(self, inks):
            blue, dark, white = np.clip(inks, 0.0, 1.0).T
            lightness = 26 + 60 * np.maximum(blue, 0.97 * white) * (1 - dark)
            return np.stack([lightness, 0 * white, 0 * white], 1)

    model, limits = Two(), black.recipe_limits
    inverse = make_inverse(model, INKS, limits, black.policy)
    assert find_white(inverse, model, limits).argmax() == 0
    assert find_white(inverse, model, limits, (2,)).argmax() == 2


def test_white_by_name_only_leaves_the_cloth_the_lightest(black):
    limits = without_named(black.limits, black.spaces)
    assert find_white(black.inverse, black.native, black.recipe_limits) is not None
    assert find_white(black.inverse, black.native, limits) is None
    assert lighter_problem(replace(black, process_inks=(), white_recipe=None)) is None


def test_a_total_that_cannot_bind_is_not_called_missing(coarse_gamut):
    """White in drops of 30 pL, colours of 12: all of them at full tone are 180 % of white."""
    rng = np.random.default_rng(5)
    chart = np.vstack([np.zeros((1, 3)), np.kron(np.eye(3), [[0.3], [0.65], [1.0]]), rng.random((20, 3))])
    inks = tuple(replace(ink, drop_pl=(30.0 if ink.name == "White" else 12.0,)) for ink in plain_inks(INKS))
    for total, words in ((2.0, "the limit of 200 % is more"), (3.0, "no limit was given")):
        done = build_condition(
            readings_of(chart, NATURAL),
            b"data",
            name="white",
            label="simulated",
            spaces=identity_spaces(INKS, total, inks=inks),
            validated=False,
        )
        (told,) = [problem for problem in done.problems if problem.where == "total ink"]
        assert told.message.startswith(words)
