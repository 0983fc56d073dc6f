"""Previews: colours of cloth, weave at true scale, files."""

import io

import numpy as np
import pytest
from PIL import Image, ImageCms

from strikeoff.base.errors import InputError, StorageError, UsageError
from strikeoff.colour.weights import white_point
from strikeoff.report.preview import (
    cloth_preview,
    picture,
    png_bytes,
    scale_bar,
    scale_bar_svg,
    write_png,
)
from strikeoff.report.screen_colour import hex_colour, lab_to_srgb
from strikeoff.report.weave import WEAVES, weave_relief

D50 = white_point("D50", "2")


def flat(lab, size=(40, 60)):
    return np.broadcast_to(np.asarray(lab, dtype=float), (*size, 3))


def test_screen_colours_agree_with_a_reference_engine():
    """Little CMS with its own sRGB profile, media-relative, on colours inside sRGB."""
    lab8 = np.array(
        [[128, 128, 128], [160, 150, 110], [90, 110, 160], [230, 128, 132], [60, 140, 140]], dtype=np.uint8
    )
    # Pillow keeps a* and b* as signed bytes.
    source = Image.frombytes(
        "LAB", (len(lab8), 1), (lab8 ^ np.array([0, 128, 128], dtype=np.uint8)).tobytes()
    )
    transform = ImageCms.buildTransform(
        ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB"), "LAB", "RGB", renderingIntent=1
    )
    expected = np.asarray(ImageCms.applyTransform(source, transform))[0].astype(int)
    lab = np.column_stack([lab8[:, 0] / 2.55, lab8[:, 1] - 128.0, lab8[:, 2] - 128.0])
    rgb, outside = lab_to_srgb(lab, [96.42, 100.0, 82.49])
    assert not outside.any()
    assert np.abs(rgb.astype(int) - expected).max() <= 2


@pytest.mark.parametrize(("light", "observer"), [("D50", "2"), ("D65", "10"), ("A", "2")])
def test_white_of_the_light_is_white_of_the_page(light, observer):
    white = white_point(light, observer)
    assert hex_colour([100, 0, 0], white) == "#ffffff"
    rgb = cloth_preview(flat([50, 0, 0]), white, pitch_mm=1.0)
    assert np.ptp(rgb[0, 0].astype(int)) <= 1


def test_cloth_keeps_its_shade_and_a_yellowish_cloth_is_yellowish():
    r, g, b = (int(v) for v in cloth_preview(flat([93, 0, 5]), D50, pitch_mm=1.0)[0, 0])
    assert 225 <= r < 245
    assert r >= g > b
    # Axes not swapped: red is red.
    r, g, b = (int(v) for v in cloth_preview(flat([50, 50, 30]), D50, pitch_mm=1.0)[0, 0])
    assert r > 2 * g
    assert r > 2 * b


def test_out_of_screen_is_told():
    _, outside = lab_to_srgb([[55, -40, -55], [60, 0, 0]], D50)
    assert outside.tolist() == [True, False]


def test_resizing_averages_light_and_keeps_shape():
    checks = np.zeros((64, 96, 3))
    checks[..., 0] = np.where((np.indices((64, 96)).sum(axis=0) % 2) == 0, 100.0, 0.0)
    rgb = cloth_preview(checks, D50, pitch_mm=1.0, out_px=48)
    assert rgb.shape == (32, 48, 3)
    # Half the light is Y = 50, sRGB 188: the mean of the codes would be 128.
    assert np.abs(rgb.astype(int) - 188).max() <= 1


def test_large_previews_grow():
    assert cloth_preview(flat([50, 0, 0], (4, 8)), D50, pitch_mm=1.0, out_px=16).shape == (8, 16, 3)


@pytest.mark.parametrize("weave", WEAVES)
def test_weave_has_no_mean_repeats_with_its_yarns_and_fades(weave):
    period = {"plain": 2, "twill": 4, "satin": 5}[weave]
    # Ten pixels a yarn: one binding repeat is ten times the period.
    relief = weave_relief(weave, 200, 200, 0.035, 0.35)
    assert abs(relief.mean()) < 0.02
    step = 10 * period
    assert np.allclose(relief[step:], relief[:-step])
    assert np.allclose(relief[:, step:], relief[:, :-step])
    assert not np.allclose(relief[10:], relief[:-10], atol=0.05)
    assert 0.2 < relief.std() < 1.0
    assert np.abs(weave_relief(weave, 50, 50, 0.35, 0.35)).max() < 0.7 * np.abs(relief).max()
    assert np.all(weave_relief(weave, 50, 50, 1.2, 0.35) == 0)


