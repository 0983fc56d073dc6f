"""From printed cloth to readings of finished goods."""

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.layout.finishing_readings import read_grid_readings
from strikeoff.layout.finishing_spread import grid_spread
from strikeoff.mill.finishing import Faults, Finishing, Lot, draw_lot, finishing_of, fixation, run
from strikeoff.mill.grids import finished_specimens, grid_table
from strikeoff.mill.press import invented_press
from strikeoff.mill.world import fabric, printer

PRESS = invented_press("T1", inks="CMYK")
STRIP = np.vstack([np.zeros(4), np.eye(4), np.eye(4) * 0.5, [[0.4, 0.35, 0.35, 0.0]], [[0.2, 0.6, 0.5, 0.1]]])
USUAL = finishing_of(fabric("cotton satin"), printer("T1"))
STILL = Finishing(USUAL.change_percent, (0.0, 0.0), USUAL.wash_loss_percent)
LOT = Lot(USUAL.change_percent)


def lab(goods):
    return spectra_to_lab(goods.readings.spectra, goods.readings.wavelengths_nm)


def quiet(**faults):
    return lab(run(PRESS, STRIP, finishing=STILL, lot=LOT, noise=0, faults=Faults(**faults)))


def test_same_seed_same_goods_and_another_seed_others():
    one, two, three = (run(PRESS, STRIP, finishing=USUAL, seed=s) for s in (4, 4, 5))
    assert one.readings.digest == two.readings.digest != three.readings.digest
    assert one.grid == two.grid != three.grid
    np.testing.assert_array_equal(one.readings.spectra, two.readings.spectra)


def test_every_record_is_labelled_simulated():
    readings = run(PRESS, STRIP, finishing=USUAL).readings
    assert readings.keywords["SIMULATED"] == "simulated, not yet shown on cloth"
    assert "simulated" in readings.source
    assert readings.ink_columns == ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K")


def test_repeats_are_rows_of_their_own():
    readings = run(PRESS, STRIP, finishing=USUAL, repeats=3, sample_ids=[f"P{i}" for i in range(11)]).readings
    assert len(readings) == 33
    assert readings.sample_ids[:4] == ("P0", "P0.2", "P0.3", "P1")
    np.testing.assert_array_equal(readings.coverages[3:6], STRIP[[1, 1, 1]])
    assert np.ptp(readings.spectra[:3], axis=0).max() > 0


@pytest.mark.parametrize("noise", [0.25, 0.6])
def test_scatter_of_one_reading_is_as_stated_near_lightness_60(noise):
    mid = [[0.33, 0.0, 0.0, 0.3]]
    goods = run(PRESS, mid, finishing=STILL, lot=LOT, noise=noise, repeats=3000)
    values = lab(goods)
    assert 50 < values[:, 0].mean() < 75
    assert values[:, 0].std() == pytest.approx(noise * (values[:, 0].mean() + 16) / 76, rel=0.08)
    assert 0.05 * noise < values[:, 2].std() < noise


def test_grid_tells_the_lots_change_with_its_sign():
    lot = Lot((-6.0, -3.5))
    grid = run(PRESS, STRIP, finishing=STILL, lot=lot, seed=2).grid
    assert grid.file_mm >= 350  # ISO 5077, distance of marks
    assert len(grid.warp_mm) == len(grid.weft_mm) == 3
    assert max(grid.warp_mm) < grid.file_mm
    np.testing.assert_allclose(grid.change_percent, lot.change_percent, atol=0.15)


def test_lots_scatter_as_the_fabric_does():
    lots = np.array([draw_lot(USUAL, seed, 0.4).change_percent for seed in range(400)])
    np.testing.assert_allclose(lots.mean(axis=0), USUAL.change_percent, atol=0.12)
    np.testing.assert_allclose(lots.std(axis=0), USUAL.change_sd_percent, rtol=0.12)


def test_more_shrinkage_means_more_colour_and_washing_less():
    normal = quiet()
    shrunk = lab(run(PRESS, STRIP, finishing=STILL, lot=Lot((-9.0, -5.0)), noise=0))
    assert (shrunk[1:, 0] < normal[1:, 0]).all()
    np.testing.assert_allclose(shrunk[0], normal[0], atol=1e-9)  # bare cloth has no ink to gather
    washed = lab(run(PRESS, STRIP, finishing=Finishing(USUAL.change_percent, (0, 0), 30.0), lot=LOT, noise=0))
    assert (washed[1:, 0] > normal[1:, 0]).all()
    assert STILL.ink_kept == pytest.approx(0.92 / (0.945 * 0.97))


