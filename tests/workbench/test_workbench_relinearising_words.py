"""What relinearising says of its limits reads unlike them."""

from types import SimpleNamespace

from strikeoff.workbench.relinearising import _weaker


def test_a_solid_just_below_its_limit_does_not_read_like_it():
    said = _weaker(SimpleNamespace(ink="M", reached=0.97964))
    assert (said.found, said.expected) == ("97.96 % of its tone", "98 % or more")
