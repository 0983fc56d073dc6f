"""Measure, print and write ``bench/results.md``."""

from __future__ import annotations

import os
import platform
import time
from pathlib import Path
from typing import Any

from bench import (
    bench_accuracy,
    bench_charts,
    bench_kernels,
    bench_link,
    bench_nesting,
    bench_roll,
    bench_screening_quality,
    bench_separation,
    bench_startup,
)
from bench.data import cases

_OUT = Path(__file__).with_name("results.md")


def main() -> None:
    begun = time.perf_counter()
    load = os.getloadavg()[0]
    text = [
        "# Results of `make bench`",
        "",
        f"{_processor()}, {os.cpu_count()} cores, Python {platform.python_version()}; "
        f"load average {load:.1f} when it began (other work slows the times, not the colours).",
        "",
    ]

    def add(title: str, rows: list[dict[str, Any]]) -> None:
        block = [f"## {title}", "", *_table(rows), ""]
        print("\n".join(block), flush=True)
        text.extend(block)

    made = cases()
    accuracy = [row for case in made for row in bench_accuracy.held_out(case)]
    add(
        "Held-out CIEDE2000: 20 % of distinct recipes, five splits; baseline: cubic radial-basis "
        "interpolation of Lab, smoothing tuned on the training part",
        accuracy,
    )
    add(
        "In-gamut colours back again, CIEDE2000",
        [row for case in made for row in bench_accuracy.round_trips(case)],
    )
    add(
        "Building a condition",
        [
            {"data": case.name, "stage": stage, "seconds": f"{seconds:.1f}"}
            for case in made
            for stage, seconds in case.seconds.items()
        ],
    )
    if made:
        add("Pixels to ink planes", bench_separation.run(made[0]))
        add(
            "Ink planes through the link against direct inversion, CIEDE2000 at 3,000 pixels of a picture",
            bench_link.run(made[0].condition),
        )
    add("RGB to seven inks, median time of a core", bench_kernels.tables())
    add("Enlarging three times to the press pitch, median", bench_kernels.resampling())
    add("Masks, seven inks, median time of a core", bench_kernels.masks())
    add("Error diffusion, median time of a core", bench_kernels.diffusion())
    add("A ramp of all tones, screened", bench_screening_quality.ramp())
    add("Drops of two inks that meet, as a part of chance", bench_screening_quality.overlaps())
    add(
        "Flat tints, screened: power below half the principal frequency (white noise 1), graininess at "
        "600 dpi and 300 mm",
        bench_screening_quality.tints(),
    )
    add("A roll of one repeat, from its planes", bench_roll.repeat())
    if made:
        add(
            "Noisy artwork that never repeats, 1.4 x 5 m, 4 inks, from disk to disk",
            bench_roll.noise(made[0]),
        )
    add(
        "Rectangles cut from a roll of known length, laid again in 10 s: gap to the shortest",
        bench_nesting.run(),
    )
    add(
        "Charts that choose, mean CIEDE2000 of readings not bought, ten seeds; by itself: "
        "`python -m bench.bench_charts`",
        bench_charts.rows(bench_charts.run()),
    )
    add("Starting, best of five", bench_startup.run())
    add(
        "This run",
        [
            {"what": "peak memory of this run", "found": f"{bench_roll.peak_mib():.0f} MiB"},
            {"what": "whole run", "found": f"{time.perf_counter() - begun:.0f} s"},
        ],
    )
    _OUT.write_text("\n".join(text).rstrip() + "\n", encoding="utf-8")


def _table(rows: list[dict[str, Any]]) -> list[str]:
    names = list(rows[0]) if rows else ["nothing to show"]
    lines = [f"| {' | '.join(names)} |", f"|{' --- |' * len(names)}"]
    return lines + [f"| {' | '.join(str(row[name]) for name in names)} |" for row in rows]


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor() or platform.machine()
    return next((line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")), "unknown")


if __name__ == "__main__":
    main()
