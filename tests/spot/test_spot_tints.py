"""Tints of swatches: their colours, their order, their tables and the file that holds them."""

import io
import json
import zipfile
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.base.errors import InputError
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.colour.tristimulus import spectra_to_xyz
from strikeoff.spot.book import Swatch
from strikeoff.spot.compiled import SpotTables, read_spots, write_spots
from strikeoff.spot.direction import difference_words
from strikeoff.spot.recipes import match_swatches
from strikeoff.spot.tints import STEPS, TINTS, full_table, tint_table


@pytest.fixture(scope="module")
def matched(small_readings):
    record = small_readings.condition
    wanted = record.native.lab(np.array([[0.5, 0.3, 0.4], [0.1, 0.8, 0.2]]))
    spectrum = record.forward.reflectance(np.array([[0.6, 0.1, 0.5]]))[0]
    bell = 0.25 + 0.2 * np.exp(-(((record.wavelengths_nm - 530.0) / 25.0) ** 2))
    names = record.inks
    swatches = [
        Swatch("Mixed", lab=tuple(wanted[0])),
        Swatch("Curved", lab=tuple(wanted[1]), tint=((0, 0), (0.5, 0.3), (1, 1))),
        Swatch("Far", lab=(60.0, 110.0, 20.0)),
        Swatch("Read", wavelengths_nm=tuple(record.wavelengths_nm), spectrum=tuple(spectrum)),
        Swatch("Bell", wavelengths_nm=tuple(record.wavelengths_nm), spectrum=tuple(bell)),
        Swatch("Recipe", recipe=((names[0], 0.4), (names[1], 0.2))),
        Swatch("Ink", ink=names[2], limit=0.9, tint=((0, 0), (0.5, 0.25), (1, 1))),
    ]
    return {found.swatch.name: found for found in match_swatches(record, swatches, ("D65", "A"))}


def test_targets_are_reached_and_the_far_one_is_not(matched):
    for name in ("Mixed", "Curved", "Read"):
        assert matched[name].in_reach
        assert matched[name].de00 < 0.05
    assert matched["Far"].in_reach is False
    assert matched["Far"].de00 > 5
    assert (matched["Recipe"].de00, matched["Recipe"].in_reach) == (None, None)
    assert all(found.de00_u90 > 0 for found in matched.values())


def test_other_lights_compare_spectrum_and_print(matched, small_readings):
    """CIE 15: XYZ under each light from the two spectra, computed here from reflectances."""
    record, found = small_readings.condition, matched["Bell"]
    from strikeoff.colour.cielab import xyz_to_lab
    from strikeoff.colour.weights import white_point

    assert set(found.lights) == {"D65", "A"}
    pair = np.vstack([found.swatch.spectrum, record.forward.reflectance(found.inks[None])])
    for light, value in found.lights.items():
        lab = xyz_to_lab(spectra_to_xyz(pair, record.wavelengths_nm, light, "2"), white_point(light, "2"))
        assert value == pytest.approx(float(delta_e_2000(lab[0], lab[1])), abs=0.03)
        assert value > 0.3
    assert matched["Mixed"].lights == {}


def test_tints_keep_their_tone_value_and_no_ink_falls(matched, small_readings):
    """ISO 20654: the tone value of a tint of x % is x %, or what the curve of the book says."""
    model = small_readings.condition.native
    for name, found in matched.items():
        assert (np.diff(found.tints, axis=0) >= 0).all(), name
        assert not found.tints[0].any()
        np.testing.assert_array_equal(found.tints[-1], found.inks)
        lab = model.lab(found.tints)
        if name != "Ink":
            tone = tone_value_iso_20654(lab, lab[0], lab[-1])
            assert np.abs(tone - found.swatch.aim(TINTS)).max() < 0.005, name
            assert found.tone_error == pytest.approx(np.abs(tone - found.swatch.aim(TINTS)).max())
    # Colours go straight from cloth to solid.
    lab = model.lab(matched["Mixed"].tints)
    straight = lab[0] + TINTS[:, None] * (lab[-1] - lab[0])
    assert delta_e_2000(lab, straight).max() < 0.5
    np.testing.assert_allclose(matched["Ink"].tints[16, 2], 0.25 * 0.9)
    recipe = matched["Recipe"].tints[1:]
    np.testing.assert_allclose(recipe[:, 0], 2 * recipe[:, 1])


def test_unfit_recipes_are_refused(small_readings):
    record = small_readings.condition
    with pytest.raises(InputError, match="no such ink") as caught:
        match_swatches(record, [Swatch("Glow", ink="Fluo")], ())
    assert "colour Glow" in str(caught.value)
    heavy = Swatch("Heavy", recipe=tuple((ink, 1.0) for ink in record.inks))
    with pytest.raises(InputError, match="ink limits"):
        match_swatches(record, [heavy], ())


