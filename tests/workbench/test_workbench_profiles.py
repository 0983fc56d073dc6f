"""Inspect, link, design space, import and gamut through the Python interface."""

import json
from dataclasses import replace

import iccdev
import numpy as np
import pytest
import tifffile

from strikeoff import workbench
from strikeoff.artwork.colour import srgb_to_lab
from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.cielab import lab_to_xyz, xyz_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition import links
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.pcs import D50
from strikeoff.icc.evaluate import device_to_lab
from strikeoff.icc.profile import read_profile
from strikeoff.model.gamut_body import body_of_triangles, face_triangles, mesh_triangles
from strikeoff.qualify import from_profile, profile_grids
from strikeoff.workbench import gamut
from strikeoff.workbench.gamut import usual_levels
from strikeoff.workbench.gamut_bodies import condition_body


@pytest.fixture(autouse=True)
def small_links(monkeypatch):
    """Links of 17 nodes in place of 41: quick, and all else the same."""
    monkeypatch.setitem(links.GRID, "rgb", 17)


@pytest.fixture(scope="module")
def folder(small_readings, tmp_path_factory):
    place = tmp_path_factory.mktemp("profiles")
    write_condition(place / "cloth.cond", small_readings.condition)
    return place


@pytest.fixture(scope="module")
def picture():
    return np.random.default_rng(2).integers(0, 256, (24, 32, 3), dtype=np.uint8)


def link_inks(path, device):
    """Ink values that the ICC's reference implementation finds through a device link."""
    engine = iccdev.IccCmm(iccdev.ColorSpace.Unknown, iccdev.ColorSpace.Unknown, True)
    engine.attach(str(path), intent=1, interp=0)
    engine.begin()
    return np.asarray(engine.apply_ndarray(np.ascontiguousarray(device, np.float32)), float)


@pytest.fixture(scope="module")
def separated(folder, picture):
    """What the separation makes of the picture, through a link of as many nodes as `small_links` has."""
    tifffile.imwrite(folder / "a.tif", picture, photometric="rgb")
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(links.GRID, "rgb", 17)
        planes = folder / "p.tif"
        done = workbench.separate(folder / "cloth.cond", folder / "a.tif", planes, intent="relative")
    return done.results["link"], tifffile.imread(planes).reshape(-1, 3) / 65535.0


@pytest.mark.parametrize("version", [2, 4])
def test_device_link_equals_the_separation(folder, picture, separated, version, tmp_path, small_readings):
    """ICC.1:2022 clause 8.6: class link, both spaces, profile sequence; the same inks as our planes."""
    link = tmp_path / "link.icc"
    done = workbench.link_profile(
        folder / "cloth.cond", link, artwork_profile="srgb", intent="relative", version=version
    )
    data = link.read_bytes()
    result = iccdev.validate_profile(data)
    assert (result.status, result.report) == (iccdev.ValidationStatus.OK, "")
    profile = read_profile(data)
    assert (profile.header.device_class, profile.header.colour_space, profile.header.pcs) == (
        "link",
        "RGB ",
        "3CLR",
    )
    assert {"A2B0", "pseq", "clot"} <= set(profile.tags)
    digest, ours = separated
    assert digest == done.results["link"]
    theirs = link_inks(link, picture.reshape(-1, 3) / 255.0)
    # Between nodes the two interpolate differently (tetrahedra and cubes).
    assert np.abs(ours - theirs).mean() < 0.01
    assert np.abs(ours - theirs).max() < 0.15
    # At the nodes both are the table, wherever along the axes those lie.
    axis = links.node_axes(small_readings.condition, "rgb", "relative")[0]
    at = np.random.default_rng(3).integers(0, len(axis), (200, 3))
    exact = np.abs(link_inks(link, axis[at]) - node_inks(profile, at))
    assert exact.max() < 2e-4
    assert np.ptp(np.diff(axis)) > 0.02


