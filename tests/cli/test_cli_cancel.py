"""Signals in a process of their own, sent by the process to itself at awkward places."""

import signal
import subprocess
import sys
import textwrap

import pytest

HEAD = """
import os, signal, sys, threading, time
from strikeoff.cli.cancel import Cancel
cancel = Cancel()
cancel.install()
"""


def run_code(code):
    return subprocess.run(
        [sys.executable, "-c", HEAD + textwrap.dedent(code)], capture_output=True, text=True, timeout=120
    )


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_every_request_to_stop_is_the_same_interrupt(name):
    done = run_code(f"""
        try:
            os.kill(os.getpid(), signal.{name})
            time.sleep(5)
        except KeyboardInterrupt:
            print("stopped", cancel.requested)
    """)
    assert (done.stdout, done.stderr) == ("stopped True\n", "")


def test_a_second_press_does_not_disturb_the_tidying():
    done = run_code("""
        try:
            os.kill(os.getpid(), signal.SIGINT)
            time.sleep(5)
        except KeyboardInterrupt:
            os.kill(os.getpid(), signal.SIGINT)
            time.sleep(0.1)
            print("tidied")
    """)
    assert (done.stdout, done.stderr) == ("tidied\n", "")


def test_an_interrupt_lost_in_a_finaliser_comes_back():
    done = run_code("""
        class Bad:
            def __del__(self):
                os.kill(os.getpid(), signal.SIGINT)
                time.sleep(0.01)
        try:
            Bad()
            time.sleep(5)
            print("lost")
        except KeyboardInterrupt:
            print("came back")
    """)
    assert (done.stdout, done.stderr) == ("came back\n", "")


def test_settled_means_deaf():
    done = run_code("""
        cancel.settle()
        os.kill(os.getpid(), signal.SIGINT)
        os.kill(os.getpid(), signal.SIGTERM)
        print("whole")
    """)
    assert (done.returncode, done.stdout, done.stderr) == (0, "whole\n", "")


def test_nohup_is_respected():
    done = subprocess.run(
        [sys.executable, "-c", HEAD + "os.kill(os.getpid(), signal.SIGHUP)\nprint('still here')"],
        capture_output=True,
        text=True,
        timeout=120,
        preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_IGN),
    )
    assert done.stdout == "still here\n"


def test_libraries_that_warn_or_log_stay_off_standard_error():
    code = """
        import logging, warnings
        from strikeoff import workbench
        from strikeoff.cli.main import main
        from strikeoff.workbench.result import Result

        def noisy(*args, **options):
            warnings.warn("a library is unhappy")
            logging.getLogger("library").error("and says so")
            return Result()

        workbench.check_readings = noisy
        sys.argv = ["strikeoff", "readings", "check", "a.txt"]
        main()
    """
    done = run_code(code)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
