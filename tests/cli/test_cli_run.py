"""The command line in this process, with use cases that a test makes up."""

import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

import strikeoff
from strikeoff import workbench
from strikeoff.base.errors import InputError, RangeError, StorageError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.cli.cancel import Cancel
from strikeoff.cli.run import run
from strikeoff.cli.show import write_line
from strikeoff.workbench.result import Result

CHECK = ["readings", "check", "a.txt"]


class Undisturbed(Cancel):
    """Leaves the test process's own signals alone."""

    def settle(self):
        pass


@pytest.fixture
def cli(capsys, monkeypatch):
    """Run words with a stand-in for checking readings; return code, stdout, stderr."""

    def call(words, does=lambda *a, **k: Result(), cancel=None):
        monkeypatch.setattr(workbench, "check_readings", does, raising=False)
        code = run(words, cancel or Undisturbed())
        out, err = capsys.readouterr()
        return code, out, err

    return call


def raising(error):
    def use_case(*args, **options):
        raise error

    return use_case


@pytest.mark.parametrize(
    ("error", "code", "kind"),
    [
        (UsageError("wrong light"), 2, "usage"),
        (InputError("cut short", path="a.txt", where="line 3"), 3, "input"),
        (RangeError("too much"), 3, "range"),
        (StorageError("disk is full"), 6, "storage"),
        (PermissionError(13, "Permission denied", "a.txt"), 6, "storage"),
        (OSError(28, "No space left on device"), 6, "storage"),
        (ValueError("two\nlines"), 5, "internal"),
        (KeyError("x"), 5, "internal"),
        (AssertionError(), 5, "internal"),
        (MemoryError(), 5, "internal"),
        (RecursionError("deep"), 5, "internal"),
        (SystemExit(0), 5, "internal"),
        (KeyboardInterrupt(), 130, "cancelled"),
    ],
)
def test_every_error_is_one_line_and_its_code(cli, error, code, kind):
    got, out, err = cli(CHECK, raising(error))
    assert (got, out) == (code, "")
    assert err.count("\n") == 1
    assert err.startswith("error: ")
    assert "Traceback" not in err
    got, out, err = cli([*CHECK, "--json"], raising(error))
    document = json.loads(out)
    assert (got, err) == (code, "")
    assert document["schema"] == "strikeoff/readings-check/1"
    assert document["status"] == "error"
    assert [p["kind"] for p in document["problems"]] == [kind]
    assert list(document) == ["schema", "status", "results", "problems", "outputs"]


def test_internal_errors_ask_for_a_report_and_keep_details_on_request(cli, tmp_path):
    details = tmp_path / "details.txt"
    code, _, err = cli([*CHECK, "--traceback", str(details)], raising(ZeroDivisionError("oops")))
    assert code == 5
    assert "ZeroDivisionError: oops" in err
    assert "report" in err
    assert "Traceback" in details.read_text()


def test_memory_errors_give_advice(cli):
    assert "fewer pixels" in cli(CHECK, raising(MemoryError()))[2]


@pytest.mark.parametrize(
    ("outcome", "code", "status"),
    [("done", 0, "ok"), ("pass", 0, "ok"), ("fail", 1, "fail"), ("undecided", 4, "undecided")],
)
def test_outcome_decides_code_and_status(cli, outcome, code, status):
    result = Result(results={"patches": 27}, outcome=outcome, lines=("27 patches",))
    assert cli(CHECK, lambda *a, **k: result) == (code, "27 patches\n", "")
    got, out, _ = cli(["--json", *CHECK], lambda *a, **k: result)
    document = json.loads(out)
    assert (got, document["status"], document["results"]) == (code, status, {"patches": 27})


def test_outputs_carry_the_digest_of_their_bytes(cli, tmp_path):
    made = tmp_path / "é.txt"
    made.write_bytes(b"abc")
    out = cli([*CHECK, "--json"], lambda *a, **k: Result(outputs=(made,)))[1]
    # FIPS 180-2 appendix B.1: SHA-256 of "abc".
    digest = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert json.loads(out)["outputs"] == [{"path": str(made), "sha256": digest}]


def test_problems_come_worst_first_and_notes_are_quiet(cli):
    problems = (Problem("note", "file", "odd"), Problem("error", "line 2", "bad\nvalue", found="x"))
    result = Result(problems=problems)
    err = cli(CHECK, lambda *a, **k: result)[2]
    assert err == "error: line 2: bad value (found x)\nnote: file: odd\n"
    assert "note" not in cli([*CHECK, "--quiet"], lambda *a, **k: result)[2]
    many = Result(problems=(Problem("warning", "file", "odd"),) * 50)
    assert cli(CHECK, lambda *a, **k: many)[2].count("\n") == 21