def node_inks(profile, at):
    lut = profile.decode("A2B0")
    return lut.clut.codes[at[:, 0], at[:, 1], at[:, 2]] / 65535.0


def test_a_link_keeps_the_total_ink_limit(folder, tmp_path):
    workbench.link_profile(folder / "cloth.cond", tmp_path / "l.icc", artwork_profile="sRGB")
    codes = read_profile((tmp_path / "l.icc").read_bytes()).decode("A2B0").clut.codes
    assert codes.sum(axis=-1, dtype=int).max() <= 2.5 * 65535
    assert codes.sum(axis=-1, dtype=int).max() > 2.2 * 65535
    # A link describes no artwork, and what does is said.
    with pytest.raises(InputError, match="device link") as told:
        workbench.link_profile(folder / "cloth.cond", tmp_path / "x.icc", artwork_profile=tmp_path / "l.icc")
    assert "colour space profile" in told.value.expected
    assert "or srgb" in told.value.advice


def test_a_press_profile_is_no_artwork_profile(folder, small_readings, tmp_path):
    (tmp_path / "press.icc").write_bytes(small_readings.condition.profiles[4])
    with pytest.raises(UsageError, match="no profile of artwork"):
        workbench.link_profile(
            folder / "cloth.cond", tmp_path / "l.icc", artwork_profile=tmp_path / "press.icc"
        )


@pytest.fixture(scope="module")
def design(folder):
    return {
        version: (
            folder / f"rgb{version}.icc",
            workbench.design_rgb(
                folder / "cloth.cond", folder / f"rgb{version}.icc", version=version
            ).results,
        )
        for version in (2, 4)
    }


def wide_space_ratio(condition):
    """Volume of the ROMM space (ISO 22028-2: primaries, gamma 1.8, D50) over that of the gamut."""
    xy = np.array([[0.7347, 0.2653], [0.1596, 0.8404], [0.0366, 0.0001]])
    columns = np.stack([xy[:, 0] / xy[:, 1], np.ones(3), (1 - xy.sum(axis=1)) / xy[:, 1]])
    primaries = (columns * np.linalg.solve(columns, D50)).T
    body = body_of_triangles(face_triangles(3, lambda rgb: xyz_to_lab(rgb**1.8 @ primaries, D50)))
    cloth = condition.connection
    mesh = condition_body(condition).mesh()
    relative = cloth.to_relative(cloth.from_absolute(mesh.reshape(-1, 3))).reshape(mesh.shape)
    return body.volume() / body_of_triangles(mesh_triangles(relative)).volume()


def test_design_space_holds_the_gamut(folder, small_readings, design, lcms):
    """Colours of legal inks survive as RGB 0-1; the space wastes less than a usual wide one (ISO 22028-2)."""
    condition = small_readings.condition
    wide = wide_space_ratio(condition)
    for path, results in design.values():
        result = iccdev.validate_profile(path.read_bytes())
        assert (result.status, result.report) == (iccdev.ValidationStatus.OK, "")
        inks = condition.limits.random(500, np.random.default_rng(8))
        lab = condition.connection.to_relative(condition.native.lab(inks))
        data = path.read_bytes()
        rgb = lcms.from_lab(data, "RGB", lab, "relative")
        lost = delta_e_2000(lab, lcms.to_lab(data, "RGB", rgb, "relative"))
        assert np.quantile(lost, 0.98) < 1.0
        assert results["covered_share"] > 0.97
        assert results["volume_ratio"] < 0.8 * wide
        np.testing.assert_allclose(
            lcms.to_lab(data, "RGB", np.ones((1, 3)), "relative"), [[100.0, 0, 0]], atol=0.05
        )


@pytest.fixture
def tiny_links(monkeypatch):
    """Links of few nodes, where no ink of them is judged."""
    monkeypatch.setitem(links.GRID, "rgb", 5)


