"""From ramps to limits, split and curves, through files as a technician would."""

import json
import tomllib
from dataclasses import replace

import numpy as np
import pytest

from strikeoff import workbench
from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.ink_space import calibrated_limits, check_ink_space, ink_space_keywords, ramp_space
from strikeoff.icc.profile import read_profile
from strikeoff.inks.press_file import CURVES_SCHEMA, press_text, read_curves, read_press
from strikeoff.inks.tables import to_codes
from strikeoff.measurement.iso28178 import write_iso28178
from strikeoff.measurement.line_widths import read_line_widths
from strikeoff.measurement.read import read_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.mill.physics import with_ink_scaled
from strikeoff.mill.press import WAVELENGTHS_NM, ink_columns, invented_press
from strikeoff.qualify.profile_facts import read_facts

STEPS = np.linspace(0.05, 1, 20)
INKS = """
total_percent = 220
[screen]
dpi = [600, 600]
passes = 4
direction = "one way"
[[ink]]
name = "C"
drop_pl = [7, 14]
[[ink]]
name = "M"
drop_pl = [7, 14]
weight = 1.1
[[ink]]
name = "Y"
drop_pl = [7, 14]
"""


def ramp_recipes(count=3, steps=STEPS):
    rows = [np.zeros((1, count))]
    for ink in range(count):
        one = np.zeros((len(steps), count))
        one[:, ink] = steps
        rows.append(one)
    return np.vstack(rows)


def write(path, inks, spectra, *, columns=None, keywords=None, extra=None):
    made = ReadingSet(
        tuple(f"P{number}" for number in range(len(inks))),
        columns or ink_columns("CMY"),
        inks,
        spectra=spectra,
        wavelengths_nm=WAVELENGTHS_NM,
    )
    header = {"DESCRIPTOR": "simulated", **(keywords or {})}
    write_iso28178(path, made, extra or {}, header=header)
    return path


def read_noise(spectra, seed=0):
    return spectra * (1 + np.random.default_rng(seed).normal(0, 0.002, (len(spectra), 1)))


@pytest.fixture
def ramps(tmp_path):
    inks = ramp_recipes()
    spectra = read_noise(invented_press("T1", inks="CMY").print(inks))
    return write(tmp_path / "ramps.txt", inks, spectra)


@pytest.fixture
def limits(tmp_path):
    path = tmp_path / "inks.toml"
    path.write_text(INKS)
    return path


def test_limits_are_found_written_and_read_back(ramps, limits, tmp_path):
    out, plot = tmp_path / "limits.toml", tmp_path / "limits.svg"
    done = workbench.find_ink_limits(ramps, out, inks=limits, least_gain=7, plot=plot)
    found = {row["ink"]: row for row in done.results["limits"]}
    assert set(found) == {"C", "M", "Y"}
    assert 60 < found["M"]["limit_percent"] < 95
    assert "7 %" in found["M"]["reason"]
    assert "simulated" in plot.read_text()
    press = read_press(out)
    assert [round(ink.limit * 100, 2) for ink in press.inks] == [found[i]["limit_percent"] for i in "CMY"]
    assert (press.screen.passes, press.screen.direction, press.total) == (4, "one way", 2.2)
    assert read_press_text(press, tmp_path) == press
    assert tomllib.loads(out.read_text())["ink"][1]["weight"] == 1.1


def read_press_text(press, folder):
    path = folder / "again.toml"
    path.write_text(press_text(press))
    return read_press(path)


def test_lines_beside_the_ramp_count(tmp_path):
    inks = ramp_recipes()
    spectra = invented_press("T1", inks="CMY").print(inks)
    grown = 0.02 + 0.2 * np.maximum(0, inks[:, 0] - 0.4)
    pairs = [(0.5 + 2 * g, 0.5 - 2 * g) if c > 0 else None for g, c in zip(grown, inks[:, 0], strict=True)]
    line, gap = ([f"{p[side]:.4f}" if p else "-" for p in pairs] for side in (0, 1))
    columns = {"LINE_MM": np.array(line), "GAP_MM": np.array(gap)}
    path = write(tmp_path / "lines.txt", inks, spectra, extra=columns)
    widths = read_line_widths(path)
    np.testing.assert_allclose(widths.growth_mm, grown[1:21], atol=1e-4)
    done = workbench.find_ink_limits(path, tmp_path / "limits.toml", growth=0.05)
    cyan = done.results["limits"][0]
    assert cyan["limit_percent"] == pytest.approx(65, abs=1.5)
    assert "lines" in cyan["reason"]
    path.write_text(path.read_text().replace("GAP_MM", "OTHER"))
    with pytest.raises(InputError, match="needs its gap"):
        read_line_widths(path)


