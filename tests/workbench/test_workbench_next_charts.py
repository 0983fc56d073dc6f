"""What is told of patches that a condition asks for."""

import numpy as np
import pytest

from strikeoff.qualify.next_patches import Proposal
from strikeoff.workbench.next_charts import _hardly_worth


@pytest.mark.parametrize(
    ("count", "last", "stopped_by", "told"),
    [
        (40, 0.31, "patches", True),
        (40, 0.20, "patches", False),
        (50, 0.31, "patches", False),
        (10, 0.31, "target", False),
    ],
)
def test_fewer_patches_than_a_block_are_held_to_what_a_block_must_gain(count, last, stopped_by, told):
    """Rounds of 40 would else go on for ever: the rule that stops looks at 50 patches."""
    proposal = Proposal(np.zeros((count, 4)), np.linspace(0.35, last, count + 1), stopped_by)
    found = _hardly_worth(proposal)
    assert len(found) == int(told)
    if told:
        assert found[0].found == "40 patches gain 0.04 CIEDE2000"