@pytest.mark.usefixtures("tiny_links")
def test_artwork_in_the_design_space_is_recognised(folder, design, picture, tmp_path):
    """Whatever the order says, it goes to its inks by the relative intent; other profiles do not."""
    for version, (path, _) in design.items():
        icc = path.read_bytes()
        tifffile.imwrite(tmp_path / "own.tif", picture, photometric="rgb", iccprofile=icc)
        own = workbench.separate(folder / "cloth.cond", tmp_path / "own.tif", tmp_path / "own_p.tif")
        assert own.results["design_space"] is True, version
        assert own.results["intent"] == "relative"
        assert any("design space" in problem.message for problem in own.problems)
        # The date is no colour; yet these are no longer the bytes that were handed out.
        changed = icc[:24] + bytes([icc[24] ^ 1]) + icc[25:]
        tifffile.imwrite(tmp_path / "x.tif", picture, photometric="rgb", iccprofile=changed)
        other = workbench.separate(
            folder / "cloth.cond", tmp_path / "x.tif", tmp_path / "x_p.tif", intent="absolute"
        )
        assert (other.results["design_space"], other.results["intent"]) == (False, "absolute")


@pytest.mark.usefixtures("tiny_links")
def test_the_design_space_of_another_condition_is_not_taken(
    folder, small_readings, design, picture, tmp_path
):
    write_condition(tmp_path / "b.cond", replace(small_readings.condition, name="other"))
    icc = design[2][0].read_bytes()
    tifffile.imwrite(tmp_path / "a.tif", picture, photometric="rgb", iccprofile=icc)
    done = workbench.separate(tmp_path / "b.cond", tmp_path / "a.tif", tmp_path / "p.tif")
    assert (done.results["design_space"], done.results["intent"]) == (False, "perceptual")


def test_inspection_of_our_own(small_readings, tmp_path):
    condition = small_readings.condition
    for version, data in condition.profiles.items():
        (tmp_path / "p.icc").write_bytes(data)
        found = workbench.inspect_profile(tmp_path / "p.icc")
        assert found.problems == ()
        results = found.results
        json.dumps(results, allow_nan=False)
        assert results["version"] == {2: "2.4.0", 4: "4.4.0"}[version]
        assert results["ink_limit_percent"] == pytest.approx(250, abs=0.01)
        assert "D50" in results["viewing"]
        assert results["black_point_lab"][0] == pytest.approx(condition.black_lab[0], abs=3.0)
        assert {trip["intent"] for trip in results["round_trips"]} == {"perceptual", "relative", "saturation"}
        relative = next(trip for trip in results["round_trips"] if trip["intent"] == "relative")
        assert relative["mean_de00"] < 0.5
        np.testing.assert_allclose(
            results["media_white_lab"], condition.connection.to_absolute(condition.cloth_lab), atol=0.05
        )


def test_inspection_tells_black_as_the_profile_counts_it_and_as_the_condition_does(small_readings, tmp_path):
    """ICC.1:2022, 6.3.2: absolute is media-relative XYZ times media white; a lighter black is explained."""
    condition = small_readings.condition
    (tmp_path / "p.icc").write_bytes(condition.profiles[4])
    darker = replace(condition, black_lab=condition.black_lab - np.array([3.0, 0.0, 0.0]))
    write_condition(tmp_path / "a.cond", darker)
    found = workbench.inspect_profile(tmp_path / "p.icc", condition=tmp_path / "a.cond")
    relative, absolute = (found.results[f"black_point_{kind}lab"] for kind in ("", "absolute_"))
    white = np.array(found.results["media_white_xyz"]) / D50
    scaled = xyz_to_lab(lab_to_xyz(np.array(relative), np.ones(3)) * white, np.ones(3))
    np.testing.assert_allclose(absolute, scaled, atol=0.01)
    own = darker.connection.from_relative(darker.black_lab[None])[0]
    np.testing.assert_allclose(found.results["weighted_ink"]["black_point_lab"], own, atol=0.01)
    text = " ".join(found.lines)
    assert f"L* {relative[0]:.1f}" in text
    assert "relative to media white" in text
    assert f"the profile's is {absolute[0] - own[0]:.1f} L* lighter" in text