def test_a_weak_head_changes_its_own_ink_only():
    change = quiet(ink_gain_percent={"M": -10.0}) - quiet()
    magenta, cyan, mixed = change[2], change[1], change[10]
    np.testing.assert_allclose(cyan, 0, atol=1e-9)
    assert magenta[0] > 0.3
    assert magenta[1] < -0.3
    assert mixed[1] < -0.3  # greener
    assert quiet(ink_gain_percent={"C": 5.0})[5, 0] < quiet()[5, 0]


def test_a_cold_steamer_takes_from_all_inks():
    change = quiet(steamer_offset_c=-3.0) - quiet()
    assert (change[1:, 0] > 0.05).all()
    assert fixation(-3) < fixation(0) < fixation(3)
    chroma = np.hypot(*quiet(steamer_offset_c=-10.0)[:, 1:].T)
    assert (chroma[1:4] < np.hypot(*quiet()[:, 1:].T)[1:4]).all()


@pytest.mark.parametrize("db", [-1.5, 0.8])
def test_white_moves_in_b_by_what_was_asked(db):
    change = quiet(white_db=db)[0] - quiet()[0]
    assert change[2] == pytest.approx(db, abs=1e-3)
    assert abs(change[0]) < 0.15
    lot = lab(run(PRESS, STRIP, finishing=STILL, lot=Lot(LOT.change_percent, db), noise=0))[0] - quiet()[0]
    np.testing.assert_allclose(lot, change, atol=1e-9)


def test_swapped_rows_swap_colours_and_not_recipes():
    swapped, normal = quiet(swapped_rows=(1, 2)), quiet()
    np.testing.assert_allclose(swapped[[1, 2]], normal[[2, 1]])
    np.testing.assert_allclose(swapped[3:], normal[3:])
    readings = run(PRESS, STRIP, finishing=STILL, faults=Faults(swapped_rows=(1, 2))).readings
    np.testing.assert_array_equal(readings.coverages, STRIP)


def test_many_inks_have_numbered_columns():
    press = invented_press("T1")
    readings = run(press, np.eye(8), finishing=USUAL).readings
    assert readings.ink_columns[0] == "8CLR_1"
    assert readings.keywords["INKS"] == "C M Y K O R B N"


def test_refusals():
    for wrong in ({"repeats": 0}, {"noise": np.nan}, {"sample_ids": ["1"]}):
        with pytest.raises(InputError):
            run(PRESS, STRIP, finishing=USUAL, **wrong)
    with pytest.raises(InputError, match="X"):
        run(PRESS, STRIP, finishing=USUAL, faults=Faults(ink_gain_percent={"X": 3.0}))


def test_grids_scatter_by_lot_by_specimen_and_by_reading():
    lots = [(-5.0, -3.0), (-6.0, -2.0)]
    found = finished_specimens(lots, (0.2, 0.1), specimens=400, seed=3)
    assert found == finished_specimens(lots, (0.2, 0.1), specimens=400, seed=3)
    assert found != finished_specimens(lots, (0.2, 0.1), specimens=400, seed=4)
    changes = np.array([s.grid.change_percent for s in found]).reshape(2, 400, 2)
    np.testing.assert_allclose(changes.mean(axis=1), lots, atol=0.04)
    # Mean of three readings of 500 mm, each 0.3 mm and rounding to 0.1 mm: 0.035 %.
    np.testing.assert_allclose(changes.std(axis=1), [np.hypot([0.2, 0.1], 0.035)] * 2, rtol=0.12)
    assert len({s.lot for s in found}) == 2
    for nothing in ([], lots):
        with pytest.raises(InputError, match="finishing grids"):
            finished_specimens(nothing, (0.2, 0.1), specimens=0, seed=3)


def test_table_of_grids_is_read_by_what_measures_finishing(tmp_path):
    found = finished_specimens([(-5.0, -3.0), (-6.0, -2.0)], (0.2, 0.1), specimens=3, seed=3)
    (tmp_path / "grids.csv").write_text(grid_table(found))
    readings = read_grid_readings(tmp_path / "grids.csv")
    assert len(readings.readings) == 2 * 3 * 2 * 3
    spread = grid_spread(readings, "weft")
    by_hand = [np.mean(s.grid.weft_mm) / 5 - 100 for s in found]
    np.testing.assert_allclose(np.ravel(spread.lots), by_hand)
