"""Runs of the installed program, and small files for it that owe nothing to the package."""

import io
import json
import os
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np

from strikeoff.cli.cancel import Cancel
from strikeoff.cli.run import run

PROGRAM = str(Path(sys.executable).with_name("strikeoff"))
TIMEOUT_S = 900
LAB = "LAB_L LAB_A LAB_B"
CMYK = "CMYK_C CMYK_M CMYK_Y CMYK_K"


@dataclass(frozen=True)
class Done:
    """How a run of the program ended."""

    code: int
    out: str
    err: str

    @property
    def document(self):
        return json.loads(self.out)


def call(*words, cwd=None, **options):
    """Run the installed program."""
    done = subprocess.run(
        [PROGRAM, *map(str, words)],
        capture_output=True,
        text=True,
        timeout=TIMEOUT_S,
        cwd=cwd,
        stdin=subprocess.DEVNULL,
        env={**os.environ, "PYTHONWARNINGS": ""},
        **options,
    )
    return Done(done.returncode, done.stdout, done.stderr)


class Undisturbed(Cancel):
    """Leaves the test process's own signals alone."""

    def settle(self):
        pass


def inside(*words):
    """Run the same in this process: no start-up, the same answer."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = run([str(word) for word in words], Undisturbed())
    return Done(code, out.getvalue(), err.getvalue())


def ink_lab(coverages):
    """Lab of invented inks: each takes its share of red, green and blue light (no source: a stand-in)."""
    density = np.array([[1.25, 0.35, 0.12], [0.18, 1.30, 0.55], [0.03, 0.12, 1.05], [1.45, 1.45, 1.45]])
    light = 0.86 * 10.0 ** -(np.asarray(coverages, float) ** 1.15 @ density)
    xyz = light @ np.array([[0.4523, 0.2225, 0.0169], [0.3994, 0.7169, 0.1177], [0.1483, 0.0606, 0.8654]])
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=1)


def recipes(steps=(0.0, 0.5, 1.0), most=3.4):
    """A grid of the inks under a limit, with ramps and greys between: about 115 patches at three steps."""
    rows = [r for r in product(steps, repeat=4) if sum(r) <= most]
    for ink, amount in product(range(4), (0.1, 0.25, 0.4, 0.7, 0.85)):
        rows.append(tuple(amount if i == ink else 0.0 for i in range(4)))
    rows += [(c, 0.8 * c, 0.8 * c, k) for c in (0.2, 0.35, 0.7) for k in (0.0, 0.2, 0.6, 0.9)]
    return np.array(sorted(set(rows)))


def chart_text(coverages, *, names=CMYK, lab=None, fields=LAB):
    """An ISO 28178 text, written here by hand."""
    lab = ink_lab(coverages) if lab is None else lab
    columns = ["SAMPLE_ID", *names.split(), *fields.split()]
    lines = ["ISO28178", 'ORIGINATOR "a test"', 'ILLUMINATION_NAME "D50"', 'OBSERVER_ANGLE "2"']
    lines += [f"NUMBER_OF_FIELDS {len(columns)}", "BEGIN_DATA_FORMAT", " ".join(columns), "END_DATA_FORMAT"]
    lines += [f"NUMBER_OF_SETS {len(coverages)}", "BEGIN_DATA"]
    for number, (inks, colour) in enumerate(zip(coverages, lab, strict=True), 1):
        values = [*(f"{100 * v:.4f}" for v in inks), *(f"{v:.4f}" for v in colour)]
        lines.append(" ".join([f"P{number}", *values]))
    return "\n".join([*lines, "END_DATA", ""])


ROLL = "--repeat half-drop --finished 60x40 --warp -5.5 --weft -3.0 --width 260 --length 400 --dpi 100x120"
