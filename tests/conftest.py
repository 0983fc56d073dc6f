"""Real readings for every test, and calm settings for generated examples."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from strikeoff.base.errors import StorageError
from strikeoff.measurement.embedded import measured_cmyk_text, targ_text
from strikeoff.measurement.read import parse_readings

# Two shared cores: time per example says nothing, and the same examples run everywhere.
settings.register_profile(
    "strikeoff", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("strikeoff")

SMOOTHED_PROFILE = "ISOcoated_v2_300_bas.icc"
_FOLDERS = ("/usr/share/scribus/profiles", "/usr/share/color/icc", "/usr/share/color/icc/scribus")


def pytest_collection_modifyitems(items):
    for item in items:
        if {"smoothed_set", "smoothed_profile"} & set(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.debian)


@pytest.fixture(scope="session")
def measured_set():
    """2,376 measured spectral CMYK patches, 380-730 nm, from the optional demo package."""
    try:
        text = measured_cmyk_text()
    except StorageError as error:
        pytest.skip(str(error))
    return parse_readings(text.encode("latin-1"), source="measured CMYK set")[0]


@pytest.fixture(scope="session")
def smoothed_profile():
    """Bytes of the CMYK profile that Debian's scribus-data carries."""
    for folder in _FOLDERS:
        path = Path(folder) / SMOOTHED_PROFILE
        if path.is_file():
            return path.read_bytes()
    pytest.skip(f"{SMOOTHED_PROFILE} is absent: install Debian's scribus-data")


@pytest.fixture(scope="session")
def smoothed_set(smoothed_profile):
    """1,617 smoothed CMYK patches with Lab only."""
    return parse_readings(targ_text(smoothed_profile).encode("latin-1"), source="smoothed CMYK set")[0]