def test_from_ramps_to_a_screened_roll(ramps, limits, small_readings, tmp_path):
    """Simulated: curves, a condition that has learnt through them, drift, new curves, and a screened roll."""
    curves = tmp_path / "curves.json"
    done = workbench.make_tone_curves(ramps, curves, limits=limits, aim="sctv", plot=tmp_path / "tone.svg")
    assert all(row["residual_rms_percent"] < 1 for row in done.results["inks"])
    spaces = read_curves(curves)
    assert (spaces.aim, spaces.total) == ("sctv", 2.2)
    # The limit binds laid down; in calibrated ink it costs little of what it allows.
    assert calibrated_limits(spaces).total > 1.9
    assert done.results["curves_digest"] == spaces.curves_digest
    assert json.loads(curves.read_text())["schema"] == CURVES_SCHEMA

    # The chart made for these curves says so; readings without that keyword are refused.
    workbench.make_chart(tmp_path / "made", kind="characterisation", curves=curves, patches=60)
    made, _ = read_readings(tmp_path / "made" / "characterisation.txt", need_colour=False)
    check_ink_space(made, spaces)
    laid = spaces.load(spaces.to_laid_down(to_codes(made.coverages)))
    assert laid.max() <= spaces.total + 3 / 65535
    workbench.make_chart(tmp_path / "ramps", kind="linearisation", curves=curves)
    made, _ = read_readings(tmp_path / "ramps" / "linearisation.txt", need_colour=False)
    assert ramp_space(made, spaces) == ("laid-down", ())
    chart = tmp_path / "chart.txt"
    inks = small_readings.readings.coverages
    press = invented_press("T1", inks="CMY")
    spectra = press.print(spaces.to_laid_down(np.round(inks * 65535).astype(np.uint16)) / 65535)
    write(chart, inks, spectra)
    with pytest.raises(InputError, match="do not say which curves"):
        workbench.build_condition(chart, tmp_path / "a.cond", curves=curves)
    # The model is that of the small condition, so that nothing has to be learnt twice.
    cond = tmp_path / "a.cond"
    write_condition(cond, replace(small_readings.condition, spaces=spaces, limits=calibrated_limits(spaces)))

    # Other passes: the curves are stale, rolls are refused until ramps of the new press are read.
    other, moved = tmp_path / "other.toml", tmp_path / "moved.cond"
    other.write_text(INKS.replace("passes = 4", "passes = 8"))
    shown = workbench.change_press(cond, moved, limits=other).results
    assert shown["stale"] == ["passes 8, was 4"]
    with pytest.raises(InputError, match="passes 8, was 4"):
        workbench.make_chart(tmp_path / "stale", kind="characterisation", condition=moved, patches=40)
    workbench.make_chart(tmp_path / "fresh", kind="linearisation", condition=moved, dpi=(50.0, 50.0))
    planes = separated(moved, tmp_path)
    with pytest.raises(InputError, match="passes 8, was 4"):
        workbench.screen_roll(planes, tmp_path / "drops.tif")
    recipes = ramp_recipes()
    old = ink_space_keywords(spaces, "laid-down")
    with pytest.raises(InputError, match="other curves"):
        workbench.relinearise(
            moved,
            write(tmp_path / "old.txt", recipes, press.print(recipes), keywords=old),
            tmp_path / "b.cond",
        )
    new = ink_space_keywords(read_condition(moved)[0].spaces, "laid-down")
    read = write(tmp_path / "new.txt", recipes, read_noise(press.print(recipes), 1), keywords=new)
    again = tmp_path / "again.cond"
    # Curves of other passes are made anew: nothing to hold them against.
    assert workbench.relinearise(moved, read, again).results["changes"] is None
    after, before = read_condition(again)[0], read_condition(moved)[0]
    assert after.spaces.stale == ()
    assert (after.spaces.tone != before.spaces.tone).any()
    np.testing.assert_array_equal(after.forward.recipes, before.forward.recipes)
    # Profiles keep their tables and carry the curves of today.
    for version, data in after.profiles.items():
        now, then = read_profile(data), read_profile(before.profiles[version])
        assert {name for name in now.tags if now.tags[name] != then.tags[name]} == {"meta"}
        assert read_facts(now)[0].spaces.curves_digest == after.spaces.curves_digest
    # The small model has learnt the press without curves: even amounts come back as they were.
    assert np.abs(after.spaces.tone / 65535 - np.linspace(0, 1, 256)).max() < 0.03
    result = workbench.screen_roll(separated(again, tmp_path), tmp_path / "drops.tif").results
    assert (result["drop_levels"], result["inks"]) == (2, ["C", "M", "Y"])
    assert result["total_ink_laid_down_percent"] == pytest.approx(220)
    assert result["guard_share_touched"] < 0.01
    odd = workbench.relinearise(moved, read, again, aim="colour")
    assert any("learnt other tones" in problem.message for problem in odd.problems)


