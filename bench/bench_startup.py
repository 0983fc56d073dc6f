"""How long a person waits before anything happens: start of the interpreter, imports, help."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from typing import Any


def run() -> list[dict[str, Any]]:
    """Return seconds of each start, best of five, in fresh processes."""
    program = str(Path(sys.executable).with_name("strikeoff"))
    starts = {
        "bare interpreter": [sys.executable, "-c", "pass"],
        "import strikeoff": [sys.executable, "-c", "import strikeoff"],
        "strikeoff --help": [program, "--help"],
        "import strikeoff.workbench": [sys.executable, "-c", "import strikeoff.workbench"],
    }
    return [
        {"bench": "startup", "method": name, "seconds": round(_best(words), 3)}
        for name, words in starts.items()
    ]


def _best(words: list[str], times: int = 5) -> float:
    found = []
    for _ in range(times):
        start = time.perf_counter()
        subprocess.run(words, check=True, stdout=subprocess.DEVNULL)
        found.append(time.perf_counter() - start)
    return min(found)
