import dataclasses
import io

import iccdev
import numpy as np
import pytest
from PIL import ImageCms

from strikeoff.base.errors import RangeError, UsageError
from strikeoff.icc.colorants import read_colorants
from strikeoff.icc.curves import evaluate_curve
from strikeoff.icc.encoding import lab_from_unit, unit_from_lab
from strikeoff.icc.evaluate import device_to_lab, evaluate, gamut_alarm, lab_encoding, lab_to_device
from strikeoff.icc.luts import stages
from strikeoff.icc.output import output_profile
from strikeoff.icc.output_tables import Axis, B2ATable
from strikeoff.icc.profile import read_profile

KINDS = [(version, space) for version in (2, 4) for space in ("CMYK", "6CLR", "RGB", "GRAY")]
INKS = {"CMYK": 4, "6CLR": 6, "RGB": 3, "GRAY": 1}

every_kind = pytest.mark.parametrize(("version", "space"), KINDS)
up_to_four_inks = pytest.mark.parametrize(
    ("version", "space"), [kind for kind in KINDS if INKS[kind[1]] <= 4]
)
only_cmyk = pytest.mark.parametrize(("version", "space"), [(2, "CMYK"), (4, "CMYK")])


def device_nodes(made, count=400):
    knots = made.knots
    nodes = np.stack(np.meshgrid(*knots, indexing="ij"), axis=-1).reshape(-1, len(knots))
    return nodes[:: max(1, len(nodes) // count)]


def lab_nodes(made):
    return np.stack(np.meshgrid(*made.nodes, indexing="ij"), axis=-1).reshape(-1, 3)


def colours(seed, count=1000):
    rng = np.random.default_rng(seed)
    return np.stack([rng.uniform(2, 98, count), *rng.uniform(-90, 90, (2, count))], axis=1)


def distances(a, b):
    return np.linalg.norm(a - b, axis=1)


@every_kind
def test_validates_without_warning(press, version, space):
    data = press.profile(version, space)
    result = iccdev.validate_profile(data)
    assert (result.status, result.report) == (iccdev.ValidationStatus.OK, "")
    broken = iccdev.validate_profile(data[:-100])
    assert broken.status != iccdev.ValidationStatus.OK  # the validator does look


@every_kind
def test_loads_in_a_general_library(press, version, space):
    profile = ImageCms.ImageCmsProfile(io.BytesIO(press.profile(version, space))).profile
    assert profile.version == pytest.approx({2: 2.4, 4: 4.4}[version])
    assert (profile.device_class, profile.xcolor_space.strip(), profile.connection_space) == (
        "prtr",
        space,
        "Lab ",
    )
    assert profile.profile_description == {2: "Made-up press, Gr\\xfcn", 4: "Made-up press, Grün"}[version]
    np.testing.assert_allclose(profile.media_white_point[0], press.white, atol=1e-4)


@every_kind
def test_same_arguments_same_bytes(press, version, space):
    again = output_profile(**press.arguments(version, space, press.tables(space)))
    assert again == press.profile(version, space)


@every_kind
def test_tags(press, version, space):
    profile = read_profile(press.profile(version, space))
    luts = [f"{family}{n}" for family in ("A2B", "B2A") for n in range(3)]
    extra = {"chad"} if version == 4 else set()
    extra |= {"clrt"} if space == "6CLR" else set()
    assert set(profile.tags) == {"desc", "cprt", "wtpt", "tech", "vued", "gamt", "targ", *luts} | extra
    assert profile.tags["A2B0"] is profile.tags["A2B1"] is profile.tags["A2B2"]
    assert profile.tags["B2A0"] is profile.tags["B2A1"]
    assert profile.tags["B2A0"] != profile.tags["B2A2"]
    kind = {2: ("mft2", "mft2"), 4: ("mAB ", "mBA ")}[version]
    assert (profile.decode("A2B0").kind, profile.decode("B2A0").kind) == kind
    assert profile.decode("targ").text == "CGATS.17\nNUMBER_OF_SETS 0\n"
    if version == 4:
        np.testing.assert_allclose(profile.decode("chad").values, press.chad.ravel(), atol=1e-5)
    if space == "6CLR":
        names, lab = zip(*read_colorants(profile), strict=True)
        assert names == ("Cyan", "Magenta", "Yellow", "Black", "Orange", "Green")
        np.testing.assert_allclose(lab, press.lab(np.eye(6)), atol=0.003)


@every_kind
def test_a2b_nodes_hold_the_press(press, version, space):
    # A swapped ink, a curve off by one or the other Lab encoding (0.4 L* at white) cannot pass 0.02.
    device = device_nodes(press.tables(space))
    lab = device_to_lab(read_profile(press.profile(version, space)), device)
    assert distances(lab, press.lab(device)).max() < 0.02


@every_kind
def test_b2a_nodes_hold_the_press(press, version, space):
    lab = lab_nodes(press.tables(space))
    profile = read_profile(press.profile(version, space))
    inks = press.inks(lab, INKS[space])
    np.testing.assert_allclose(lab_to_device(profile, lab), inks, atol=3e-4)
    np.testing.assert_allclose(gamut_alarm(profile, lab), press.alarm(lab)[:, 0], atol=3e-4)


@every_kind
def test_axes_mean_the_same_in_both_encodings(press, version, space):
    """Grid coordinates follow the caller's axes, between knots and at the kinks, within 2 codes."""
    made = press.tables(space)
    lut = read_profile(press.profile(version, space)).decode("B2A1")
    lab = np.concatenate([colours(1), lab_nodes(made), [[100, 0, 0], [0, -128, 127]]])
    unit = unit_from_lab(lab, lab_encoding(lut))
    half_step = 0.5 / 3840 * np.array([100, 255, 255])
    for i, curve in enumerate(stages(lut)[0].curves):
        axis = made.b2a.axes[i]
        expected = np.interp(lab[:, i], axis.positions, axis.coordinates)
        clear = np.abs(lab[:, i : i + 1] - axis.positions).min(axis=1) > 2 * half_step[i]
        found = evaluate_curve(curve, unit[:, i])
        assert np.abs(found - expected)[clear].max() < 1.1 / 65535
        assert np.abs(found - expected).max() < 15 / 65535


@pytest.mark.parametrize("space", INKS)
def test_versions_agree_everywhere(press, space):
    one, two = (read_profile(press.profile(v, space)) for v in (2, 4))
    curves = [stages(p.decode("B2A1"))[0].curves for p in (one, two)]
    ramp = np.linspace(0, 1, 40001)[:, None]  # dense, because only near a kink would other samples show
    lab = ramp * [100, 255, 255] - [0, 128, 128]
    coordinates = [
        np.stack([evaluate_curve(c, unit_from_lab(lab, e)[:, i]) for i, c in enumerate(row)])
        for row, e in zip(curves, ("legacy", "v4"), strict=True)
    ]
    assert np.abs(coordinates[0] - coordinates[1]).max() < 2 / 65535
    device = np.random.default_rng(3).random((500, INKS[space]))
    assert distances(device_to_lab(one, device), device_to_lab(two, device)).max() < 0.01


@every_kind
@pytest.mark.parametrize("intent", ["relative", "absolute", "saturation"])
def test_agrees_with_the_reference_implementation(press, reference, version, space, intent):
    data = press.profile(version, space)
    profile = read_profile(data)
    device = np.random.default_rng(7).random((500, INKS[space]))
    lab = device_to_lab(profile, device, intent)
    assert distances(lab, reference.to_lab(data, device, intent)).max() < 0.002
    back = lab_to_device(profile, lab, intent)
    np.testing.assert_allclose(back, reference.from_lab(data, lab, intent), atol=1e-4)


@every_kind
def test_simplex_agrees_with_the_reference_implementation(press, reference, version, space):
    data = press.profile(version, space)
    lab = colours(8)
    found = lab_to_device(read_profile(data), lab, "relative", "simplex")
    expected = reference.from_lab(data, lab, "relative", tetrahedral=True)
    np.testing.assert_allclose(found, expected, atol=1e-5)


@up_to_four_inks
@pytest.mark.parametrize("intent", ["relative", "absolute", "saturation"])
def test_agrees_with_lcms(press, lcms, version, space, intent):
    data = press.profile(version, space)
    profile = read_profile(data)
    nodes = np.rint(device_nodes(press.tables(space)) * 65535) / 65535
    assert (
        distances(device_to_lab(profile, nodes, intent), lcms.to_lab(data, space, nodes, intent)).max() < 0.02
    )
    device = np.rint(np.random.default_rng(9).random((1000, INKS[space])) * 65535) / 65535
    difference = distances(device_to_lab(profile, device, intent), lcms.to_lab(data, space, device, intent))
    assert difference.mean() < 0.15  # it interpolates otherwise between nodes
    if version == 4 and intent == "saturation":
        return  # it compensates black points between a version 4 profile and its own Lab
    lab = device_to_lab(profile, device, intent)
    found = lab_to_device(profile, lab, intent)
    np.testing.assert_allclose(found, lcms.from_lab(data, space, lab, intent), atol=2e-4)


@only_cmyk
def test_a_wrong_encoding_would_show(press, version, space):
    """The checks above have teeth: reading with the other encoding moves white by 0.39 L*."""
    profile = read_profile(press.profile(version, space))
    lut = profile.decode("A2B1")
    wrong = {"legacy": "v4", "v4": "legacy"}[lab_encoding(lut)]
    white = lab_from_unit(evaluate(lut, np.zeros((1, 4))), wrong)
    assert abs(white[0, 0] - 100) > 0.3


@only_cmyk
@pytest.mark.parametrize(
    ("change", "error", "message"),
    [
        ({"version": 3}, UsageError, "unknown profile version"),
        ({"colour_space": "Lab"}, UsageError, "no output colour space"),
        ({"colour_space": "4CLR"}, UsageError, None),
        ({"colour_space": "RGB"}, UsageError, "A2B0: wrong shape"),
        ({"a2b": {}}, UsageError, "a2b needs a table for each intent"),
        ({"white_xyz": [82, 85, 68]}, RangeError, "media white"),
        ({"white_xyz": [0.8, np.nan, 0.7]}, RangeError, "media white"),
        ({"colorants": [("x", (0, 0, 0))]}, UsageError, "wrong number of colorants"),
        ({"colorants": [("x", (101, 0, 0))] * 4}, RangeError, "clrt x"),
    ],
)
def test_arguments_that_do_not_fit(press, version, space, change, error, message):
    values = press.arguments(version, space, press.tables(space)) | change
    if change == {"colour_space": "4CLR"}:
        if version == 2:
            assert read_profile(output_profile(**values)).header.colour_space == "4CLR"
            return
        message = "names and colours of the inks are missing"
    with pytest.raises(error, match=message):
        output_profile(**values)


@only_cmyk
@pytest.mark.parametrize("bad", [np.nan, 100.5])
def test_values_that_cannot_be_encoded_are_located(press, version, space, bad):
    made = press.tables(space)
    grid = made.a2b.grid.copy()
    grid[1, 2, 3, 4, 0] = bad
    values = press.arguments(version, space, made)
    values["a2b"] = values["a2b"] | {"relative": dataclasses.replace(made.a2b, grid=grid)}
    with pytest.raises(RangeError, match=r"A2B1 node \(1, 2, 3, 4\)"):
        output_profile(**values)


@only_cmyk
def test_version_2_needs_one_grid_size(press, version, space):
    uneven = B2ATable(np.zeros((5, 6, 7, 1)))
    values = press.arguments(version, space, press.tables(space), gamut=uneven)
    if version == 2:
        with pytest.raises(UsageError, match="one grid size"):
            output_profile(**values)
    else:
        assert read_profile(output_profile(**values)).decode("gamt").clut.codes.shape == (5, 6, 7, 1)


@only_cmyk
@pytest.mark.parametrize(
    "axis",
    [
        Axis(np.array([0, 50, 50.0]), np.array([0, 0.5, 1])),
        Axis(np.array([0, 100.0]), np.array([1.0, 0])),
        Axis(np.array([0, 100.0]), np.array([0, 1.1])),
        Axis(np.array([0, np.nan]), np.array([0, 1.0])),
        Axis(np.array([0.0]), np.array([0.0])),
    ],
)
def test_bad_axes(press, version, space, axis):
    made = press.tables(space)
    gamut = dataclasses.replace(made.gamut, axes=(axis, *made.gamut.axes[1:]))
    with pytest.raises((RangeError, UsageError), match="gamt axis L"):
        output_profile(**press.arguments(version, space, made, gamut=gamut))
