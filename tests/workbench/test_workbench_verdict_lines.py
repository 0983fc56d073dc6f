"""Lines of a verdict for people."""

from strikeoff.verification.verdict import Verdict, VerdictItem
from strikeoff.workbench.control import verdict_lines


def test_advice_stands_only_where_there_is_something_to_do():
    values = {
        "uncertainty": 0.1,
        "noise_bias": 0.0,
        "limit": 1.5,
        "formula": "CIEDE2000",
        "statistic": "mean",
    }
    items = (
        VerdictItem("Mean of all patches", 0.3, outcome="pass", patches=("7",), **values),
        VerdictItem("Black", 2.0, outcome="fail", patches=("7",), **values),
    )
    head, passed, failed, setup = verdict_lines(Verdict(items, "fail", "D50", tolerances="test"))
    assert (head, setup) == ("FAIL  (test)", "D50")
    assert passed.endswith("limit  1.50  CIEDE2000")
    assert failed.endswith("CIEDE2000; Look at patch 7 first")
