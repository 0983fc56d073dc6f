"""The whole job once, through the installed program, judged by readers that we did not write."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import tifffile
from scipy import stats

_PEAK_KIB = 1536 * 1024
_RUN = """
import resource, subprocess, sys
code = subprocess.run(sys.argv[2:]).returncode
peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
open(sys.argv[1], "w").write(str(peak))
sys.exit(code)
"""


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    program = Path(sys.executable).with_name("strikeoff")
    command = [program, "demo", "--out", folder / "out", "--json"]
    peak = folder / "peak"
    done = subprocess.run(
        [sys.executable, "-c", _RUN, peak, *command], capture_output=True, text=True, timeout=1500
    )
    assert done.returncode == 0, done.stderr[-2000:]
    document = json.loads(done.stdout)
    yield folder / "out", document, int(peak.read_text())
    shutil.rmtree(folder, ignore_errors=True)


def test_every_file_is_there_under_its_digest(demo):
    folder, document, _ = demo
    assert document["status"] == "ok"
    for row in document["outputs"]:
        data = hashlib.sha256()
        with open(row["path"], "rb") as stream:
            while piece := stream.read(1 << 20):
                data.update(piece)
        assert row["sha256"].removeprefix("sha256:") == data.hexdigest(), row["path"]
    assert (folder / "index.html").exists()


def test_results_are_those_that_the_page_of_contracts_names(demo):
    page = (Path(__file__).parents[2] / "docs" / "contracts.md").read_text(encoding="utf-8")
    section = page.split("### `strikeoff demo`")[1].split("\n## ")[0].split("| Result |")[1]
    names = {
        name for row in section.splitlines()[2:] for name in re.findall(r"`(\w+)`", row[: row.find("|", 1)])
    }
    assert set(demo[1]["results"]) == names


def test_artwork_is_the_same_bytes_at_another_time(demo, tmp_path):
    from strikeoff.workbench.demo import _write_artwork

    _write_artwork(tmp_path / "again.tif")
    assert (tmp_path / "again.tif").read_bytes() == (demo[0] / "artwork" / "night-meadow.tif").read_bytes()


def test_peak_memory_stays_below_one_and_a_half_gib(demo):
    assert demo[2] < _PEAK_KIB


def test_held_out_error_beats_interpolation(demo):
    """Cubic radial-basis interpolation of the same readings: 0.53 mean, 1.03 at 95 % (own run, scipy)."""
    figures = {row["group"]: row for row in demo[1]["results"]["condition"]["held_out"]}
    assert figures["all"]["mean_de00"] <= 0.53
    assert figures["all"]["p95_de00"] <= 1.03


def test_verdicts_tell_good_from_bad(demo):
    results = demo[1]["results"]
    assert results["verdict_start"] in ("pass", "undecided")
    assert results["verdict_end"] == "fail"


def lots_of(path, direction):
    """Change of every specimen [%], lots by specimens, read without the program."""
    pairs = {}
    with path.open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            if row["direction"] == direction:
                change = 100 * (float(row["finished_mm"]) / float(row["file_mm"]) - 1)
                pairs.setdefault(row["lot"], {}).setdefault(row["specimen"], []).append(change)
    return np.array([[np.mean(marks) for marks in lot.values()] for lot in pairs.values()])


def new_piece(changes):
    """90 % interval of a new specimen of a new lot: balanced one-way random effects, Student.

    Its variance is M (1 + 1/lots) + W (1 - 1/specimens), M that of the lots' means, W that inside lots;
    freedom by F. E. Satterthwaite, Biometrics Bull. 2 (1946), 110-114.
    """
    lots, specimens = changes.shape
    parts = [
        (1 + 1 / lots) * changes.mean(axis=1).var(ddof=1),
        (1 - 1 / specimens) * changes.var(axis=1, ddof=1).mean(),
    ]
    freedom = sum(parts) ** 2 / (parts[0] ** 2 / (lots - 1) + parts[1] ** 2 / (lots * (specimens - 1)))
    return stats.t.interval(0.9, freedom, loc=changes.mean(), scale=sum(parts) ** 0.5)


@pytest.mark.parametrize(("direction", "truth"), [("warp", -5.5), ("weft", -3.0)])
def test_change_is_measured_and_near_the_hidden_truth(demo, direction, truth):
    """Truth of the invented cotton satin: 5.5 % shrinkage along, 3.0 % across."""
    changes = lots_of(demo[0] / "finishing" / "grids.csv", direction)
    found = demo[1]["results"]["finishing"][direction]
    assert (found["lots"], found["specimens"]) == (len(changes), changes.size)
    assert found["change_percent"] == pytest.approx(changes.mean(), abs=1e-9)
    assert found["interval_90_percent"] == pytest.approx(list(new_piece(changes)), abs=1e-6)
    # Readings, not the truth itself, but the truth is within what they leave open.
    assert abs(changes.mean() - truth) > 1e-3
    low, high = stats.t.interval(
        0.95, len(changes) - 1, loc=changes.mean(), scale=stats.sem(changes.mean(axis=1))
    )
    assert low < truth < high


def test_spread_is_carried_into_the_size_of_a_repeat(demo):
    folder, document, _ = demo
    risk = document["results"]["risk"]
    for axis, (name, direction) in enumerate((("width", "weft"), ("length", "warp"))):
        changes = lots_of(folder / "finishing" / "grids.csv", direction)
        printed = 640 / (1 + changes.mean() / 100)
        assert risk["printed_mm"][axis] == pytest.approx(printed, abs=1e-3)
        ends = [printed * (1 + percent / 100) - 640 for percent in new_piece(changes)]
        # Drawn variances against Satterthwaite's single freedom.
        assert [risk["risks"][name][end] for end in ("low_mm", "high_mm")] == pytest.approx(ends, rel=0.1)
    assert risk["snapping_error_mm"] == [0, 0]


def test_roll_has_the_finished_size_and_repeats(demo):
    """ISO 5077 sign: printed = 640 mm / (1 + change/100), the change as the grids tell it."""
    folder, document, _ = demo
    roll = document["results"]["roll"]
    for axis, direction in enumerate(("weft", "warp")):
        factor = 1 + lots_of(folder / "finishing" / "grids.csv", direction).mean() / 100
        # A half-drop repeat is a whole number of pairs of press pixels along, of pixels across.
        assert roll["printed_mm"][axis] == pytest.approx(640 / factor, abs=0.0424)
        assert roll["finished_mm"][axis] == pytest.approx(roll["printed_mm"][axis] * factor, abs=1e-4)
    with tifffile.TiffFile(folder / "planes" / "night-meadow-roll.tif") as file:
        page = file.pages[0]
        assert page.shape == (round(3000 / 25.4 * 600), round(1400 / 25.4 * 600), 4)
        rows = page.rowsperstrip
        offsets = np.array(page.dataoffsets)
        width, height = roll["repeat_px"]
        first = roll["leader_px"] // rows
        assert (roll["leader_px"] % rows, height % rows) == (0, 0)
        # The second period is the first one's strips, stored once.
        count = height // rows
        assert (offsets[first : first + count] == offsets[first + count : first + 2 * count]).all()
        # Half-drop: a column's neighbour shows the same tile half a height further on.
        strip = page.decode(_bytes(page, first), first)[0].reshape(rows, page.imagewidth, 4)
        below = first + height // 2 // rows
        other = np.concatenate(
            [
                page.decode(_bytes(page, below + i), below + i)[0].reshape(rows, page.imagewidth, 4)
                for i in (0, 1)
            ]
        )
        left = roll["first_column_px"]
        shift = height // 2 - (height // 2 // rows) * rows
        assert (
            strip[:, left : left + width] == other[shift : shift + rows, left + width : left + 2 * width]
        ).all()


def test_drops_read_alike_by_two_libraries_and_hold_the_tone(demo, tmp_path):
    folder, document, _ = demo
    path = folder / "planes" / "night-meadow-drops.tif"
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        assert page.bitspersample == 1
        assert page.samplesperpixel == 4
        assert page.tags["InkSet"].value in (1, 2)
        per_plane = len(page.dataoffsets) // 4
        ones, samples = np.zeros(4), 0
        roll = document["results"]["roll"]
        first = roll["leader_px"] // page.rowsperstrip + 1
        for strip in range(first, first + 40):
            for ink in range(4):
                index = ink * per_plane + strip
                bits = page.decode(_bytes(page, index), index)[0]
                ones[ink] += bits.sum()
            samples += bits.size
    if shutil.which("tiffinfo"):
        done = subprocess.run(["tiffinfo", path], capture_output=True, text=True, check=False)
        assert done.returncode == 0
        assert "Bits/Sample: 1" in done.stdout
        assert "Warning" not in done.stderr
    assert samples > 0
    mean = ones / samples
    assert ((mean > 0.05) & (mean < 0.95)).all()


def _bytes(page, index):
    stream = page.parent.filehandle
    stream.seek(page.dataoffsets[index])
    return stream.read(page.databytecounts[index])


def test_profiles_load_in_a_foreign_engine(demo):
    from PIL import ImageCms

    for version in (2, 4):
        data = (demo[0] / "condition" / f"measured-cmyk-v{version}.icc").read_bytes()
        assert ImageCms.getOpenProfile(BytesIO(data)).profile.version == pytest.approx(version, abs=0.5)


def test_page_shows_every_part_with_its_label(demo):
    text = (demo[0] / "index.html").read_text(encoding="utf-8")
    wanted = (
        "finished size",
        "What finishing does to sizes",
        "90 % within",
        "Off by snapping",
        "Tone curves",
        "Gamut",
        "Neutral axis",
        "Black curve",
        "Ink use",
        "ml/m",
        "The roll",
    )
    assert [word for word in wanted if word not in text] == []
    assert "not yet shown on cloth" in text
    assert len(re.findall(r'class="badge badge-(?:measured|simulated)', text)) >= 9
    assert not re.search(r'(?:src|href)="https?://', text)


@pytest.mark.debian
def test_page_in_a_real_browser(demo, tmp_path):
    browser = shutil.which("chromium")
    if browser is None:
        pytest.skip("Debian's chromium is not installed")
    flags = "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-sync"
    flags += " --disable-background-networking --disable-component-update --virtual-time-budget=5000"
    script = (
        "<script>addEventListener('load',()=>{const i=[...document.images];"
        "document.body.dataset.seen=i.every(x=>x.naturalWidth>100)+' '"
        "+document.querySelectorAll('svg').length"
        "+' '+(document.documentElement.scrollWidth<=innerWidth)})</script>"
    )
    page = tmp_path / "page.html"
    html = (demo[0] / "index.html").read_text(encoding="utf-8")
    page.write_text(html.replace("</body>", script + "</body>"), encoding="utf-8")
    done = subprocess.run(
        [browser, *flags.split(), f"--user-data-dir={tmp_path / 'user'}", "--dump-dom", page.as_uri()],
        capture_output=True,
        text=True,
        timeout=180,
        env={**os.environ, "HOME": str(tmp_path)},
    )
    seen = re.search(r'data-seen="(\w+) (\d+) (\w+)"', done.stdout)
    assert seen is not None, done.stderr[-500:]
    assert seen[1] == "true"
    assert int(seen[2]) >= 8
    assert seen[3] == "true"
