"""Planes through the link against direct inversion at random pixels of pictures.

Links are as large as those of artwork, but only the nodes about the pixels are solved: no other is read.
"""

from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from strikeoff.artwork.colour import profile_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition import links
from strikeoff.condition.links import artwork_table, node_axes
from strikeoff.condition.rendering import render
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.tables import InkTable
from strikeoff.separation.separate import SeparatedSource, separated


def to_lab(values):
    return profile_to_lab(None, "rgb", values, "perceptual")


@pytest.fixture(scope="module")
def table(measured_condition):
    return artwork_table(measured_condition, "rgb", to_lab, "perceptual")


def corners(condition, kind, intent, values):
    """Rows of a link's grid that are corners of the cells in which the values lie."""
    axes = node_axes(condition, kind, intent)
    low = []
    for axis, value in zip(axes, values.T, strict=True):
        # A value within a code of a node may be read from either side of it.
        both = [np.searchsorted(axis, value + shift, side="right") - 1 for shift in (-1e-4, 1e-4)]
        low.append(np.clip(both, 0, len(axis) - 2))
    shape = tuple(len(axis) for axis in axes)
    found = [
        np.ravel_multi_index([one[side] + up for one, side, up in zip(low, sides, ups, strict=True)], shape)
        for sides in product((0, 1), repeat=len(axes))
        for ups in product((0, 1), repeat=len(axes))
    ]
    return np.unique(found)


def table_about(condition, kind, to_lab, intent, values):
    """The link with full inks in all nodes but those about the values: one that is missed shows."""
    rows = corners(condition, kind, intent, values)

    def some(condition, lab, *words, **options):
        inks = np.ones((len(lab), condition.n_inks))
        inks[rows] = render(condition, lab[rows], *words, **options).inks
        return SimpleNamespace(inks=inks)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(links, "render", some)
        return artwork_table(condition, kind, to_lab, intent)


def test_a_link_about_values_is_the_whole_link_there(small_readings):
    """Nodes are solved one by one, so that the rest of a grid changes none of them."""
    condition = small_readings.condition
    values = np.random.default_rng(7).integers(0, 256, (40, 3)) / 255.0
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(links.GRID, "rgb", 9)
        rows = corners(condition, "rgb", "relative", values)
        whole = artwork_table(condition, "rgb", to_lab, "relative").nodes.reshape(-1, 3)
        part = table_about(condition, "rgb", to_lab, "relative", values).nodes.reshape(-1, 3)
    assert np.abs(whole[rows].astype(int) - part[rows]).max() <= 1
    assert len(rows) < len(whole)


def clouds():
    """Soft clouds of colour at three scales, as large as the gamut."""
    noise = np.random.default_rng(5).normal(size=(240, 240, 3))
    soft = sum(gaussian_filter(noise, (s, s, 0)) * s for s in (4, 16, 60))
    return ((soft - soft.min()) / np.ptp(soft) * 255).astype(np.uint8)


@pytest.mark.parametrize("intent", ["perceptual", "relative-bpc", "relative", "absolute"])
def test_link_is_as_good_as_direct_inversion(measured_condition, table, intent):
    """Mean at most 0.15, 99th percentile at most 0.8 CIEDE2000, both through the exact model.

    Common practice, no source.
    """
    chosen = [some_pixels(picture) for picture in (clouds(), photograph()) if picture is not None]
    made = table
    if intent != "perceptual":
        made = table_about(measured_condition, "rgb", to_lab, intent, np.vstack(chosen) / 255.0)
    for pixels in chosen:
        check(measured_condition, made, intent, pixels)


def photograph():
    """The picture that most versions of matplotlib carry; None in the others."""
    from pathlib import Path

    import matplotlib
    from PIL import Image

    path = Path(matplotlib.__file__).parent / "mpl-data" / "sample_data" / "grace_hopper.jpg"
    return np.asarray(Image.open(path).convert("RGB")) if path.is_file() else None


def some_pixels(picture):
    flat = picture.reshape(-1, 3)
    return flat[np.random.default_rng(0).integers(0, len(flat), 1200)]


