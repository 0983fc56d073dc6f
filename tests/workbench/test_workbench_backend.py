"""Every backend of the pixel path agrees with the plain references, step by step."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.inks.drops import drop_shares
from strikeoff.inks.records import Ink
from strikeoff.inks.spaces import identity_spaces
from strikeoff.raster import artwork_kernels
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.resample import InkLimits, PeriodicTile, limits_of
from strikeoff.raster.tables import InkTable
from strikeoff.screening.diffusion import diffusion_tables
from strikeoff.screening.masks import InkMasks
from strikeoff.screening.pixel_kernels import COMPILED
from strikeoff.screening.screen import ScreenedSource
from strikeoff.separation.by_class import ByClassSource, ClassTables
from strikeoff.separation.named import NamedSource
from strikeoff.separation.separate import SeparatedSource
from strikeoff.workbench.backend import BACKENDS, plain_backend, steps
from strikeoff.workbench.drops import DropOptions, write_drops


def made_ink(rng, rows, width, inks):
    ink = rng.integers(0, 65536, (rows, width, inks), dtype=np.uint16)
    ink[rng.random(ink.shape) < 0.15] = 0
    ink[rng.random(ink.shape) < 0.15] = 65535
    return ink


def arguments(step, rng, rows, width, inks):
    """Return made arguments of a step."""
    ink = made_ink(rng, rows, width, inks)
    if step == "separate":
        channels = int(rng.choice([1, 3, 4]))
        shapers = np.sort(rng.integers(0, 65536, (channels, 65536), dtype=np.uint16), axis=1)
        nodes = rng.integers(0, 65536, (5,) * channels + (inks,), dtype=np.uint16)
        sample = rng.choice([np.uint8, np.uint16])
        pixels = rng.integers(0, np.iinfo(sample).max + 1, (rows, width, channels)).astype(sample)
        return pixels, InkTable(shapers, nodes)
    if step == "enlarge":
        return ink, int(rng.integers(1, 50)), int(rng.integers(1, 60))
    if step == "lay_down":
        names = tuple(f"ink {k}" for k in range(inks))
        records = [Ink(name, weight=float(rng.uniform(0.2, 1.5))) for name in names]
        return ink, identity_spaces(names, float(rng.uniform(0.4, 2.0)), inks=records)
    masks = InkMasks(rng.integers(0, 65535, (inks, 7, 12), dtype=np.uint16), 5, 19, start=2)
    if step == "screen":
        drops = np.repeat(drop_shares([5.0, 9.0, 20.0])[None], inks, axis=0)
        return ink, masks, int(rng.integers(0, 30)), drops if rng.random() < 0.5 else None
    if step == "diffuse":
        return ink, diffusion_tables([[5.0, 9.0, 20.0] if rng.random() < 0.5 else [1.0]] * inks)
    bits = int(rng.choice([1, 2]))
    return rng.integers(0, 1 << bits, (rows, width, inks), dtype=np.uint8), bits


@pytest.mark.parametrize("backend", BACKENDS)
@pytest.mark.parametrize("step", steps())
@settings(max_examples=12, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1), rows=st.integers(1, 9), width=st.integers(1, 75), inks=st.integers(1, 9)
)
def test_agrees_with_the_reference(backend, step, seed, rows, width, inks):
    made = arguments(step, np.random.default_rng(seed), rows, width, inks)
    tested = BACKENDS[backend]()
    found = getattr(tested, step)(*made)
    expected = getattr(plain_backend(), step)(*made)
    assert found.shape == expected.shape
    difference = np.abs(found.astype(np.float64) - expected).max()
    assert difference <= tested.tolerance_codes.get(step, 0.0)


@pytest.mark.parametrize(("method", "bits"), [("masks", 1), ("masks", 2), ("masks", 8), ("diffusion", 2)])
def test_artwork_to_drops_is_the_same_file_through_every_backend(method, bits, tmp_path):
    """Separation with named colours by class, resampling, ink guard and screening: equal bytes."""
    rng = np.random.default_rng(bits)
    nodes = rng.integers(0, 65536, (5, 5, 5, 3), dtype=np.uint16)
    table = InkTable(np.tile(np.arange(65536, dtype=np.uint16), (3, 1)), nodes)
    art = ArraySource(rng.integers(0, 256, (13, 31, 4), dtype=np.uint8), (0.1, 0.1))
    classes = ArraySource(rng.integers(0, 2, (13, 31, 1), dtype=np.uint8))
    other = InkTable(table.shapers, nodes[::-1].copy())
    drop_pl = (1.0,) if bits == 1 else (5.0, 9.0, 20.0)
    names = tuple(f"ink {k}" for k in range(3))
    spaces = replace(
        identity_spaces(names, 1.4),
        inks=tuple(Ink(name, drop_pl=drop_pl) for name in names),
        drops=np.repeat(drop_shares(drop_pl)[None], 3, axis=0),
    )
    files = []
    for name, made in BACKENDS.items():
        backend = made()
        by_class = ClassTables(classes, (table, other), backend.artwork)
        named = NamedSource(art, table, ((3, 1),), (1.0, 1.0, 1.0), 2.2, (), by_class, backend.artwork)
        tile = PeriodicTile(named, 21, 83, "half-drop", limits_of(named), kernels=backend.artwork)
        planes = ArraySource(tile.read(0, 21), (0.1, 0.1))
        options = DropOptions(method, bits, "none")
        out = tmp_path / f"{name}.tif"
        done = write_drops(planes, out, spaces, info={}, options=options, kernels=backend.kernels)
        assert done.results["guard_share_touched"] > 0.1
        files.append(out.read_bytes())
    assert len(files) > 1
    assert all(one == files[0] for one in files)


@pytest.mark.parametrize("backend", BACKENDS)
@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1), rows=st.integers(1, 7), width=st.integers(1, 40), inks=st.integers(1, 9),
    lattice=st.sampled_from(["straight", "half-drop", "brick"]),
)  # fmt: skip
def test_resampling_is_the_same_through_every_backend(backend, seed, rows, width, inks, lattice):
    """Larger, smaller, on any lattice, held to limits: the very bytes of the definition."""
    rng = np.random.default_rng(seed)
    ink = made_ink(rng, rows, width, inks)
    size = int(rng.integers(1, 23)), int(rng.integers(1, 60))
    each = tuple(int(v) for v in rng.integers(0, 65536, inks))
    limits = InkLimits(each, int(rng.integers(0, 65536))) if rng.random() < 0.5 else None

    def made(kernels):
        return PeriodicTile(ArraySource(ink), *size, lattice, limits, kernels=kernels).read(-3, size[0])

    np.testing.assert_array_equal(made(BACKENDS[backend]().artwork), made(artwork_kernels.PLAIN))


@pytest.mark.parametrize("backend", BACKENDS)
@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), rows=st.integers(1, 7), width=st.integers(1, 40))
def test_named_and_classed_artwork_is_the_same_through_every_backend(backend, seed, rows, width):
    rng = np.random.default_rng(seed)
    shapers = np.sort(rng.integers(0, 65536, (3, 65536), dtype=np.uint16), axis=1)
    tables = tuple(InkTable(shapers, rng.integers(0, 65536, (5, 5, 5, 4), dtype=np.uint16)) for _ in range(3))
    classes = ArraySource(rng.integers(0, 3, (rows, width, 1), dtype=np.uint8))
    pixels = rng.integers(0, 256, (rows, width, 5), dtype=np.uint8)
    tint = np.sort(rng.integers(0, 65536, (65536, 4), dtype=np.uint16), axis=0)

    def made(kernels):
        classed = ClassTables(classes, tables, kernels)
        weights, tints = (1.0, 0.5, 1.0, 2.0), ((4, tint),)
        sources = (
            NamedSource(ArraySource(pixels), tables[0], ((3, 2),), weights, 2.5, tints, None, kernels),
            NamedSource(ArraySource(pixels), tables[0], ((3, 2),), weights, 2.5, tints, classed),
            ByClassSource(ArraySource(np.ascontiguousarray(pixels[..., :3])), classed),
            SeparatedSource(ArraySource(np.ascontiguousarray(pixels[..., :3])), tables[1], 1, kernels),
        )
        return np.stack([source.read(0, rows) for source in sources])

    np.testing.assert_array_equal(made(BACKENDS[backend]().artwork), made(artwork_kernels.PLAIN))


def test_sources_use_the_kernels_that_they_are_given():
    """A backend whose drops are wrong shows in the drops: the path goes through it."""
    ink = ArraySource(np.full((4, 40, 1), 30000, np.uint16))
    masks = InkMasks(np.arange(64, dtype=np.uint16).reshape(1, 2, 32) * 900, 1, 1)
    none = replace(COMPILED, levels=lambda lines, limits, rows: np.zeros(lines.shape, np.uint8))
    assert ScreenedSource(ink, masks).read(0, 4).any()
    assert not ScreenedSource(ink, masks, kernels=none).read(0, 4).any()


def test_artwork_sources_use_the_kernels_that_they_are_given():
    """The same for the steps before: each source through a record that makes nothing."""
    none = artwork_kernels.ArtworkKernels(
        "none",
        lambda pixels, table, workers: np.zeros((*pixels.shape[:2], table.n_inks), np.uint16),
        lambda source, rows, index, columns, caps, total, out: out.fill(0),
    )
    table = InkTable(np.tile(np.arange(65536, dtype=np.uint16), (3, 1)), np.full((2, 2, 2, 1), 9, np.uint16))
    pixels = ArraySource(np.full((4, 6, 3), 9, np.uint8))
    classes = ArraySource(np.zeros((4, 6, 1), np.uint8))

    def made(kernels):
        classed = ClassTables(classes, (table, table), kernels)
        yield SeparatedSource(pixels, table, 1, kernels)
        yield NamedSource(pixels, table, (), (1.0,), 1.0, (), None, kernels)
        yield ByClassSource(pixels, classed)
        yield PeriodicTile(ArraySource(np.full((4, 6, 1), 9, np.uint16)), 8, 9, kernels=kernels)

    assert all((source.read(0, 4) == 9).all() for source in made(artwork_kernels.COMPILED))
    assert not any(source.read(0, 4).any() for source in made(none))


def test_a_wrong_kernel_is_found():
    """The comparison can fail: a backend off by one row of the mask does not pass."""
    rng = np.random.default_rng(1)
    ink, masks, y0, drops = arguments("screen", rng, 9, 40, 3)
    right = plain_backend().screen(ink, masks, y0, drops)
    assert (right != plain_backend().screen(ink, masks, y0 + 1, drops)).any()
