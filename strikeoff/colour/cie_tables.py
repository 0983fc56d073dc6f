"""Standard observers and illuminants as tables that load in milliseconds.

References
----------
CIE 15 (observers, A, D, FL, HP, LED and ID series), CIE 1931 and 1964 observers at 1 nm; the values are those
that colour-science 0.4.7 carries, which takes two seconds to import. Tests compare every one of them.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: 1 nm range over which the observers are tabulated (CIE 15). [nm]
FINE_NM: FloatArray = np.arange(360.0, 831.0)


def observer_1nm(degrees: str) -> FloatArray:
    """Return the colour-matching functions of an observer, shape (471, 3), at `FINE_NM`; read-only.

    Parameters
    ----------
    degrees : {"2", "10"}
        Field of view. [degrees]

    Examples
    --------
    >>> observer_1nm("2")[FINE_NM == 555.0].round(4).tolist()
    [[0.5121, 1.0, 0.0057]]
    """
    first = {"2": 1, "10": 4}[degrees]
    return _observers()[:, first : first + 3]


@lru_cache(maxsize=1)
def illuminants() -> dict[str, tuple[FloatArray, FloatArray]]:
    """Return the illuminants by name, each as wavelengths [nm] and relative power; read-only.

    Examples
    --------
    >>> wavelengths, power = illuminants()["A"]
    >>> float(power[wavelengths == 560.0][0])
    100.0
    """
    found: dict[str, tuple[FloatArray, FloatArray]] = {}
    for line in _text("cie_illuminants.csv").splitlines()[1:]:
        name, first, step, *powers = line.split(",")
        power = np.array(powers, dtype=np.float64)
        wavelengths = float(first) + float(step) * np.arange(len(power), dtype=np.float64)
        wavelengths.setflags(write=False)
        power.setflags(write=False)
        found[name] = (wavelengths, power)
    return found


@lru_cache(maxsize=1)
def _observers() -> FloatArray:
    table = np.array([line.split(",") for line in _text("cie_observers.csv").splitlines()[1:]], np.float64)
    table.setflags(write=False)
    return table


def _text(name: str) -> str:
    return files("strikeoff.colour").joinpath(name).read_text("utf-8")
