"""Light-ink split of readings: what adds up keeps the strength of the dark ink."""

import numpy as np
import pytest

from strikeoff import workbench
from strikeoff.inks.press_file import read_curves
from strikeoff.measurement.iso28178 import write_iso28178
from strikeoff.measurement.records import ReadingSet
from strikeoff.mill.physics import absorption_ratio_kubelka_munk_1931, with_ink_scaled
from strikeoff.mill.press import WAVELENGTHS_NM, invented_press


@pytest.mark.parametrize("adds", ["density", "absorption"])
def test_a_split_by_spectra_keeps_the_strength_of_the_dark_ink(tmp_path, adds):
    """Overprints of dots as products of reflectances (E. Demichel, 1924); of dyes, simulated, absorption over
    scattering adds up (P. Kubelka, F. Munk, 1931).
    """
    ramp = np.linspace(0, 1, 21)
    dark = invented_press("T1", inks="M").print(ramp[:, None])
    if adds == "density":
        solids = dark[-1], dark[0] * (dark[-1] / dark[0]) ** 0.4
        dark, light = (dark[0] + ramp[:, None] * (solid - dark[0]) for solid in solids)
    else:
        light = with_ink_scaled(dark, dark[0], 0.2)
    inks = np.vstack([np.stack([ramp, 0 * ramp], 1), np.stack([0 * ramp, ramp], 1)[1:]])
    names = tuple(f"P{n}" for n in range(len(inks)))
    spectra = np.vstack([dark, light[1:]])
    made = ReadingSet(names, ("2CLR_1", "2CLR_2"), inks, spectra=spectra, wavelengths_nm=WAVELENGTHS_NM)
    readings = tmp_path / "r.txt"
    write_iso28178(readings, made)
    described = tmp_path / "two.toml"
    described.write_text(
        '[[ink]]\nname = "M"\nlimit_percent = 80\n[[ink]]\nname = "m"\nrole = "light"\nlight_of = "M"\n'
    )
    result = workbench.split_light_inks(readings, tmp_path / "c.json", limits=described)
    assert [split["adds_up"] for split in result.results["splits"]] == [adds]
    amounts = read_curves(tmp_path / "c.json").split / 65535
    band = int(np.argmin(dark[-1] / dark[0]))
    depths = [np.log10(dark[0, band] / r[:, band]) for r in (dark, light)]
    if adds == "absorption":
        depths = [absorption_ratio_kubelka_munk_1931(r[:, band]) for r in (dark, light)]
        depths = [depth - depth[0] for depth in depths]
    made = sum(np.interp(amount, ramp, depth) for amount, depth in zip(amounts, depths, strict=True))
    wanted = np.interp(np.linspace(0, 1, 256), ramp, depths[0])
    assert np.abs(made - wanted).max() < 0.015 * depths[0][-1]
    assert amounts[1, 204:].max() < 0.005