def test_relinearising_tells_a_drift_from_the_noise_of_its_readings(small_readings, tmp_path):
    """Simulated: the press stands still, then magenta alone grows by a fifth."""
    cond, out = tmp_path / "a.cond", tmp_path / "b.cond"
    write_condition(cond, small_readings.condition)
    recipes, press = ramp_recipes(), invented_press("T1", inks="CMY")
    tones = []
    for gain in ([1.0, 1.0, 1.0], [1.0, 1.2, 1.0]):
        read = write(tmp_path / "read.txt", recipes, read_noise(press.print(recipes, np.array(gain)), 2))
        done = workbench.relinearise(cond, read, out)
        rows = dict(zip("CMY", done.results["changes"], strict=True))
        lines = dict(zip("CMY", done.lines, strict=False))
        tones.append(read_condition(out)[0].spaces.tone / 65535)
        if gain[1] == 1.0:
            # What the small model is off by on single inks is part of the change.
            assert max(row["change_de00"] for row in rows.values()) < 0.5
        else:
            assert not rows["M"]["within_noise"]
            assert rows["M"]["change_de00"] > 1.3
            assert rows["M"]["tone_percent"] > 1.5
            assert "stronger" in lines["M"]
    even = np.linspace(0, 1, 256)
    assert np.abs(tones[0] - even).max() < 0.03
    np.testing.assert_array_equal(tones[0][[0, 2]], tones[1][[0, 2]])
    # The middle tone prints as it did before the ink grew.
    middle = np.array([[0.0, even[128], 0.0], [0.0, tones[1][1][128], 0.0], [0.0, even[128], 0.0]])
    gain = np.array([[1.0], [1.2], [1.2]]) * [0.0, 1.0, 0.0] + [1.0, 0.0, 1.0]
    spectra = np.vstack([press.print(row[None], of) for row, of in zip(middle, gain, strict=True)])
    wanted, now, drifted = spectra_to_lab(spectra, WAVELENGTHS_NM)
    assert delta_e_2000(wanted, drifted) > 1.5
    assert delta_e_2000(wanted, now) < 0.5


def separated(condition, folder):
    from PIL import Image

    image, planes = folder / "motif.png", folder / "planes.tif"
    pixels = np.random.default_rng(0).integers(0, 255, (24, 32), dtype=np.uint8)
    Image.fromarray(pixels).save(image, dpi=(100, 100))
    workbench.separate(condition, image, planes)
    return planes