def test_inspection_weighs_ink_as_the_condition_does(small_readings, tmp_path):
    condition = small_readings.condition
    record = tmp_path / "a.cond"
    digest = write_condition(record, condition)
    (tmp_path / "p.icc").write_bytes(condition.profiles[4])
    plain = workbench.inspect_profile(tmp_path / "p.icc")
    assert plain.results["weighted_ink"] is None
    assert any("--condition" in line for line in plain.lines)
    found = workbench.inspect_profile(tmp_path / "p.icc", condition=record)
    weighed = found.results["weighted_ink"]
    assert weighed["condition"] == digest
    assert weighed["is_its_own"]
    assert weighed["calibrated_limit_percent"] == pytest.approx(100 * condition.limits.total)
    assert weighed["calibrated_percent"] == pytest.approx(found.results["ink_limit_percent"], abs=0.02)
    assert weighed["laid_down_percent"] <= weighed["laid_down_limit_percent"] + 0.02
    # Half the weight of one ink: less of the same tables.
    light = np.ones(condition.n_inks)
    light[0] = 0.5
    write_condition(record, replace(condition, limits=replace(condition.limits, weights=light), profiles={}))
    lighter = workbench.inspect_profile(tmp_path / "p.icc", condition=record).results["weighted_ink"]
    assert not lighter["is_its_own"]
    assert lighter["calibrated_percent"] < weighed["calibrated_percent"] - 1.0


def test_inspection_finds_faults(small_readings, tmp_path):
    data = small_readings.condition.profiles[4]
    changed = bytearray(data)
    changed[-200] ^= 0xFF
    (tmp_path / "p.icc").write_bytes(changed)
    assert any("profile ID" in p.message for p in workbench.inspect_profile(tmp_path / "p.icc").problems)
    renamed = bytes(data).replace(b"gamt", b"gamx", 1)
    (tmp_path / "p.icc").write_bytes(renamed)
    assert any("gamt" in (p.expected or "") for p in workbench.inspect_profile(tmp_path / "p.icc").problems)
    (tmp_path / "p.icc").write_bytes(data[:5000])
    with pytest.raises(InputError):
        workbench.inspect_profile(tmp_path / "p.icc")


@pytest.fixture(scope="module")
def imported(folder, small_readings):
    (folder / "press.icc").write_bytes(small_readings.condition.profiles[4])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(profile_grids, "_LEVELS", (5, 9))
        patch.setattr(profile_grids, "_LARGEST", {3: 9})
        patch.setattr(from_profile, "_FILL", 300)
        done = workbench.import_condition(folder / "press.icc", folder / "imported.cond")
    return folder / "imported.cond", done


def test_an_imported_condition_says_what_the_profile_says(small_readings, imported):
    path, done = imported
    assert (done.results["label"], done.results["held_out"]) == ("reference engine", None)
    assert done.results["total_ink_percent"] == pytest.approx(250, abs=0.1)
    (told,) = [problem for problem in done.problems if problem.where == "total ink"]
    assert (told.severity, told.found.count(" % in B2A")) == ("note", 3)
    record, _ = read_condition(path)
    assert record.validation is None
    inks = record.limits.random(400, np.random.default_rng(9))
    profile = read_profile(small_readings.condition.profiles[4])
    said = device_to_lab(profile, inks, "absolute")
    error = delta_e_2000(said, record.native.lab(inks))
    assert error.mean() < 0.5
    assert np.quantile(error, 0.95) < 1.5


