"""Planes of a roll to drops, every way: files read back, fused and in two steps alike, periods shared."""

from dataclasses import dataclass

import numpy as np
import pytest

from strikeoff import workbench
from strikeoff.base.errors import UsageError
from strikeoff.inks.spaces import identity_spaces
from strikeoff.raster.bands import ArraySource, canonical_rows
from strikeoff.raster.planes_tiff import open_planes, write_planes
from strikeoff.raster.tables import InkTable, apply_table
from strikeoff.screening.laid_down import LaidDownSource
from strikeoff.screening.masks import roll_masks
from strikeoff.screening.screen import screened
from strikeoff.workbench.drops import DropOptions, write_drops

INKS = ("C", "M", "Orange")
PRESS = {"finished": (40, 40), "warp": -5.5, "weft": -3.0, "width": 120, "length": 400, "dpi": (150, 200)}


@pytest.fixture(scope="module")
def planes(tmp_path_factory):
    path = tmp_path_factory.mktemp("drops") / "planes.tif"
    tile = np.random.default_rng(1).integers(0, 26000, (90, 80, 3), dtype=np.uint16)
    info = {
        "schema": "strikeoff/planes/1",
        "condition": {"digest": "0" * 64, "name": "made", "label": "simulated"},
        "total_ink": 2.0,
        "ink_columns": list(INKS),
        "ink_spaces": None,
    }
    write_planes(path, ArraySource(tile, (0.5, 0.5)), ink_names=INKS, info=info)
    return path


@pytest.fixture(scope="module")
def roll(planes):
    path = planes.with_name("roll.tif")
    workbench.compose_roll(planes, path, repeat="half-drop", **PRESS)
    return path


def test_drops_on_the_way_are_those_of_the_roll(planes, roll, tmp_path):
    fused = workbench.compose_roll(planes, repeat="half-drop", drops=tmp_path / "a.tif", **PRESS)
    stepwise = workbench.screen_roll(roll, tmp_path / "b.tif")
    a, b = open_planes(tmp_path / "a.tif"), open_planes(tmp_path / "b.tif")
    assert a.bits == b.bits == 1
    assert np.array_equal(a.read(0, a.height), b.read(0, b.height))
    results = dict(stepwise.results)
    # The document of the second names the roll's digest too.
    assert {**fused.results["drops"], "bytes": 0} == {**results, "bytes": 0}
    # 40 mm over 1 - 5.5 % at 200 dpi, even for the half-drop; no mask of 128 goes into that.
    assert a.info["screen"]["period_rows"] == 334
    distinct = len(np.unique(canonical_rows(a)))
    assert distinct < a.height - 334 * 3


def test_mean_tone_of_the_roll(planes, roll, tmp_path):
    workbench.screen_roll(roll, tmp_path / "drops.tif")
    ink = open_planes(roll)
    drops = open_planes(tmp_path / "drops.tif").read(0, ink.height)
    assert np.abs(drops.mean(axis=(0, 1)) - ink.read(0, ink.height).mean(axis=(0, 1)) / 65535).max() < 0.002


@pytest.mark.parametrize("method", ["masks", "diffusion", "contone"])
@pytest.mark.parametrize("compression", ["none", "packbits", "zstd"])
def test_every_method_and_compression(roll, tmp_path, method, compression):
    whole = workbench.screen_roll(roll, tmp_path / "a.tif", method=method, compression=compression)
    found = open_planes(tmp_path / "a.tif")
    assert found.ink_names == INKS
    assert ("never repeat" in " ".join(whole.lines)) == (method == "diffusion")
    assert found.bits == whole.results["bits"] == (8 if method == "contone" else 1)
    parts = workbench.screen_roll(roll, tmp_path / "b.tif", method=method, split=True)
    assert [path.name for path in parts.outputs] == [f"b-{name}.tif" for name in INKS]
    for number, path in enumerate(parts.outputs):
        part = open_planes(path)
        assert part.ink_names == (INKS[number],)
        assert np.array_equal(part.read(0, 500)[..., 0], found.read(0, 500)[..., number])


@dataclass(frozen=True)
class Counted(ArraySource):
    """Planes that count how often each row is read."""

    def read(self, y0, y1):
        self.counts[y0:y1] += 1
        return super().read(y0, y1)


