"""Pictures are written as what their names say."""

import pytest

from strikeoff import workbench
from strikeoff.base.errors import UsageError


def test_a_picture_of_another_kind_is_refused_before_anything_is_read_or_written(tmp_path):
    """An SVG drawing under a name that ends in .png opens nowhere."""
    ramps, out, plot = tmp_path / "ramps.txt", tmp_path / "out", tmp_path / "r.png"
    for make, given in (
        (workbench.find_ink_limits, {}),
        (workbench.find_total_ink, {"limits": tmp_path / "l.toml"}),
        (workbench.make_tone_curves, {"limits": tmp_path / "l.toml"}),
    ):
        with pytest.raises(UsageError, match="no picture of this kind"):
            make(ramps, out, plot=plot, **given)
    assert not out.exists()