def test_a_condition_without_error_figures_everywhere(imported, tmp_path):
    path, _ = imported
    shown = workbench.show_condition(path)
    assert shown.results["held_out"] is None
    assert any("no error figures" in line for line in shown.lines)
    patches = tmp_path / "p.csv"
    patches.write_text("3CLR_1,3CLR_2,3CLR_3\n50,0,10\n0,20,60\n")
    done = workbench.predict(path, patches, tmp_path / "out.csv")
    assert done.results["median_de00_u90"] is None
    text = (tmp_path / "out.csv").read_text()
    assert "LAB_L" in text
    assert "DE00_U90" not in text
    assert any("error figures" in problem.message for problem in done.problems)
    with pytest.raises(UsageError, match="error figures"):
        workbench.verify(path, tmp_path / "out.csv")


def test_only_press_profiles_are_imported(design, tmp_path):
    with pytest.raises(UsageError, match="too low"):
        workbench.import_condition(design[2][0], tmp_path / "x.cond", total_ink=20)
    with pytest.raises(InputError, match="not a profile of a press"):
        workbench.import_condition(design[2][0], tmp_path / "x.cond")


def test_gamut_against_itself_a_profile_and_colours(folder, small_readings, design, tmp_path):
    cond = folder / "cloth.cond"
    same = workbench.measure_gamut(cond, tmp_path / "g.html", compare=cond).results
    assert same["compared"]["covered_share"] == pytest.approx(1.0)
    assert same["volume"] == same["compared"]["volume"] > 1e5
    page = (tmp_path / "g.html").read_text()
    # Two of one name are told apart by their files.
    assert page.count(f"{same['name']} ({same['compared']['name']})") > 1
    assert "cubic L*a*b* units; 100.0 % of it lies within" in page
    assert f"100.0 % of it lies within {same['name']}, and it holds 100.0 % of {same['name']}" in page
    assert f"{same['volume']:,}" in page
    # The tables of its own profile hold the same body but for what the ink limit (250 of 300 %) takes.
    (tmp_path / "p.icc").write_bytes(small_readings.condition.profiles[4])
    own = workbench.measure_gamut(cond, tmp_path / "g.svg", compare=tmp_path / "p.icc").results["compared"]
    assert own["covers_share"] > 0.97
    assert own["volume"] == pytest.approx(same["volume"], rel=0.03)
    assert (tmp_path / "g.svg").read_text().lstrip().startswith("<svg")
    inks = np.array([[0.3, 0.2, 0.1], [0.0, 0.5, 0.5]])
    inside = small_readings.condition.native.lab(inks)
    rows = [*inside.tolist(), [50.0, 100.0, -100.0]]
    (tmp_path / "c.csv").write_text(
        "LAB_L,LAB_A,LAB_B\n" + "".join(",".join(f"{v:.3f}" for v in row) + "\n" for row in rows)
    )
    found = workbench.measure_gamut(cond, tmp_path / "g.svg", compare=tmp_path / "c.csv").results["compared"]
    assert (found["kind"], found["colours"], found["in_gamut"]) == ("colours", 3, 2)
    # The page names what is missing, and by how much: who asks whether a set can be printed acts on that.
    told = workbench.measure_gamut(cond, tmp_path / "c.html", compare=tmp_path / "c.csv")
    (farthest,) = told.results["compared"]["worst"]
    page = (tmp_path / "c.html").read_text()
    assert f"{farthest['id']} is farthest from it, by {farthest['de00']:.1f} CIEDE2000" in told.lines[-1]
    assert "Out of gamut" in page
    assert f">{farthest['de00']:.2f}<" in page
    assert told.results["compared"]["digest"] in page
    assert told.results["condition"] in page
    with pytest.raises(UsageError, match=r"\.html or \.svg"):
        workbench.measure_gamut(cond, tmp_path / "g.txt")


