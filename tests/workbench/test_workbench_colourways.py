"""Palettes through the workbench and the command line."""

from __future__ import annotations

from pathlib import Path

import flat_drawings
import numpy as np
import pytest
from PIL import Image

from strikeoff import workbench
from strikeoff.base.errors import InputError

COLOURS = ((250, 240, 220), (180, 30, 40), (20, 60, 120))


@pytest.fixture
def stripes(tmp_path: Path) -> Path:
    codes = np.empty((40, 80, 3), np.uint8)
    codes[:, :40], codes[:, 40:64], codes[:, 64:] = COLOURS
    Image.fromarray(codes).save(tmp_path / "stripes.png")
    return tmp_path / "stripes.png"


def test_colours_come_largest_first_with_their_shares(stripes: Path, tmp_path: Path) -> None:
    result = workbench.artwork_palette(stripes, tmp_path / "palette.toml")
    found = result.results["colours"]
    assert [c["hex"] for c in found] == ["#" + bytes(c).hex() for c in COLOURS]
    assert [c["share"] for c in found] == pytest.approx([0.5, 0.3, 0.2], abs=1e-4)
    assert result.results["is_sure"]
    assert all(c["is_sure"] for c in found)
    assert not [p for p in result.problems if p.where == "palette"]
    assert (tmp_path / "palette.toml").read_text().count("[[colour]]") == 3


def test_noise_is_refused(tmp_path: Path) -> None:
    Image.fromarray(np.random.default_rng(0).integers(0, 256, (40, 40, 3), np.uint8)).save(tmp_path / "n.png")
    with pytest.raises(InputError, match="not flat"):
        workbench.artwork_palette(tmp_path / "n.png", tmp_path / "p.toml")
    assert not (tmp_path / "p.toml").exists()


def test_doubts_are_told_and_written_into_the_file(tmp_path: Path) -> None:
    """What is not sure is marked, what is unlikely is proposed in comments."""
    pixels, *_ = flat_drawings.draw(7, "jpeg 75", (150, 180))
    Image.fromarray(pixels).save(tmp_path / "a.png")
    result = workbench.artwork_palette(tmp_path / "a.png", tmp_path / "p.toml")
    assert not result.results["is_sure"]
    assert any("--colours" in (p.advice or "") for p in result.problems)
    text = (tmp_path / "p.toml").read_text()
    assert "lossy compression" in text
    assert text.count("# [[colour]]") == len(result.results["maybe"]) > 0
    few = workbench.artwork_palette(tmp_path / "a.png", tmp_path / "p.toml", colours=3)
    assert len(few.results["colours"]) == 3


def test_cmyk_without_a_profile_has_no_known_colour(stripes: Path, tmp_path: Path) -> None:
    Image.open(stripes).convert("CMYK").save(tmp_path / "c.tif")
    with pytest.raises(InputError, match="no known colour"):
        workbench.artwork_palette(tmp_path / "c.tif", tmp_path / "p.toml")
