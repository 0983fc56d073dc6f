"""Observers and illuminants against every value that colour-science carries."""

import subprocess
import sys

import numpy as np

from strikeoff.colour.cie_tables import FINE_NM, illuminants, observer_1nm


def test_observers_are_those_of_cie_15():
    """CIE 15; colour-science carries the tables of CVRL."""
    import colour

    for degrees, name in (
        ("2", "CIE 1931 2 Degree Standard Observer"),
        ("10", "CIE 1964 10 Degree Standard Observer"),
    ):
        theirs = colour.MSDS_CMFS[name]
        np.testing.assert_array_equal(FINE_NM, theirs.wavelengths)
        np.testing.assert_array_equal(observer_1nm(degrees), theirs.values)


def test_illuminants_are_those_of_cie_15():
    import colour

    mine = illuminants()
    assert {"A", "C", "D50", "D65", "FL2", "FL11", "LED-B1", "ID50"} <= set(mine)
    for name, (wavelengths, power) in mine.items():
        theirs = colour.SDS_ILLUMINANTS[name]
        np.testing.assert_array_equal(wavelengths, theirs.wavelengths)
        np.testing.assert_array_equal(power, theirs.values)


def test_nothing_slow_is_imported_for_them():
    """Every command that prints a colour needs them: a library that takes two seconds to import must not."""
    code = (
        "import sys; from strikeoff.colour.weights import white_point; white_point('D50', '2'); "
        "print(sorted({'colour', 'scipy', 'pandas', 'networkx'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