def check(condition, table, intent, pixels):
    inks = separated(ArraySource(pixels[None]), table).read(0, 1)[0] / 65535.0
    direct = render(condition, to_lab(pixels / 255.0), intent).inks
    model = condition.native
    error = delta_e_2000(model.lab(inks), model.lab(direct))
    assert error.mean() <= 0.15
    assert np.quantile(error, 0.99) <= 0.8
    # A neighbouring colour, or another, would not pass.
    other = delta_e_2000(model.lab(np.roll(inks, 1, axis=0)), model.lab(direct))
    assert other.mean() > 1.0


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_bytes_do_not_depend_on_bands_and_threads(table, dtype):
    image = clouds()[:97].astype(dtype) * (1 if dtype == np.uint8 else 257)
    whole = separated(ArraySource(image), table, workers=1).read(0, 97)
    for workers in (1, 2, 3):
        for rows in (1, 2, 7, 97):
            source = SeparatedSource(ArraySource(image), table, workers)
            parts = [source.read(y, min(y + rows, 97)) for y in range(0, 97, rows)]
            np.testing.assert_array_equal(np.concatenate(parts), whole)


def test_a_stored_table_gives_the_same_bytes(table):
    shapers, nodes = (part.astype("<u2").tobytes() for part in (table.shapers, table.nodes))
    stored = InkTable(
        np.frombuffer(shapers, "<u2").reshape(table.shapers.shape).astype(np.uint16),
        np.frombuffer(nodes, "<u2").reshape(table.nodes.shape).astype(np.uint16),
    )
    assert stored.digest == table.digest
    art = ArraySource(clouds()[:9])
    np.testing.assert_array_equal(separated(art, stored).read(0, 9), separated(art, table).read(0, 9))


@pytest.mark.parametrize("intent", ["perceptual", "relative"])
def test_lab_artwork_is_as_exact(measured_condition, intent):
    """The same bounds for colours that come as Lab. Common practice, no source."""

    def decoded(values):
        return values * [100.0, 255.0, 255.0] - [0.0, 128.0, 128.0]

    flat = clouds().reshape(-1, 3)
    lab = to_lab(flat[np.random.default_rng(0).integers(0, len(flat), 800)] / 255.0)
    codes = np.rint(np.add(lab, [0.0, 128.0, 128.0]) / [100.0, 255.0, 255.0] * 65535).astype(np.uint16)
    table = table_about(measured_condition, "lab", decoded, intent, codes / 65535.0)
    inks = separated(ArraySource(codes[None]), table).read(0, 1)[0] / 65535.0
    direct = render(measured_condition, decoded(codes / 65535.0), intent).inks
    model = measured_condition.native
    error = delta_e_2000(model.lab(inks), model.lab(direct))
    assert error.mean() <= 0.15
    assert np.quantile(error, 0.99) <= 0.8


def cmyk_to_lab(values):
    """Ideal inks: each takes its primary away, black all three."""
    return to_lab((1.0 - values[:, :3]) * (1.0 - values[:, 3:]))


@pytest.mark.parametrize("intent", ["perceptual", "absolute"])
def test_cmyk_artwork_is_as_exact(measured_condition, intent):
    """The same bounds for four channels, black in them by two strengths. Common practice, no source."""
    flat = clouds().reshape(-1, 3)
    wanted = 1.0 - flat[np.random.default_rng(0).integers(0, len(flat), 1200)] / 255.0
    black = wanted.min(axis=1, keepdims=True) * np.repeat([[0.3], [0.9]], 600, axis=0)
    cmyk = np.hstack([(wanted - black) / (1.0 - black), black])
    codes = np.rint(cmyk * 65535).astype(np.uint16)
    table = table_about(measured_condition, "cmyk", cmyk_to_lab, intent, codes / 65535.0)
    inks = separated(ArraySource(codes[None]), table).read(0, 1)[0] / 65535.0
    direct = render(measured_condition, cmyk_to_lab(codes / 65535.0), intent).inks
    model = measured_condition.native
    error = delta_e_2000(model.lab(inks), model.lab(direct))
    assert error.mean() <= 0.15
    assert np.quantile(error, 0.99) <= 0.8
