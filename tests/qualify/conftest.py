"""A condition of seven inks that takes long to build, made once."""

import pytest
from made_once import made_once
from simulated_cloth import cloth, made

from strikeoff.measurement.iso28178 import format_iso28178
from strikeoff.model import gamut


@pytest.fixture(scope="session")
def seven_inks(tmp_path_factory):
    """A press of seven inks, and a condition of 220 of its readings; its boundary has few levels and hues."""
    press, readings = cloth("CMYKOPB", 220, "T2")

    def build():
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(gamut, "_LEVELS", 7)
            patch.setattr(gamut, "_HUES", 12)
            return made(readings, format_iso28178(readings).encode())

    return press, made_once(tmp_path_factory, "seven inks", build)
