"""The total ink limit of a profile is what its tables to inks use, and its source is told."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.icc.profile import Profile, read_profile
from strikeoff.qualify.profile_total import inks_never_used, profile_total


@pytest.fixture
def told(monkeypatch):
    def of(wished=None, inks=6, **sums):
        tables = {
            name: np.repeat(np.asarray(values)[:, None] / inks, inks, axis=1) for name, values in sums.items()
        }
        monkeypatch.setattr("strikeoff.qualify.profile_total.table_inks", lambda _: tables)
        return profile_total(Profile(None, {}), inks, wished)

    return of


def test_the_largest_total_of_all_intents_counts_and_one_odd_node_does_not(told):
    usual = np.linspace(0.0, 2.4, 5000)
    total, note = told(B2A0=usual, B2A1=np.append(usual * 0.9, [5.9]))
    assert total == pytest.approx(2.4, abs=0.01)
    assert (note.severity, note.where) == ("note", "total ink")
    assert note.found == "240 % in B2A0, 216 % in B2A1"


def test_more_than_cloth_takes_is_warned_of(told):
    total, warning = told(B2A0=np.linspace(0.0, 3.24, 4000))
    assert total == pytest.approx(3.24, abs=0.01)
    assert (warning.severity, warning.expected) == ("warning", "at most 300 %")
    assert "--total-ink" in warning.advice


def test_a_limit_at_its_code_is_not_called_too_large(told):
    assert told(B2A1=[3.0 + 2 / 65535])[1].severity == "note"


def test_without_tables_a_usual_limit_is_taken_and_warned_of(told):
    for inks, expected in ((6, 3.0), (2, 2.0)):
        total, warning = told(inks=inks)
        assert (total, warning.severity) == (expected, "warning")
        assert "no tables to inks" in warning.found


def test_a_given_limit_holds_and_is_warned_of_where_the_tables_use_less(told):
    total, note = told(2.2, B2A0=[0.0, 2.8])
    assert (total, note.severity) == (2.2, "note")
    assert "280 % in B2A0" in note.found
    total, warning = told(3.2, B2A0=[0.0, 2.8])
    assert (total, warning.severity) == (3.2, "warning")
    assert told(1e7, B2A0=[0.0, 2.8])[0] == 6.0


def test_curves_behind_the_nodes_count(small_readings):
    """The same nodes behind curves of a square: the total that comes out, not the codes, is used."""
    from strikeoff.icc.curves import ParametricCurve
    from strikeoff.icc.inspect import table_inks
    from strikeoff.icc.luts import Curves

    profile = read_profile(small_readings.condition.profiles[4])
    plain = table_inks(profile)
    bent = Curves((ParametricCurve(0, (2.0,)),) * 3)

    class Bent:
        tags = profile.tags

        @staticmethod
        def decode(name):
            return replace(profile.decode(name), a=bent)

    for name, inks in table_inks(Bent).items():
        np.testing.assert_allclose(inks, plain[name] ** 2, atol=1e-6)


def test_an_ink_that_no_table_uses_is_warned_of(monkeypatch):
    """Recipes made here use every ink that is not special by its name; the profile's maker knew more."""
    nodes = np.random.default_rng(0).random((500, 5))
    nodes[:, 3:] = 0.0
    tables = {"B2A0": nodes, "B2A1": nodes * 0.5}
    monkeypatch.setattr("strikeoff.qualify.profile_total.table_inks", lambda _: tables)
    found = inks_never_used(None, ("C", "M", "Y", "P", "White"))
    assert [(p.severity, p.where) for p in found] == [("warning", "ink P")]
    assert "role" in found[0].advice
    tables["B2A1"] = nodes + np.array([0, 0, 0, 0.2, 0])
    assert inks_never_used(None, ("C", "M", "Y", "P", "White")) == []