def test_light_inks_are_split(tmp_path):
    """Simulated: a magenta and the same diluted to a fifth."""
    steps = ramp_recipes(2)
    dark = invented_press("T1", inks="M").print(steps[:, :1])
    pale = with_ink_scaled(invented_press("T1", inks="M").print(steps[:, 1:]), dark[0], 0.2)
    spectra = np.where(steps[:, :1] > 0, dark, pale)
    path = write(tmp_path / "two.txt", steps, spectra, columns=("2CLR_1", "2CLR_2"))
    described = tmp_path / "inks.toml"
    described.write_text(
        '[[ink]]\nname = "M"\n[[ink]]\nname = "pale"\nrole = "light"\nlight_of = "M"\nlimit_percent = 90\n'
    )
    workbench.make_chart(tmp_path / "ramps", kind="ink-limit", curves=described)
    made, _ = read_readings(tmp_path / "ramps" / "ink-limit.txt", need_colour=False)
    assert made.keywords["INK_NAMES"] == "M pale"
    with pytest.raises(InputError, match="no split yet"):
        workbench.make_tone_curves(path, tmp_path / "x.json", limits=described)
    out = tmp_path / "split.json"
    held = workbench.split_light_inks(path, out, limits=described)
    (split,) = held.results["splits"]
    assert held.results["bound_percent"] == 100
    assert split["most_laid_down_percent"] <= 100.01
    assert split["free_graininess_percent"] <= split["graininess_percent"] < 90
    (note,) = [p for p in held.problems if p.where == "light inks"]
    assert "total of 100 %" in note.message
    # With room under the total nothing is held back, and the note goes.
    described.write_text("total_percent = 200\n" + described.read_text())
    done = workbench.split_light_inks(path, out, limits=described)
    (split,) = done.results["splits"]
    assert done.results["bound_percent"] is None
    assert not [p for p in done.problems if p.where == "light inks"]
    assert split["most_laid_down_percent"] > 101
    assert split["light_peak_percent"] == pytest.approx(90, abs=1)
    assert 3 < split["dark_starts_percent"] < 40
    for wrong in (0, 9.9, 401):
        with pytest.raises(UsageError, match="10 to 400 %"):
            workbench.split_light_inks(path, tmp_path / "x.json", limits=described, most_laid_down=wrong)
    spaces = read_curves(out)
    assert (spaces.channels, [ink.name for ink in spaces.inks]) == (("M",), ["M", "pale"])
    laid = spaces.to_laid_down(np.array([[0], [9000], [65535]], np.uint16))
    assert laid[0].tolist() == [0, 0]
    assert laid[1, 1] > 5 * laid[1, 0]
    assert laid[2, 0] > 65500


def test_a_custom_course_and_what_is_none(ramps, limits, tmp_path):
    course, out = tmp_path / "aim.csv", tmp_path / "curves.json"
    course.write_text("ink,tone\n0,0\n50,64\n100,100\n")
    workbench.make_tone_curves(ramps, out, limits=limits, aim=str(course))
    assert read_curves(out).aim == "aim.csv"
    for text in ("0,0\n50,60\n", "0,0\n50,x\n100,100\n", "0,0\n60,50\n50,60\n100,100\n", ""):
        course.write_text(text)
        with pytest.raises(InputError):
            workbench.make_tone_curves(ramps, out, limits=limits, aim=str(course))
    with pytest.raises(UsageError, match="colour, sctv, lightness"):
        workbench.make_tone_curves(ramps, out, limits=limits, aim="evenness")
    with pytest.raises(UsageError, match="one of the two"):
        workbench.make_tone_curves(ramps, out)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "ink = 3",
        "[[ink]]\nname = 5",
        '[[ink]]\nname = "C"\nlimit_percent = 0',
        '[[ink]]\nname = "C"\nlimits = 80',
        '[[ink]]\nname = "C"\ndrop_pl = "big"',
        '[[ink]]\nname = "C"\nweight = nan',
        '[[ink]]\nname = "C"\nrole = "pale"',
        '[screen]\npasses = 2\n[[ink]]\nname = "C"',
        "\x00",
        "[[ink]",
    ],
)
def test_files_of_limits_that_are_none(text, tmp_path):
    path = tmp_path / "inks.toml"
    path.write_text(text)
    with pytest.raises(InputError, match=r"inks\.toml"):
        read_press(path)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"schema": "strikeoff/curves/1"}', "[" * 100_000])
def test_curves_that_are_none(text, tmp_path):
    path = tmp_path / "curves.json"
    path.write_text(text)
    with pytest.raises(InputError, match=r"curves\.json"):
        read_curves(path)


def test_two_light_inks_of_one_colour_are_refused(tmp_path):
    """Simulated: three strengths of one magenta."""
    steps = ramp_recipes(3)
    prints = [invented_press("T1", inks="M").print(steps[:, i : i + 1]) for i in range(3)]
    diluted = [with_ink_scaled(prints[i], prints[0][0], share) for i, share in ((1, 0.3), (2, 0.15))]
    spectra = np.minimum.reduce([prints[0], *diluted])
    path = write(tmp_path / "three.txt", steps, spectra, columns=("3CLR_1", "3CLR_2", "3CLR_3"))
    described = tmp_path / "inks.toml"
    light = '[[ink]]\nname = "{}"\nrole = "light"\nlight_of = "M"\n'
    described.write_text('[[ink]]\nname = "M"\n' + light.format("pale") + light.format("paler"))
    with pytest.raises(InputError, match="more than one light ink"):
        workbench.split_light_inks(path, tmp_path / "split.json", limits=described)
    assert not (tmp_path / "split.json").exists()


