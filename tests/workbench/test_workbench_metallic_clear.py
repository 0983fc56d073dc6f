"""A metallic and a clear ink of a PDF's spot colours, from the page to planes, preview, totals and report.

Spot colours: ISO 32000-1, 8.6.6.4 (Separation). The press is one of the test's own.
"""

from dataclasses import replace

import numpy as np
import pytest
from pdf_files import page, separation
from PIL import Image

from strikeoff import workbench
from strikeoff.base.canonical import digest_bytes
from strikeoff.condition.archive import write_condition
from strikeoff.inks.records import plain_inks
from strikeoff.inks.spaces import identity_spaces
from strikeoff.measurement.iso28178 import format_iso28178
from strikeoff.measurement.records import ReadingSet
from strikeoff.qualify.build import build_condition
from strikeoff.raster.tiff_reader import open_planes

NAMES = ("C", "M", "Y", "Silver", "Clear Gloss")
SOLIDS = np.array([[-38, -32, -46], [-44, 70, -4], [-6, -6, 88], [-25, 0, 1], [-1.5, 0, 0.6]], float)
SPOTS = b"/S " + separation(b"silver", (0, 0, 0, 0.4)) + b" /G " + separation(b"Clear#20Gloss", (0, 0, 0, 0))
RESOURCES = b"/ColorSpace << " + SPOTS + b" >> /ExtGState << /OP << /OP true /op true /OPM 1 >> >>"
SIDE_BY_SIDE = (
    b"1 0 0 rg 0 0 72 144 re f /S cs 1 scn 72 0 36 72 re f 0.5 scn 72 72 36 72 re f "
    b"/G cs 1 scn 108 0 36 144 re f"
)
OVER_ALL = b"0 0 0 rg 0 0 144 144 re f /OP gs /S cs 1 scn 0 0 144 72 re f /G cs 1 scn 0 0 72 144 re f"


def conditions(spaces):
    rng = np.random.default_rng(3)
    rest = rng.random((70, 5))
    rest[rng.random(rest.shape) < 0.4] = 0.0
    chart = np.vstack([np.zeros((1, 5)), np.kron(np.eye(5), [[0.3], [0.65], [1.0]]), rest])
    lab = np.array([94.0, 0.0, 2.0]) + -np.expm1(-1.6 * chart) @ SOLIDS / -np.expm1(-1.6)
    lab[:, 0] = np.maximum(lab[:, 0], 8.0)
    ids, columns = tuple(map(str, range(len(chart)))), tuple(f"5CLR_{i}" for i in range(1, 6))
    words = {"INK_NAMES": "C M Y Silver Clear-Gloss"}
    readings = ReadingSet(ids, columns, chart, lab=lab, keywords=words)
    data = format_iso28178(readings, header=words).encode()
    made = build_condition(
        readings, data, name="m", label="simulated", total_ink=2.2, spaces=spaces, validated=False
    )
    return replace(made, readings_digest=digest_bytes(data))


@pytest.fixture(scope="module")
def house(tmp_path_factory, coarse_gamut_of_module):
    """The press described, and known by its readings alone; two pages."""
    folder = tmp_path_factory.mktemp("house")
    write_condition(folder / "a.cond", conditions(identity_spaces(NAMES, 2.2, inks=plain_inks(NAMES))))
    write_condition(folder / "names.cond", conditions(None))
    (folder / "side.pdf").write_bytes(page(SIDE_BY_SIDE, RESOURCES))
    (folder / "over.pdf").write_bytes(page(OVER_ALL, RESOURCES))
    return folder


@pytest.mark.parametrize("condition", ["a.cond", "names.cond"])
def test_spots_reach_planes_of_their_own_and_are_told(house, tmp_path, condition):
    made = workbench.separate(house / condition, house / "side.pdf", tmp_path / "p.tif", dpi=72)
    clear = "Clear Gloss" if condition == "a.cond" else "Clear-Gloss"
    assert made.results["named"] == {"silver": "Silver", "Clear Gloss": clear}
    planes = open_planes(tmp_path / "p.tif").read(0, 144) / 65535
    assert planes[100, 20, 3:].max() == 0.0
    assert planes[100, 20, 1] > 0.3
    np.testing.assert_allclose(planes[100, 90], [0, 0, 0, 1, 0], atol=0.003)
    np.testing.assert_allclose(planes[20, 90], [0, 0, 0, 0.5, 0], atol=0.003)
    np.testing.assert_allclose(planes[100, 130], [0, 0, 0, 0, 1], atol=0.003)
    mean = made.results["mean_coverage_percent"]
    assert (mean["Silver"], mean[clear]) == (pytest.approx(18.75, abs=0.3), pytest.approx(25.0, abs=0.3))
    seen = workbench.check_artwork(house / condition, house / "side.pdf", finished=(50.0, 50.0))
    assert [row["ink"] for row in seen.results["named"]] == ["Silver", clear]
    assert seen.outcome != "fail"


def test_check_counts_the_ink_that_is_laid(house, tmp_path):
    """A page whose darkest colour is a red: it is not scaled to black on the way."""
    made = workbench.separate(house / "a.cond", house / "side.pdf", tmp_path / "p.tif", dpi=72)
    seen = workbench.check_artwork(house / "a.cond", house / "side.pdf", finished=(50.0, 50.0))
    mean = sum(made.results["mean_coverage_percent"].values())
    assert seen.results["mean_total_percent"] == pytest.approx(mean, rel=0.06)
    highest = made.results["highest_total_percent"]
    assert seen.results["highest_total_percent"] == pytest.approx(highest, rel=0.06)


def test_the_preview_shows_metal_and_gloss(house, tmp_path):
    told = workbench.proof_artwork(
        house / "a.cond", house / "side.pdf", tmp_path / "v.png", finished=(50, 50)
    )
    assert told.results["named_left_out"] == []
    seen = np.asarray(Image.open(tmp_path / "v.png").convert("RGB")).astype(int)
    side = len(seen)
    at = [(0.75, 0.6), (0.25, 0.6), (0.5, 0.9)]
    metal, half, gloss = (seen[int(y * side), int(x * side)].mean() for y, x in at)
    assert metal < half < gloss


def test_both_keep_their_amounts_and_colours_give_way_to_the_total(house, tmp_path):
    made = workbench.separate(house / "a.cond", house / "over.pdf", tmp_path / "p.tif", dpi=72)
    planes = open_planes(tmp_path / "p.tif").read(0, 144) / 65535
    np.testing.assert_allclose(planes[100, 20, 3:], [1, 1], atol=0.003)
    np.testing.assert_allclose(planes[100, 120, 3:], [1, 0], atol=0.003)
    np.testing.assert_allclose(planes[20, 20, 3:], [0, 1], atol=0.003)
    assert planes.sum(axis=2).max() < 2.2 + 1e-4
    black = planes[20, 120, :3]
    for place in (planes[100, 20, :3], planes[100, 120, :3]):
        np.testing.assert_allclose(place / black, (place / black).mean(), atol=0.01)
    assert made.results["share_over_limit"] == 0.0
    assert made.results["highest_total_percent"] == pytest.approx(220.0, abs=0.1)
