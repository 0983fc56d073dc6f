"""Sizes, names and files of the demo."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

TOTAL_INK_PERCENT = 300.0
ARTWORK_PX = 2520
FINISHED_MM = (640.0, 640.0)
ROLL_MM = (1400.0, 3000.0)
PRINTER, FABRIC = "T1", "cotton satin"
READINGS_PER_PATCH = 8


@dataclass(frozen=True)
class DemoRun:
    """Where everything lies, and what each step found."""

    folder: Path
    results: Mapping[str, dict[str, Any]]

    def path(self, name: str) -> Path:
        """Return the path of a file of the demo."""
        return self.folder / FILES[name]


#: Files of the demo, by the name that the page uses.
FILES = {
    "readings": "readings/measured-cmyk.txt",
    "goods": "condition/goods.toml",
    "condition": "condition/measured-cmyk.cond",
    "profile v2": "condition/measured-cmyk-v2.icc",
    "profile v4": "condition/measured-cmyk-v4.icc",
    "grids": "finishing/grids.csv",
    "grids drawing": "finishing/grids.svg",
    "artwork": "artwork/night-meadow.tif",
    "planes": "planes/night-meadow-planes.tif",
    "roll": "planes/night-meadow-roll.tif",
    "drops": "planes/night-meadow-drops.tif",
    "drawing": "planes/night-meadow-roll.svg",
    "strip": "proof/strip-reference.txt",
    "strip start": "proof/strip-start.txt",
    "strip end": "proof/strip-end.txt",
    "roll grids": "proof/finishing-grids.csv",
    "verdict start": "proof/verdict-start.json",
    "verdict end": "proof/verdict-end.json",
    "preview": "preview/cloth.png",
    "close-up": "preview/drops.png",
}