def light_and_dark(path, names, shares):
    """Simulated ramps of diluted inks; a share of 1 is the ink itself."""
    steps = ramp_recipes(len(names))
    cloth = invented_press("T1", inks="M").print(np.zeros((1, 1)))[0]
    spectra = np.tile(cloth, (len(steps), 1))
    for at, (name, share) in enumerate(zip(names, shares, strict=True)):
        ink = name.upper()[-1] if len(name) < 3 else name.replace("-", " ").split()[-1][0].upper()
        print_ = with_ink_scaled(invented_press("T1", inks=ink).print(steps[:, at : at + 1]), cloth, share)
        rows = steps[:, at] > 0
        spectra[rows] = print_[rows]
    columns = tuple(f"{len(names)}CLR_{n + 1}" for n in range(len(names)))
    keywords = {"INK_NAMES": " ".join(name.replace(" ", "-") for name in names)}
    return write(path, steps, spectra, columns=columns, keywords=keywords)


@pytest.mark.parametrize("names", ["k c C M m K Y", "Lk Lc C M Lm K Y", "k Light-Cyan C M m K Y"])
def test_light_inks_get_their_role(tmp_path, names):
    inks = names.split()
    shares = [1.0 if ink in "CMYK" else 0.3 for ink in inks]
    path = light_and_dark(tmp_path / "r.txt", inks, shares)
    out = tmp_path / "limits.toml"
    done = workbench.find_ink_limits(path, out)
    press = read_press(out)
    assert [ink.light_of for ink in press.inks] == ["K", "C", None, None, "M", None, None]
    assert press.channels == ("C", "M", "K", "Y")
    notes = [p for p in done.problems if "taken for the light ink" in p.message]
    assert len(notes) == 3
    assert all(p.severity == "note" for p in notes)
    workbench.split_light_inks(path, tmp_path / "split.json", limits=out)


def test_roles_of_a_file_stay_and_a_note_tells_how_to_change_them(tmp_path):
    path, described = light_and_dark(tmp_path / "r.txt", ["C", "2C"], [1.0, 0.25]), tmp_path / "inks.toml"
    described.write_text('[[ink]]\nname = "C"\n[[ink]]\nname = "2C"\n')
    done = workbench.find_ink_limits(path, tmp_path / "out.toml", inks=described)
    assert [ink.role for ink in read_press(tmp_path / "out.toml").inks] == ["process", "process"]
    (note,) = [p for p in done.problems if "looks like the light ink" in p.message]
    assert 'light_of = "C"' in note.advice


def test_other_hues_and_equal_strengths_are_no_light_inks(tmp_path):
    path = light_and_dark(tmp_path / "r.txt", ["C", "M", "Y", "K"], [1.0, 0.4, 0.4, 0.9])
    done = workbench.find_ink_limits(path, tmp_path / "out.toml")
    assert [row["light_of"] for row in done.results["limits"]] == [None] * 4
    same = light_and_dark(tmp_path / "s.txt", ["c", "C"], [1.0, 0.98])
    assert [
        r["light_of"] for r in workbench.find_ink_limits(same, tmp_path / "o.toml").results["limits"]
    ] == [
        None,
        None,
    ]


def test_a_fluorescent_ink_is_no_light_ink(tmp_path):
    """Under a name that does not tell; its light comes back in a band of 40 nm."""
    names, shares = ["M", "2M"], [1.0, 0.3]
    plain, _ = read_readings(light_and_dark(tmp_path / "r.txt", names, shares))
    glow = 0.2 * np.exp(-0.5 * ((WAVELENGTHS_NM - 610.0) / 20.0) ** 2)
    spectra = plain.spectra + plain.coverages[:, 1:] * glow
    keywords = {"INK_NAMES": "M 2M"}
    path = write(
        tmp_path / "f.txt", plain.coverages, spectra, columns=("2CLR_1", "2CLR_2"), keywords=keywords
    )
    for file, light_of in ((tmp_path / "r.txt", "M"), (path, None)):
        done = workbench.find_ink_limits(file, tmp_path / "o.toml")
        assert done.results["limits"][1]["light_of"] == light_of


