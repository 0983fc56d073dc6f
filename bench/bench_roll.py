"""A repeat to a roll to drops, through the use cases, in a process of its own."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from bench.data import Case
from strikeoff.condition.archive import write_condition

_WORK = """
import json, sys, time
from pathlib import Path
from PIL import Image
from strikeoff.artwork.motif import draw_repeat
from strikeoff.workbench.artwork import separate
from strikeoff.workbench.rolls import compose_roll, screen_roll
folder = Path(sys.argv[1])
Image.fromarray(draw_repeat()).save(folder / "repeat.png")
spent = {}
def timed(name, work):
    start = time.perf_counter()
    work()
    spent[name] = time.perf_counter() - start
timed("separate the repeat, 2520 x 2520", lambda: separate(
    folder / "condition", folder / "repeat.png", folder / "planes.tif", dpi=100))
timed("compose 1400 x 3000 mm at 600 x 600 dpi", lambda: compose_roll(
    folder / "planes.tif", folder / "roll.tif", repeat="half-drop", finished=(640, 640),
    warp=-5.5, weft=-3.0, width=1400, length=3000, dpi=(600, 600)))
timed("screen it to 1 bit", lambda: screen_roll(folder / "roll.tif", folder / "drops.tif"))
# Not getrusage: that starts from the peak of the process that forked this one.
status = Path("/proc/self/status").read_text().split("VmHWM:")[1]
peak = int(status.split()[0]) / 1024
print(json.dumps({"spent": spent, "peak": peak}))
"""


def run(case: Case) -> list[dict[str, Any]]:
    """Return seconds of each stage and the peak memory of the process."""
    with tempfile.TemporaryDirectory() as folder:
        write_condition(Path(folder) / "condition", case.condition)
        done = subprocess.run(
            [sys.executable, "-c", _WORK, folder], check=True, capture_output=True, text=True
        )
    found = json.loads(done.stdout.strip().splitlines()[-1])
    rows = [{"stage": name, "found": f"{seconds:.1f} s"} for name, seconds in found["spent"].items()]
    return [*rows, {"stage": "peak memory of these three", "found": f"{found['peak']:.0f} MiB"}]


def peak_mib() -> float:
    """Return the peak memory of this process in MiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