def test_plain_is_alike_both_ways_and_twill_runs_on_a_diagonal():
    plain = weave_relief("plain", 80, 80, 0.035, 0.35)
    assert np.allclose(plain[10:, 10:], plain[:-10, :-10])
    twill = weave_relief("twill", 80, 80, 0.035, 0.35)
    assert np.allclose(twill[10:, 10:], twill[:-10, :-10])
    assert not np.allclose(twill[10:, :-10], twill[:-10, 10:], atol=0.05)


def test_weave_is_subtle_and_keeps_the_colour():
    plain = cloth_preview(flat([60, 20, 20], (100, 100)), D50, pitch_mm=0.05)
    woven = cloth_preview(flat([60, 20, 20], (100, 100)), D50, pitch_mm=0.05, weave="twill")
    assert np.ptp(woven[..., 0].astype(int)) >= 3
    assert np.abs(woven.astype(int) - plain.astype(int)).max() < 20
    assert np.abs(woven.mean(axis=(0, 1)) - plain.mean(axis=(0, 1))).max() < 1.0
    black = cloth_preview(flat([0, 0, 0], (20, 20)), D50, pitch_mm=0.05, weave="plain")
    assert np.isfinite(black).all()


def test_bad_pictures_are_refused():
    with pytest.raises(InputError, match="not finite"):
        cloth_preview(flat([np.nan, 0, 0]), D50, pitch_mm=1.0)
    with pytest.raises(InputError, match="picture in"):
        cloth_preview(np.zeros((4, 4)), D50, pitch_mm=1.0)
    with pytest.raises(InputError, match="out of range"):
        cloth_preview(flat([50, 0, 0]), D50, pitch_mm=1.0, out_px=100_000)
    with pytest.raises(InputError, match="pitch"):
        cloth_preview(flat([50, 0, 0]), D50, pitch_mm=-1.0)
    with pytest.raises(UsageError, match="plain, twill, satin"):
        cloth_preview(flat([50, 0, 0]), D50, pitch_mm=1.0, weave="velvet")


def test_png_carries_srgb_resolution_and_the_same_bytes(tmp_path):
    rgb = cloth_preview(flat([60, 20, 20]), D50, pitch_mm=0.5)
    data = png_bytes(rgb, pitch_mm=0.5)
    assert data == png_bytes(rgb, pitch_mm=0.5)
    with Image.open(io.BytesIO(data)) as image:
        assert image.size == (60, 40)
        assert np.array_equal(np.asarray(image), rgb)
        assert image.info["dpi"][0] == pytest.approx(50.8, abs=0.02)
        profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
        assert "sRGB" in ImageCms.getProfileDescription(profile)
    path = tmp_path / "sub" / "a.png"
    write_png(path, rgb, pitch_mm=0.5)
    assert path.read_bytes() == data
    (tmp_path / "file").write_text("x")
    with pytest.raises(StorageError):
        write_png(tmp_path / "file" / "a.png", rgb)
    assert 'alt="&lt;cloth&gt;"' in picture(rgb, "<cloth>")


@pytest.mark.parametrize(
    ("pitch", "width", "length"),
    [(0.5, 1280, 200.0), (1.0, 300, 100.0), (0.01, 299, 0.5), (2.0, 1000, 500.0)],
)
def test_scale_bar_is_round_and_true(pitch, width, length):
    bar = scale_bar(pitch, width)
    assert bar.length_mm == pytest.approx(length)
    assert bar.length_px * pitch == pytest.approx(length)
    assert bar.length_px <= width / 3 * 1.0001
    svg = scale_bar_svg(pitch, width)
    assert f"{length:g} mm finished" in svg
    assert f'viewBox="0 0 {width} ' in svg


def test_nothing_heavy_loads_with_the_package():
    import subprocess
    import sys

    code = (
        "import sys, strikeoff.report.page, strikeoff.report.preview, strikeoff.report.plots_inks, "
        "strikeoff.report.plots_gamut, strikeoff.report.plots_quality, strikeoff.verification.judge;"
        "names = ('matplotlib', 'PIL', 'jinja2', 'colour', 'numba', 'scipy.stats');"
        "print([name for name in names if name in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
