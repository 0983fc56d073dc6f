"""Real readings for every test, and calm settings for generated examples."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import HealthCheck, settings
from made_once import made_once
from threadpoolctl import threadpool_limits

from strikeoff.base.errors import StorageError
from strikeoff.measurement.embedded import measured_cmyk_text, targ_text
from strikeoff.measurement.read import parse_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.model import gamut

# Two shared cores: time per example says nothing, and the same examples run everywhere.
settings.register_profile(
    "strikeoff", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("strikeoff")

SMOOTHED_PROFILE = "ISOcoated_v2_300_bas.icc"
_FOLDERS = ("/usr/share/scribus/profiles", "/usr/share/color/icc", "/usr/share/color/icc/scribus")


# Files that take longest. A parallel run starts with them and ends with short ones, so that no worker is
# left with a long one alone. The first two need nothing that the other one makes.
LONGEST = (
    "test_demo", "test_model_inverse", "test_contracts_goods", "test_contracts_commands",
    "test_qualify_build", "test_workbench_profiles", "test_model_black_point", "test_condition_archive",
    "test_qualify_profiles", "test_qualify_dark_cloth", "test_measurement_examine",
    "test_qualify_profiles_inks", "test_contracts_bad_input", "test_contracts_stopping",
    "test_model_inverse_many", "test_model_inverse_apart", "test_workbench_artwork_classes",
    "test_qualify_special_inks", "test_model_least_black", "test_contracts_drawings",
    "test_measurement_ink_runs", "test_measurement_consistency", "test_model_validation",
)  # fmt: skip


def pytest_collection_modifyitems(config, items):
    if hasattr(config, "workerinput"):
        place = {name: number for number, name in enumerate(LONGEST)}
        items.sort(key=lambda item: place.get(item.path.stem, len(LONGEST)))
    for item in items:
        if {"smoothed_set", "smoothed_profile", "smoothed_condition"} & set(
            getattr(item, "fixturenames", ())
        ):
            item.add_marker(pytest.mark.debian)


@pytest.fixture(scope="session", autouse=True)
def _calm_linear_algebra():
    """Small matrices by the thousand: threads inside them only wait for each other."""
    with threadpool_limits(1, user_api="blas"):
        yield


@pytest.fixture
def coarse_gamut():
    """A boundary of few levels and hues, for tests that judge none: it takes as long as all else."""
    yield from _few_levels()


@pytest.fixture(scope="module")
def coarse_gamut_of_module():
    """The same for all of a module, its fixtures too."""
    yield from _few_levels()


def _few_levels():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(gamut, "_LEVELS", 7)
        patch.setattr(gamut, "_HUES", 12)
        yield


@pytest.fixture(scope="session")
def measured_bytes():
    """The file of 2,376 measured spectral CMYK patches from the optional demo package."""
    try:
        return measured_cmyk_text().encode("latin-1")
    except StorageError as error:
        pytest.skip(str(error))


@pytest.fixture(scope="session")
def measured_set(measured_bytes):
    """2,376 measured spectral CMYK patches, 380-730 nm."""
    return parse_readings(measured_bytes, source="measured CMYK set")[0]


@pytest.fixture(scope="session")
def smoothed_profile():
    """Bytes of the CMYK profile that Debian's scribus-data carries."""
    for folder in _FOLDERS:
        path = Path(folder) / SMOOTHED_PROFILE
        if path.is_file():
            return path.read_bytes()
    pytest.skip(f"{SMOOTHED_PROFILE} is absent: install Debian's scribus-data")


@pytest.fixture(scope="session")
def smoothed_bytes(smoothed_profile):
    """The file of 1,617 smoothed CMYK patches inside that profile."""
    return targ_text(smoothed_profile).encode("latin-1")


@pytest.fixture(scope="session")
def smoothed_set(smoothed_bytes):
    """1,617 smoothed CMYK patches with Lab only."""
    return parse_readings(smoothed_bytes, source="smoothed CMYK set")[0]


@pytest.fixture(scope="session")
def measured_condition(measured_set, measured_bytes, tmp_path_factory):
    """The measured set's condition at a total ink limit of 300 %, profiles included."""
    return made_once(
        tmp_path_factory, "measured", lambda: _condition(measured_set, measured_bytes, "measured")
    )


@pytest.fixture(scope="session")
def smoothed_condition(smoothed_set, smoothed_bytes, tmp_path_factory):
    """The smoothed set's condition at a total ink limit of 300 %, profiles included."""
    return made_once(
        tmp_path_factory, "smoothed", lambda: _condition(smoothed_set, smoothed_bytes, "smoothed data")
    )


@pytest.fixture(scope="session")
def small_readings(tmp_path_factory):
    """Simulated readings of a three-ink cloth, quick to build from: readings, build(), condition."""
    from strikeoff.measurement.iso28178 import format_iso28178
    from strikeoff.mill.press import WAVELENGTHS_NM, ink_columns, invented_press
    from strikeoff.qualify.build import build_condition
    from strikeoff.qualify.profiles import build_profiles

    rng = np.random.default_rng(0)
    inks = np.round(np.vstack([np.zeros(3), np.eye(3), np.ones(3), rng.random((145, 3))]), 3)
    made = ReadingSet(
        tuple(f"P{number}" for number in range(len(inks))),
        ink_columns("CMY"),
        inks,
        spectra=invented_press("T1", inks="CMY").print(inks),
        wavelengths_nm=WAVELENGTHS_NM,
    )
    data = format_iso28178(made).encode()
    readings = parse_readings(data, source="simulated cloth")[0]

    def build():
        return build_condition(readings, data, name="small", label="simulated", total_ink=2.5)

    def with_profiles():
        condition = build()
        return replace(condition, profiles=build_profiles(condition))

    condition = made_once(tmp_path_factory, "small", with_profiles)
    return SimpleNamespace(readings=readings, data=data, build=build, condition=condition)


def _condition(readings, data, label):
    from strikeoff.qualify.build import build_condition
    from strikeoff.qualify.profiles import build_profiles

    condition = build_condition(readings, data, name=label, label=label, total_ink=3.0)
    return replace(condition, profiles=build_profiles(condition))


_INTENTS = {"perceptual": 0, "relative": 1, "saturation": 2, "absolute": 3}


class Lcms:
    """The foreign engine lcms2, unoptimised, 16-bit device values."""

    def __init__(self):
        import imagecodecs
        from PIL import ImageCms

        self._transform = imagecodecs.cms_transform
        self._flags = int(imagecodecs.CMS.FLAGS.NOOPTIMIZE)
        self._lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()

    def to_lab(self, data, space, device, intent):
        codes = np.rint(np.asarray(device) * 65535).astype(np.uint16)
        pixels = codes[None, :, 0] if codes.shape[1] == 1 else codes[None]
        return self._transform(
            pixels, data, self._lab, colorspace=space.lower(), outcolorspace="lab",
            outdtype="float64", intent=_INTENTS[intent], flags=self._flags,
        ).reshape(-1, 3)  # fmt: skip

    def from_lab(self, data, space, lab, intent):
        return self._transform(
            np.asarray(lab, float)[None], self._lab, data, colorspace="lab", outcolorspace=space.lower(),
            outdtype="uint16", intent=_INTENTS[intent], flags=self._flags,
        ).reshape(len(lab), -1) / 65535  # fmt: skip


@pytest.fixture(scope="session")
def lcms():
    return Lcms()
