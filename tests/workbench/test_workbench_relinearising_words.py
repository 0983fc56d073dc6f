"""What relinearising says of its limits reads unlike them, and it claims no more than curves can do."""

from types import SimpleNamespace

from strikeoff.qualify.tone_curve import InkChange, InkRest
from strikeoff.workbench.relinearising import _changes_told, _falls_short, _kept, _weaker

WEAKER = InkChange(0.90, 0.13, -0.016, False)


def fit(reached, change, rest, kept=None):
    return SimpleNamespace(ink="M", reached=reached, change=change, rest=rest, kept=kept)


def test_a_solid_just_below_its_limit_does_not_read_like_it():
    said = _weaker(fit(0.97964, WEAKER, InkRest(0.47, 1.2)))
    assert said.found == "97.96 % of its tone; 1.20 CIEDE2000 stays at the solid, 0.47 in the mean"
    assert said.expected == "98 % or more, at most 1 CIEDE2000"


def test_what_stays_of_a_weaker_solid_is_not_said_to_be_taken_back():
    done = fit(0.985, WEAKER, InkRest(0.47, 1.2))
    (row,), (line,) = _changes_told(["M"], [done])
    assert (row["change_de00"], row["stays_de00"], row["solid_stays_de00"]) == (0.9, 0.47, 1.2)
    assert line.endswith("weaker by 1.6 % of tone; 0.43 of it taken back, 0.47 stays, 1.20 at the solid")
    assert _falls_short(done)
    assert not _falls_short(fit(0.99, WEAKER, InkRest(0.2, 0.6)))


def test_only_what_can_come_back_whole_is_called_so():
    stronger = InkChange(0.90, 0.13, 0.016, False)
    assert _changes_told(["M"], [fit(1.0, stronger, InkRest(0.0, 0.0))])[1][0].endswith(
        "all of it taken back"
    )
    dark = InkChange(0.30, 0.13, -0.01, False)
    (row,), (line,) = _changes_told(["M"], [fit(0.97, dark, InkRest(0.30, 1.0), (0.30, 0.45))])
    assert row["curve_kept"]
    assert line.endswith(
        "the curve stays as it was, for a new one would leave 0.45; 0.30 stays, 1.00 at the solid"
    )
    said = _kept(fit(0.97, dark, InkRest(0.30, 1.0), (0.30, 0.45)))
    assert said.found == "0.30 CIEDE2000 in the mean with it, 0.45 with a new one"


def test_noise_alone_warns_of_no_solid():
    assert not _falls_short(fit(0.985, InkChange(0.2, 0.4, -0.01, True), InkRest(0.2, 1.1)))


def test_a_solid_that_fades_alone_is_warned_of_though_its_tints_stand_still():
    still = InkChange(0.02, 0.1, 0.0, True)
    faded = fit(0.985, still, InkRest(0.02, 1.48, is_read=True))
    assert _falls_short(faded)
    (line,) = _changes_told(["M"], [faded])[1]
    assert line.endswith("1.48 at the solid, whose own readings lie below the course of the ramp")


def test_tones_that_moved_both_ways_are_not_weaker_by_nothing():
    bent = fit(1.0, InkChange(0.15, 0.39, -0.0003, False), InkRest(0.01, 0.01))
    (line,) = _changes_told(["M"], [bent])[1]
    assert "0.39), on the whole neither stronger nor weaker; 0.14 of it taken back" in line


def test_a_change_below_its_own_radius_is_not_stated_as_a_fact():
    for size, begin in ((0.15, "may have changed, by 0.15"), (0.55, "changed by 0.55")):
        (line,) = _changes_told(["M"], [fit(1.0, InkChange(size, 0.39, 0.01, False), InkRest(0.0, 0.0))])[1]
        assert line.startswith(f"{'M':<12} {begin} CIEDE2000 (mean, 90 % radius 0.39), stronger by 1.0 %")