def test_what_a_problem_explains_is_counted_and_kept_for_programs(cli):
    cause = Problem("warning", "lines 3 to 9", "ink is lost", advice="Clean the head")
    problems = (cause, *(Problem("warning", f"line {i}", "odd", cause=cause.title) for i in (3, 4)))
    result = Result(problems=problems)
    err = cli(CHECK, lambda *a, **k: result)[2]
    assert err == (
        "warning: lines 3 to 9: ink is lost. Clean the head. "
        "This explains 2 more messages, which --json lists\n"
    )
    document = json.loads(cli([*CHECK, "--json"], lambda *a, **k: result)[1])
    assert [p["cause"] for p in document["problems"]] == [None] + ["lines 3 to 9: ink is lost"] * 2


def test_not_a_number_is_no_result(cli):
    code, out, _ = cli([*CHECK, "--json"], lambda *a, **k: Result(results={"de00": float("nan")}))
    assert code == 5
    assert json.loads(out)["problems"][0]["kind"] == "internal"


def test_chatter_of_libraries_stays_off_standard_output(cli):
    def chatty(*args, **options):
        print("hello from below")
        return Result(lines=("1 patch",))

    assert cli(CHECK, chatty)[1] == "1 patch\n"
    assert json.loads(cli([*CHECK, "--json"], chatty)[1])["status"] == "ok"


def test_what_breaks_after_a_wish_to_stop_is_a_stop(cli):
    cancel = Undisturbed()

    def stopped(*args, **options):
        cancel.requested = True
        raise RuntimeError("a library gave up")

    code, _, err = cli(CHECK, stopped, cancel)
    assert code == 130
    assert err == "error: cancelled. No half-written file is left\n"


def test_an_early_stop_reaches_no_use_case(cli):
    cancel = Undisturbed()
    cancel.requested = True
    assert cli(CHECK, raising(AssertionError("reached")), cancel)[0] == 130


@pytest.mark.parametrize("words", [["--help"], ["roll", "--help"], ["--version"], ["demo", "--help"]])
def test_help_and_version_are_answers(cli, words):
    code, out, err = cli(words)
    assert (code, err) == (0, "")
    document = json.loads(cli([*words, "--json"])[1])
    assert document["status"] == "ok"
    assert document["results"] == {"text": out}


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "choose artwork, "),
        (["frob"], "no command 'frob'"),
        (["condition"], "choose build, "),
        (["condition", "frob"], "no command 'frob'"),
        (["readings", "check"], "Missing argument 'FILE'"),
        ([*CHECK, "more"], "unexpected extra argument"),
        ([*CHECK, "--frob"], "No such option"),
        ([*CHECK, "--ink-scale", "grams"], "'percent', 'unit', 'byte'"),
        (["readings", "check", ""], "file name is empty"),
    ],
)
def test_usage_errors(cli, words, says):
    code, out, err = cli(words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert says in err
    assert "--help'" in err
    code, out, err = cli([*words, "--json"])
    assert (code, err) == (2, "")
    assert says in json.loads(out)["problems"][0]["message"]


def test_options_reach_the_use_case(cli, monkeypatch):
    seen = {}

    def compose(planes, out, **options):
        seen.update(options, planes=planes, out=out)
        return Result()

    monkeypatch.setattr(workbench, "compose_roll", compose, raising=False)
    words = "roll compose p.tif --repeat half-drop --finished 640x320 --warp -5.5 --weft -3.0 --width 1400"
    code = cli([*words.split(), "--length", "3000", "--dpi", "600x900", "--out", "r.tif"])[0]
    assert code == 0
    assert (seen["planes"], seen["out"], seen["repeat"]) == (Path("p.tif"), Path("r.tif"), "half-drop")
    assert (seen["warp"], seen["weft"]) == (-5.5, -3.0)
    assert (seen["width"], seen["length"]) == (1400.0, 3000.0)
    assert (seen["finished"], seen["dpi"]) == ((640.0, 320.0), (600.0, 900.0))
    assert callable(seen["progress"])


def test_closed_standard_output_is_no_fault(monkeypatch):
    monkeypatch.setattr(
        workbench, "check_readings", lambda *a, **k: Result(lines=("1 patch",)), raising=False
    )
    monkeypatch.setattr(sys, "stdout", None)
    assert run(CHECK, Undisturbed()) == 0


def test_bytes_of_a_damaged_file_do_not_steer_the_terminal():
    """ECMA-48: ESC, 1/11, and CSI, 9/11, begin control functions; NUL is nothing that a person can read."""
    stream = io.StringIO()
    write_line(stream, "error: found \x1b[2J,\x00, \x9b3A,\n\tb ü")
    assert stream.getvalue() == "error: found ?[2J,?, ?3A, b ü\n"


def test_the_package_runs_as_the_program():
    done = subprocess.run(
        [sys.executable, "-m", "strikeoff", "--version"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (0, f"strikeoff {strikeoff.__version__}\n")
