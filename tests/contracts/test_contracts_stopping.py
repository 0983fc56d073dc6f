"""Ctrl-C, full disks and readers that go away, with the installed program."""

import json
import os
import resource
import signal
import subprocess
import time
from pathlib import Path

import numpy as np
import pytest
from contracts_program import PROGRAM, call, chart_text, recipes

WAIT_S = 60
# A busy machine may need longer to start than any of these: then the stop falls into the imports.
DELAYS_S = (0.0, 0.15, 1.0, 6.0)
LIMIT_BYTES = 20_000


@pytest.fixture
def work(tmp_path):
    (tmp_path / "chart.txt").write_text(chart_text(recipes((0.0, 0.3, 0.6, 1.0))))
    (tmp_path / "old.cond").write_bytes(b"an older condition")
    return tmp_path


def listing(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def listens(pid):
    """Whether the process catches SIGTERM, which only our handler does."""
    status = Path(f"/proc/{pid}/status").read_text()
    caught = int(status.split("SigCgt:")[1].split()[0], 16)
    return bool(caught >> (signal.SIGTERM - 1) & 1)


def stopped(words, folder, delay_s, number):
    """Start the program, send it a signal after a while, return (exit code, stdout, stderr)."""
    with subprocess.Popen(
        [PROGRAM, *words], cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        start = time.monotonic()
        while not listens(process.pid) and time.monotonic() - start < WAIT_S:
            time.sleep(0.002)
        time.sleep(delay_s)
        process.send_signal(number)
        out, err = process.communicate(timeout=WAIT_S)
    return process.returncode, out, err


@pytest.mark.skipif(not Path("/proc/self/status").is_file(), reason="needs Linux's /proc to time the signal")
@pytest.mark.parametrize("delay_s", DELAYS_S)
@pytest.mark.parametrize("as_json", [False, True])
def test_a_build_that_is_stopped_leaves_nothing(work, delay_s, as_json):
    before = listing(work)
    words = ["condition", "build", "--readings", "chart.txt", "--out", "old.cond", "--quiet"]
    number = signal.SIGTERM if as_json else signal.SIGINT
    code, out, err = stopped([*words, *(["--json"] if as_json else [])], work, delay_s, number)
    assert code == 130, err
    assert listing(work) == before
    assert "Traceback" not in err
    if as_json:
        assert err == ""
        document = json.loads(out)
        assert document["status"] == "error"
        assert [problem["kind"] for problem in document["problems"]] == ["cancelled"]
    else:
        assert (out, err) == ("", "error: cancelled. No half-written file is left\n")


def small_files():
    """Let no file grow past a limit: to the program that is a full disk."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (LIMIT_BYTES, LIMIT_BYTES))


@pytest.mark.parametrize("as_json", [False, True])
def test_a_disk_that_fills_up(condition, planes, work, as_json):
    (work / "old.icc").write_bytes(b"an older profile")
    before = listing(work)
    words = ["profile", "write", condition, "--out", work / "old.icc", *(["--json"] if as_json else [])]
    done = call(*words, preexec_fn=small_files)
    assert done.code == 6, done.err
    assert listing(work) == before
    if as_json:
        assert [problem["kind"] for problem in done.document["problems"]] == ["storage"]
    else:
        assert done.err.count("\n") == 1
        assert "old.icc" in done.err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs Linux's /dev/full")
@pytest.mark.parametrize("words", [["--help"], ["--help", "--json"], ["frob", "--json"]])
def test_a_full_disk_under_standard_output(words):
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [PROGRAM, *words], stdout=full, stderr=subprocess.PIPE, text=True, timeout=WAIT_S
        )
    assert done.returncode == (2 if "frob" in words else 6)
    assert done.stderr.startswith("error: standard output: disk is full")
    assert "Traceback" not in done.stderr


def test_a_reader_that_goes_away_is_no_fault():
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [PROGRAM, "--help"], stdout=write, stderr=subprocess.PIPE, text=True, timeout=WAIT_S
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("stream", ["stdout", "stderr"])
def test_a_closed_stream_is_no_fault(stream):
    """Started as ``strikeoff frob >&-``: the exit code still says what happened."""
    number = {"stdout": 1, "stderr": 2}[stream]
    done = subprocess.run(
        [PROGRAM, "frob"], capture_output=True, text=True, timeout=WAIT_S, preexec_fn=lambda: os.close(number)
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr + done.stdout


@pytest.mark.skipif(not Path("/proc/self/status").is_file(), reason="needs Linux's /proc to time the signal")
def test_recolouring_that_is_stopped_leaves_nothing(condition, tmp_path):
    """The signal comes when the scratch file is open: it vanishes too."""
    import numpy as np
    from PIL import Image

    pixels = np.full((6000, 1500, 3), 255, np.uint8)
    pixels[:, ::7] = (20, 60, 120)
    Image.fromarray(pixels).save(tmp_path / "a.png")
    (tmp_path / "p.toml").write_text(
        'schema = "strikeoff/palette/2"\nmixing = "linear"\nnoise_percent = 0.2\n'
        '[[colour]]\nname = "a"\nhex = "#ffffff"\n[[colour]]\nname = "b"\nhex = "#143c78"\n'
    )
    (tmp_path / "way.csv").write_text("from,to\nb,#506070\n")
    before = listing(tmp_path)
    words = ["artwork", "recolour", "a.png", "p.toml", "way.csv", "--condition", condition, "--out", "."]
    with subprocess.Popen(
        [PROGRAM, *words, "--quiet"], cwd=tmp_path, stderr=subprocess.PIPE, text=True
    ) as process:
        start = time.monotonic()
        while not scratch_open(process.pid, tmp_path) and time.monotonic() - start < WAIT_S:
            time.sleep(0.002)
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=WAIT_S)
    assert (process.returncode, err) == (130, "error: cancelled. No half-written file is left\n")
    assert listing(tmp_path) == before


def scratch_open(pid, folder):
    """Whether the process holds a nameless file in a folder."""
    for link in Path(f"/proc/{pid}/fd").glob("*"):
        try:
            target = str(link.readlink())
        except OSError:
            continue
        if target.startswith(str(folder)) and target.endswith("(deleted)"):
            return True
    return False


@pytest.mark.skipif(not Path("/proc/self/status").is_file(), reason="needs Linux's /proc to time the signal")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize(
    ("target", "waits_for"), [("--out", "scratch"), ("--out", "part"), ("--drops", "part")]
)
def test_laying_that_is_stopped_leaves_nothing(planes, tmp_path, number, target, waits_for):
    """The signal comes while turned artwork stands in its nameless file, or while the roll is written."""
    piece = {"code": "A", "x_mm": 0, "y_mm": 0, "width_mm": 600, "height_mm": 900, "turn_degrees": 90}
    cloth = {"code": "B", "x_mm": 610, "y_mm": 0, "width_mm": 300, "height_mm": 9000}
    pieces = [piece, cloth | {"repeat": {"size_mm": [64, 48], "kind": "half-drop"}}]
    record = {"schema": "strikeoff/layout/1", "width_mm": 1000, "margin_mm": 10, "warp_percent": -5,
              "weft_percent": -3, "placements": pieces}  # fmt: skip
    (tmp_path / "l.json").write_text(json.dumps(record))
    (tmp_path / "roll.tif").write_bytes(b"an older roll")
    before = listing(tmp_path)
    words = ["roll", "lay", "l.json", "--planes", planes, "--dpi", "720", target, "roll.tif"]
    words += ["--json"] if number == signal.SIGTERM else ["--quiet"]
    with subprocess.Popen(
        [PROGRAM, *words], cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        start = time.monotonic()
        while time.monotonic() - start < WAIT_S and process.poll() is None:
            if waits_for == "scratch" and scratch_open(process.pid, tmp_path):
                break
            if waits_for == "part" and any(p.stat().st_size for p in tmp_path.glob(".roll.tif.*.part")):
                break
            time.sleep(0.002)
        process.send_signal(number)
        out, err = process.communicate(timeout=WAIT_S)
    assert process.returncode == 130, err
    assert listing(tmp_path) == before
    if number == signal.SIGTERM:
        assert [problem["kind"] for problem in json.loads(out)["problems"]] == ["cancelled"]
    else:
        assert (out, err) == ("", "error: cancelled. No half-written file is left\n")


def many_inks(rows=700, inks=12):
    """Recipes of a few of 12 inks each that leave a share of each band; the refits take minutes."""
    rng = np.random.default_rng(0)
    recipes = rng.random((rows, inks)) * (rng.random((rows, inks)) < 0.25)
    recipes[0] = 0
    recipes[1 : inks + 1] = np.eye(inks)
    left = rng.uniform(0.2, 0.9, (inks, 31))
    bands = 0.85 * np.prod(1.0 - recipes[:, :, None] * (1.0 - left), axis=1)
    bands *= rng.normal(1.0, 0.005, bands.shape)
    fields = [f"{inks:X}CLR_{i + 1}" for i in range(inks)]
    fields += [f"SPECTRAL_NM{nm}" for nm in range(400, 701, 10)]
    lines = ["ISO28178", 'MEASUREMENT_SOURCE "MeasurementCondition=M1"']
    lines += [f"NUMBER_OF_FIELDS {len(fields) + 1}", "BEGIN_DATA_FORMAT", " ".join(["SAMPLE_ID", *fields])]
    lines += ["END_DATA_FORMAT", f"NUMBER_OF_SETS {rows}", "BEGIN_DATA"]
    for number, row in enumerate(np.hstack([recipes * 100, bands]), 1):
        lines.append(" ".join([str(number), *(f"{value:.5f}" for value in row)]))
    return "\n".join([*lines, "END_DATA"]) + "\n"


def test_refits_of_many_inks_are_not_waited_for(tmp_path):
    """The signal comes two seconds into the refits that judge the model."""
    (tmp_path / "chart.txt").write_text(many_inks())
    (tmp_path / "old.cond").write_bytes(b"an older condition")
    before = listing(tmp_path)
    words = ["condition", "build", "--readings", "chart.txt", "--total-ink", "280", "--out", "old.cond"]
    with subprocess.Popen([PROGRAM, *words], cwd=tmp_path, stderr=subprocess.PIPE, text=True) as process:
        for line in process.stderr:
            if line.startswith("validate the model"):
                break
        time.sleep(2.0)
        start = time.monotonic()
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=WAIT_S)
        # Within two seconds where the program has a processor to itself.
        assert time.monotonic() - start < 8.0
    assert process.returncode == 130
    assert err.endswith("error: cancelled. No half-written file is left\n")
    assert listing(tmp_path) == before