@pytest.mark.parametrize("bits", [1, 2, 8])
def test_files_for_each_ink_take_one_pass(tmp_path, bits):
    art = np.random.default_rng(bits).integers(0, 65536, (300, 45, 3), dtype=np.uint16)
    planes = Counted(art, (0.1, 0.1))
    object.__setattr__(planes, "counts", np.zeros(300, int))
    spaces = identity_spaces(INKS, 3.0)
    options = DropOptions("masks", bits, "deflate", split=True)
    done = write_drops(planes, tmp_path / "a.tif", spaces, info={}, options=options)
    assert (planes.counts == 1).all()
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(path.name for path in done.outputs)
    whole = write_drops(planes, tmp_path / "b.tif", spaces, info={}, options=DropOptions("masks", bits))
    found = open_planes(whole.outputs[0]).read(0, 300)
    for number, path in enumerate(done.outputs):
        np.testing.assert_array_equal(open_planes(path).read(0, 300)[..., 0], found[..., number])


def test_contone_is_the_ink_in_eight_bits(roll, tmp_path):
    workbench.screen_roll(roll, tmp_path / "a.tif", method="contone")
    ink, found = open_planes(roll).read(0, 600), open_planes(tmp_path / "a.tif").read(0, 600)
    assert np.array_equal(found, np.floor(ink / 257 + 0.5).astype(np.uint8))


def test_two_bits_hold_one_level(roll, tmp_path):
    workbench.screen_roll(roll, tmp_path / "a.tif", bits=2)
    workbench.screen_roll(roll, tmp_path / "b.tif", bits=8)
    workbench.screen_roll(roll, tmp_path / "c.tif")
    a, b, c = (open_planes(tmp_path / f"{name}.tif") for name in "abc")
    assert (a.bits, b.bits, c.bits) == (2, 8, 1)
    assert np.array_equal(a.read(0, 700), c.read(0, 700))
    assert np.array_equal(b.read(0, 700), c.read(0, 700))


def test_pwg_raster(roll, tmp_path):
    with pytest.raises(UsageError, match="one file for each ink"):
        workbench.screen_roll(roll, tmp_path / "a.pwg")
    done = workbench.screen_roll(roll, tmp_path / "a.pwg", split=True)
    assert [path.read_bytes()[:13] for path in done.outputs] == [b"RaS2PwgRaster"] * 3


def test_nothing_to_write_is_refused(planes):
    with pytest.raises(UsageError, match="nothing to write"):
        workbench.compose_roll(planes, repeat="straight", **PRESS)
    with pytest.raises(UsageError, match="unknown screening method"):
        DropOptions("dither")


def test_a_spot_wedge_is_strictly_monotone_after_screening():
    """4,096 steps of a spot tint through a table and the screen: mean drops over a mask's period rise."""
    tones = np.linspace(0, 65535, 4096).round().astype(np.uint16)
    curve = np.rint(65535 * (np.linspace(0, 1, 256) * 0.7 + 0.3 * np.linspace(0, 1, 256) ** 2))
    codes = np.arange(65536, dtype=np.uint16)[None]
    table = InkTable(codes, curve.astype(np.uint16)[:, None])
    ink = apply_table(tones[None, :, None], table)[0, :, 0]
    masks = roll_masks(1)
    counts = []
    for first in range(0, 4096, 256):
        patch = np.repeat(np.repeat(ink[first : first + 256], 128)[None, :, None], 128, axis=0)
        source = LaidDownSource(ArraySource(np.ascontiguousarray(patch)), identity_spaces(("Spot",), 1.0))
        drops = screened(source, masks).read(0, 128)[..., 0]
        counts += drops.reshape(128, 256, 128).sum(axis=(0, 2)).tolist()
    assert (np.diff(counts) > 0).all()


def test_writer_takes_any_source(tmp_path):
    planes = ArraySource(np.full((140, 64, 1), 20000, np.uint16), (0.1, 0.1))
    done = write_drops(
        planes, tmp_path / "a.tif", identity_spaces(("Spot",), 1.0), info={}, options=DropOptions()
    )
    assert done.results["method"] == "masks"
    assert abs(open_planes(tmp_path / "a.tif").read(0, 128).mean() - 20000 / 65535) < 0.01