def test_a_fluorescent_ink_gets_its_role_from_what_it_gives_back(tmp_path):
    """Under a name that does not tell; with a file of inks its role stays and a note says what to write."""
    plain, _ = read_readings(light_and_dark(tmp_path / "r.txt", ["C", "M", "Y"], [1.0, 1.0, 1.0]))
    steps = plain.coverages
    base = invented_press("T1", inks="M").print(steps[:, 2:])
    glow = 0.3 * np.exp(-0.5 * ((WAVELENGTHS_NM - 610.0) / 20.0) ** 2)
    spectra = np.where(steps[:, 2:] > 0, base + steps[:, 2:] * glow, plain.spectra)
    columns, keywords = ("3CLR_1", "3CLR_2", "3CLR_3"), {"INK_NAMES": "C M Pink"}
    path = write(tmp_path / "f.txt", steps, spectra, columns=columns, keywords=keywords)
    done = workbench.find_ink_limits(path, tmp_path / "o.toml")
    assert [ink.role for ink in read_press(tmp_path / "o.toml").inks] == ["process", "process", "fluorescent"]
    assert any("taken for fluorescent" in p.message for p in done.problems)
    described = tmp_path / "inks.toml"
    described.write_text("".join(f'[[ink]]\nname = "{name}"\n' for name in ("C", "M", "Pink")))
    done = workbench.find_ink_limits(path, tmp_path / "o.toml", inks=described)
    assert [ink.role for ink in read_press(tmp_path / "o.toml").inks] == ["process"] * 3
    (note,) = [p for p in done.problems if "more light than the cloth" in p.message]
    assert 'role = "fluorescent"' in note.advice


@pytest.mark.parametrize(("role", "severity"), [("fluorescent", "note"), ("process", "warning")])
def test_limits_note_reflectance_above_one_where_the_file_says_that_the_ink_fluoresces(
    tmp_path, role, severity
):
    """As `condition build` and all that comes between do."""
    plain, _ = read_readings(light_and_dark(tmp_path / "r.txt", ["M", "2M"], [1.0, 1.0]))
    glow = 0.9 * np.exp(-0.5 * ((WAVELENGTHS_NM - 610.0) / 20.0) ** 2)
    spectra = plain.spectra + plain.coverages[:, 1:] * glow
    keywords = {"INK_NAMES": "M Pink"}
    path = write(
        tmp_path / "f.txt", plain.coverages, spectra, columns=("2CLR_1", "2CLR_2"), keywords=keywords
    )
    described = tmp_path / "inks.toml"
    described.write_text(f'[[ink]]\nname = "M"\n[[ink]]\nname = "Pink"\nrole = "{role}"\n')
    done = workbench.find_ink_limits(path, tmp_path / "o.toml", inks=described)
    (bright,) = [p for p in done.problems if p.message.startswith("reflectance is far above 1")]
    assert bright.severity == severity


def test_an_ink_that_falls_back_beyond_its_limit_is_told_only_until_the_limit_stands(tmp_path):
    """Hooking cyan: above 70 % more ink gives less colour."""
    inks = ramp_recipes()
    seen = inks.copy()
    seen[:, 0] = np.where(inks[:, 0] > 0.7, 0.7 - 1.5 * (inks[:, 0] - 0.7), inks[:, 0])
    write(tmp_path / "ramps.txt", inks, invented_press("T1", inks="CMY").print(seen))

    def told(result):
        return [problem.message for problem in result.problems if "falls back" in problem.message]

    limits = tmp_path / "limits.toml"
    found = workbench.find_ink_limits(tmp_path / "ramps.txt", limits)
    assert found.results["limits"][0]["limit_percent"] < 75
    assert told(found) == ["ink 1 falls back: more ink gives less colour"]
    curves = workbench.make_tone_curves(tmp_path / "ramps.txt", tmp_path / "curves.json", limits=limits)
    assert told(curves) == []
    both = np.vstack([inks, np.repeat(np.linspace(0.05, 1, 20)[:, None], 3, axis=1) * [1, 1, 0]])
    seen = both.copy()
    seen[:, 0] = np.where(both[:, 0] > 0.7, 0.7 - 1.5 * (both[:, 0] - 0.7), both[:, 0])
    write(tmp_path / "overprints.txt", both, invented_press("T1", inks="CMY").print(seen))
    total = tmp_path / "total.toml"
    assert told(workbench.find_total_ink(tmp_path / "overprints.txt", total, limits=limits)) == []
    text = limits.read_text()
    limits.write_text(
        text.replace(
            f"limit_percent = {found.results['limits'][0]['limit_percent']:g}", "limit_percent = 100", 1
        )
    )
    with pytest.raises(InputError, match="stronger"):
        workbench.make_tone_curves(tmp_path / "ramps.txt", tmp_path / "curves.json", limits=limits)
