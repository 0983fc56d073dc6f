"""Artwork of a roll: which file is whose, turned in bounded memory, and a roll of files pixel by pixel."""

import tracemalloc
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.layout.fill import RepeatFill
from strikeoff.layout.lay import lay_roll, press_grids
from strikeoff.layout.leader import Leader
from strikeoff.layout.mark_records import Mark
from strikeoff.layout.marks_raster import DrawnMark, MarkDots, mark_dots
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.sheets import artwork_files, open_sheets
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.lattice import Lattice
from strikeoff.raster.planes_tiff import open_planes, write_planes
from strikeoff.raster.resample import limits_of
from strikeoff.raster.strip_cache import StripCache

INKS = ("C", "M", "Y", "K")
ROLL = Layout(
    420, 10, -5, -3,
    (
        Placement("A", 0, 0, 200, 120, "fern"),
        Placement("B", 210, 0, 120, 200, "fern", turn_degrees=90),
        Placement("C", 0, 210, 60, 60, "moss"),
    ),
)  # fmt: skip


def test_files_of_artwork(tmp_path):
    (tmp_path / "moss").touch()
    assert artwork_files(ROLL, ["fern=a=b.tif"], tmp_path) == {
        "fern": Path("a=b.tif"),
        "moss": tmp_path / "moss",
    }
    assert artwork_files(ROLL, ["rest.tif", "moss=m.tif"], tmp_path) == {
        "fern": Path("rest.tif"),
        "moss": Path("m.tif"),
    }


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ([], "planes of the artwork are missing"),
        (["one.tif"], "given for several artworks"),
        (["fern=f.tif"], "missing"),
        (["bracken=f.tif"], "no artwork of this name"),
        (["fern=a.tif", "fern=b.tif"], "given twice"),
        (["a.tif", "b.tif"], "given twice"),
        (["fern="], "no file"),
    ],
)
def test_artwork_without_planes(tmp_path, given, message):
    with pytest.raises(InputError, match=message):
        artwork_files(ROLL, given, tmp_path)


def laid(sheets, marks=()):
    margin = round(10 * 100 / 25.4)
    leader = Leader(INKS, 100, 80, margin, round(420 * 100 / 25.4) - 2 * margin, 0, 0)
    return lay_roll(ROLL, sheets, leader=leader, marks=marks)


def test_turned_files_equal_arrays_turned_in_memory(tmp_path):
    art = {
        name: np.random.default_rng(seed).integers(0, 65536, (90, 150, 4), dtype=np.uint16)
        for seed, name in enumerate(("fern", "moss"))
    }
    cache = StripCache(50_000)
    files = {}
    for name, array in art.items():
        write_planes(tmp_path / f"{name}.tif", ArraySource(array), ink_names=INKS, info={}, rows_per_strip=7)
        files[name] = open_planes(tmp_path / f"{name}.tif", cache)
    grids = press_grids(ROLL, 100, 80)
    with open_sheets(grids, files, tmp_path) as sheets:
        for grid, sheet in sheets.items():
            wanted = np.rot90(art[grid.artwork], -1) if grid.quarter else art[grid.artwork]
            assert np.array_equal(sheet.planes.read(0, sheet.planes.height), wanted)
            assert sheet.limits == limits_of(ArraySource(art[grid.artwork]))
        roll = laid(sheets)
        found = np.concatenate([roll.read(y, min(y + 33, roll.height)) for y in range(0, roll.height, 33)])
        assert np.array_equal(found, roll.read(0, roll.height))
    assert sorted(p.name for p in tmp_path.iterdir()) == ["fern.tif", "moss.tif"]


def test_memory_is_bounded(tmp_path):
    """48 MB of artwork, turned and upright, never stand in memory together."""
    art = np.zeros((2000, 3000, 4), np.uint16)
    art[::7, ::5] = 30_000
    write_planes(tmp_path / "fern.tif", ArraySource(art), ink_names=INKS, info={}, rows_per_strip=32)
    del art
    planes = open_planes(tmp_path / "fern.tif", StripCache(4 << 20))
    grids = press_grids(ROLL, 100, 80)
    with open_sheets(grids, {"fern": planes, "moss": planes}, tmp_path) as sheets:
        roll = laid(sheets)
        roll.read(0, 8)
        tracemalloc.start()
        for y in range(0, roll.height, 16):
            roll.read(y, min(y + 16, roll.height))
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert peak < 24e6


@pytest.mark.parametrize("turn", [0, 90])
def test_memory_is_bounded_in_an_area_too(tmp_path, turn):
    """20 m of fabric from 48 MB of artwork: what is held does not grow with either."""
    art = np.zeros((2000, 3000, 4), np.uint16)
    art[::7, ::5] = 30_000
    write_planes(tmp_path / "fern.tif", ArraySource(art), ink_names=INKS, info={}, rows_per_strip=32)
    del art
    planes = open_planes(tmp_path / "fern.tif", StripCache(4 << 20))
    fill = RepeatFill((310, 200), Lattice("drop", Fraction(1, 3)), (-30, 0))
    area = Placement("A", 0, 0, 380, 20_000, "fern", turn_degrees=turn, repeat=fill)
    layout = Layout(420, 10, -5, -3, (area, Placement("B", 0, 20_001, 30, 30, "fern")))
    leader = Leader(INKS, 100, 80, 39, 1576, 0, 0)
    with open_sheets(press_grids(layout, 100, 80), {"fern": planes}, tmp_path) as sheets:
        roll = lay_roll(layout, sheets, leader=leader)
        assert len(np.unique(roll.row_map)) < roll.height / 20
        roll.read(0, 8)
        tracemalloc.start()
        for y in range(0, 1008, 16):
            roll.read(y, y + 16)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert peak < 32e6


def test_marks_never_stand_on_pieces_and_are_drawn_on_demand(tmp_path):
    full = ArraySource(np.full((9, 9, 4), 200, np.uint16))
    with open_sheets(press_grids(ROLL, 100, 80), {"fern": full, "moss": full}, tmp_path) as sheets:
        bare = laid(sheets).read(0, 900)
        over = MarkDots(-5, 3, np.ones((700, 900), bool))
        marked = laid(sheets, (over,)).read(0, 900)
    on_pieces = (bare == 200).all(axis=2)
    assert np.array_equal(marked[on_pieces], bare[on_pieces])
    assert (marked[..., 3] == 65535).sum() > 100_000
    for kind in ("trim", "register", "code"):
        mark = Mark(kind, 12.3, -7.7, 40, 12, "A", "top", "FERN-0001-X")
        lazy, eager = DrawnMark(mark, 300, 200), mark_dots(mark, 300, 200)
        assert (lazy.left_px, lazy.top_px, lazy.height_px) == (
            eager.left_px,
            eager.top_px,
            eager.height_px,
        )
        assert np.array_equal(lazy.dots, eager.dots)