def test_what_tables_miss_is_asked_for_one_by_one(folder, tmp_path, monkeypatch):
    """Of four colours tables miss three; the model reaches one of them, and one is too far off to ask."""
    real, asked = gamut.solve, []
    missed = {4: np.array([0.1, 3.0, 2.0, 6.0]), 2: np.array([0.01, 0.4])}

    def missing(inverse, lab, *, exact=True):
        found = real(inverse, lab, exact=exact)
        asked.append((len(lab), exact))
        return replace(found, de00=missed.get(len(lab), found.de00))

    monkeypatch.setattr(gamut, "solve", missing)
    (tmp_path / "c.csv").write_text("LAB_L,LAB_A,LAB_B\n" + "60,5,5\n50,5,9\n70,9,5\n50,99,-99\n")
    found = workbench.measure_gamut(folder / "cloth.cond", tmp_path / "g.svg", compare=tmp_path / "c.csv")
    compared = found.results["compared"]
    assert asked[-2:] == [(4, False), (2, True)]
    assert (compared["in_gamut"], compared["max_de00"], compared["mean_de00"]) == (2, 6.0, 1.627)
    assert [row["de00"] for row in compared["worst"]] == [6.0, 0.4]


def test_gamuts_are_cut_where_asked(folder, tmp_path):
    cond, page = folder / "cloth.cond", tmp_path / "g.html"
    found = workbench.measure_gamut(cond, page, lightness=(42.5, 60.0), hues=(30.0, 210.0)).results
    assert [row["lightness"] for row in found["areas"]] == [10, 20, 30, 40, 42.5, 50, 60, 70, 80, 90]
    area = {row["lightness"]: row["area"] for row in found["areas"]}
    assert area[42.5] == pytest.approx(0.75 * area[40] + 0.25 * area[50], rel=0.05)
    assert [row["hue"] for row in found["hue_cuts"]] == [30.0, 210.0]
    assert all(row["largest_chroma"] > 20 and 10 < row["lightness"] < 95 for row in found["hue_cuts"])
    text = page.read_text()
    assert "L* 42.5, 60" in text
    assert found["worst_hue"]["munsell_hue"] in text
    plain = workbench.measure_gamut(cond, page).results
    assert [row["hue"] for row in plain["hue_cuts"]] == [90.0, 0.0]
    # A cut just above black would show the noise of its ring, one below it nothing.
    assert [usual_levels(black)[0] for black in (10.0, 25.0, 25.1, 34.0)] == [30.0, 30.0, 40.0, 40.0]
    darkest = condition_body(read_condition(cond)[0]).mesh()[0, :, 0].max()
    assert f"at L* {usual_levels(darkest)[0]:g}, 50, 70" in page.read_text()
    with pytest.raises(UsageError, match="out of range"):
        workbench.measure_gamut(cond, page, hues=(400.0,))
    with pytest.raises(UsageError, match="too many cuts"):
        workbench.measure_gamut(cond, page, lightness=tuple(range(20, 40)))


def test_srgb_is_covered_as_counted_by_hand(folder, small_readings, tmp_path):
    """Share of sRGB's volume: the lattice against random colours of its cube, weighted by volume."""
    from PIL import ImageCms

    (tmp_path / "s.icc").write_bytes(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    found = workbench.measure_gamut(
        folder / "cloth.cond", tmp_path / "g.svg", compare=tmp_path / "s.icc"
    ).results["compared"]
    assert found["volume"] == pytest.approx(8.3e5, rel=0.03)
    condition = small_readings.condition
    rng = np.random.default_rng(10)
    rgb = rng.random((4000, 3))
    step = 1e-3
    slopes = np.stack([srgb_to_lab(rgb + step * e) - srgb_to_lab(rgb) for e in np.eye(3)], axis=-1) / step
    weight = np.abs(np.linalg.det(slopes))
    from strikeoff.model.inverse import solve

    aim = condition.connection.from_absolute(srgb_to_lab(rgb))
    inside = solve(condition.inverse, aim, exact=False).de00 < 0.4
    assert found["covered_share"] == pytest.approx((weight * inside).sum() / weight.sum(), abs=0.03)
