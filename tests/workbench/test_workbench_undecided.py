"""Readings that do not say in which mode they were taken."""

import pytest

from strikeoff.base.problems import Problem
from strikeoff.inks.goods import Cloth
from strikeoff.measurement.records import Setup
from strikeoff.workbench import check_readings
from strikeoff.workbench.undecided import MODE_OPEN, mode_notes

ROWS = "90,0,0", "60,-30,-40", "62,-29,-41"


@pytest.mark.parametrize(
    ("head", "column", "told"),
    [
        ("", "", [MODE_OPEN]),
        ("MEASUREMENT_CONDITION,M1\n", "", []),
        ("", "M1", []),
        ("MEASUREMENT_CONDITION,M7\n", "", ["measuring mode is not known and is left open"]),
    ],
)
def test_what_is_not_stated_is_noted_once(tmp_path, head, column, told):
    """ISO 13655:2017 has M0 to M3, which differ by the ultraviolet in the light."""
    path = tmp_path / "chart.csv"
    names = "1CLR_1,LAB_L,LAB_A,LAB_B" + (",MEASUREMENT_CONDITION" if column else "")
    rows = [f"{50 * k},{row}" + (f",{column}" if column else "") for k, row in enumerate(ROWS)]
    path.write_text(head + "\n".join([names, *rows]) + "\n")
    result = check_readings(path)
    assert [p.message for p in result.problems if "mode" in p.message] == told
    assert result.results["mode"] == ("M1" if not told else None)
    assert all("MEASUREMENT_CONDITION" in p.advice for p in result.problems if "mode" in p.message)


def test_it_is_noted_where_ultraviolet_may_matter():
    assert [p.severity for p in mode_notes(Setup(), Cloth(optical_brightener="yes"))] == ["note"]
    assert mode_notes(Setup(), Cloth(optical_brightener="no")) == []
    told = Problem(
        "warning", "a.csv", "measuring mode is not stated; it is taken for that of the other readings"
    )
    assert mode_notes(Setup(), Cloth(), [told]) == []