@given(st.lists(st.floats(0, 1), min_size=2, max_size=9), st.integers(1, 4))
def test_tables_rise_and_end_exactly(values, inks):
    nodes = np.sort(np.array([0.0, *values]))[:, None] * np.linspace(1, 0.3, inks)
    table = tint_table(np.linspace(0, 1, len(nodes)), nodes)
    assert table.shape == (STEPS + 1, inks)
    wide = full_table(table)
    assert (np.diff(wide.astype(int), axis=0) >= 0).all()
    np.testing.assert_array_equal(wide[-1], np.floor(nodes[-1] * 65535 + 0.5))
    np.testing.assert_array_equal(wide[0], 0)


def test_codes_between_steps_are_the_rounded_mean():
    """Reference: exact fractions of Python's whole numbers."""
    rng = np.random.default_rng(2)
    table = np.sort(rng.integers(0, 65536, (STEPS + 1, 2)), axis=0).astype(np.uint16)
    wide = full_table(table)
    for code in [0, 1, 15, 16, 17, 40000, 65519, 65534, 65535, *rng.integers(0, 65536, 50).tolist()]:
        place, rest = divmod(code * STEPS, 65535)
        for ink in range(2):
            low, high = int(table[place, ink]), int(table[min(place + 1, STEPS), ink])
            exact = low + (high - low) * rest / 65535
            assert abs(int(wide[code, ink]) - exact) <= 0.5 + 1e-9


@pytest.fixture
def spots():
    rng = np.random.default_rng(3)
    tables = np.sort(rng.integers(0, 65536, (2, STEPS + 1, 3)), axis=1).astype(np.uint16)
    tables[:, 0] = 0
    return SpotTables(("Ros\u00e9", "Moss"), ("C", "M", "Y"), tables, "sha256:c", "sha256:b")


def test_file_comes_back_and_equal_tables_are_equal_bytes(spots, tmp_path):
    digest = write_spots(tmp_path / "a.spots", spots)
    again, read_digest = read_spots(tmp_path / "a.spots")
    assert (again.names, again.inks, again.condition, again.book) == (
        spots.names,
        spots.inks,
        "sha256:c",
        "sha256:b",
    )
    np.testing.assert_array_equal(again.tables, spots.tables)
    assert digest == read_digest == write_spots(tmp_path / "b.spots", again)
    assert [again.find(n) for n in ("Moss", "moss", "Moss ", "Rose\u0301")] == [1, None, None, 0]


def test_damaged_files_are_refused(spots, tmp_path):
    path = tmp_path / "a.spots"
    write_spots(path, spots)
    data = path.read_bytes()
    for bad in (b"", b"PK", data[: len(data) // 2], b"x" * 5000):
        path.write_bytes(bad)
        with pytest.raises(InputError, match="tint tables"):
            read_spots(path)
    with zipfile.ZipFile(tmp_path / "b.spots", "w") as made, zipfile.ZipFile(io.BytesIO(data)) as old:
        record = json.loads(old.read("spots.json"))
        made.writestr("spots.json", json.dumps(record))
        tables = bytearray(old.read("tint_tables.u16"))
        tables[70] ^= 1
        made.writestr("tint_tables.u16", bytes(tables))
    with pytest.raises(InputError, match="digest"):
        read_spots(tmp_path / "b.spots")


@pytest.mark.parametrize(
    ("wanted", "reached", "words"),
    [
        ((50, 40, 0), (50, 40, 0), ()),
        ((50, 40, 0), (60, 40, 0), ("lighter",)),
        ((50, 40, 40), (50, 45, 35), ("redder",)),
        ((50, 40, 40), (50, 35, 45), ("yellower",)),
        ((50, -40, 40), (50, -35, 45), ("yellower",)),
        ((50, -40, 40), (50, -45, 35), ("greener",)),
        ((50, -40, -40), (50, -35, -45), ("bluer",)),
        ((50, 40, -40), (50, 45, -35), ("redder",)),
        ((50, 40, 1), (50, 40, -3), ("bluer",)),
        ((50, 40, 0), (50, 30, 0), ("duller",)),
        ((50, 40, 0), (48, 50, 0), ("brighter", "darker")),
        ((50, 0, 0), (50, -1, -3), ("bluer", "greener")),
    ],
)
def test_words_for_differences(wanted, reached, words):
    """Hue is named after the axis of CIELAB that it turns to; common practice, no source."""
    assert difference_words(wanted, reached) == words


def test_steps_cover_all_tints():
    assert STEPS == 4096
    assert all(b > a for a, b in pairwise(TINTS))
