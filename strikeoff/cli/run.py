"""From the words typed to the exit code: read, do, show."""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence
from contextlib import redirect_stdout
from typing import TYPE_CHECKING

from strikeoff.base.errors import EXIT_FAIL, EXIT_OK, EXIT_UNDECIDED, StorageError, exit_code
from strikeoff.base.today import today
from strikeoff.cli.call import Call, read_call
from strikeoff.cli.cancel import Cancel
from strikeoff.cli.faults import keep_traceback, plain_error
from strikeoff.cli.progress import TerminalProgress
from strikeoff.cli.show import (
    document,
    result_lines,
    show_error,
    show_problems,
    write_line,
    write_standard_output,
)

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result

#: Outcome to (status in the JSON document, exit code).
OUTCOMES = {
    "done": ("ok", EXIT_OK),
    "pass": ("ok", EXIT_OK),
    "fail": ("fail", EXIT_FAIL),
    "undecided": ("undecided", EXIT_UNDECIDED),
}


def run(words: Sequence[str], cancel: Cancel) -> int:
    """Do what was typed and return the exit code.

    Parameters
    ----------
    words : sequence of str
        The words after the program's name.
    cancel : Cancel
        Asked whether to stop.

    Returns
    -------
    int
        Exit code; see `strikeoff.base.errors.EXIT_CODES`.
    """
    call = read_call(words)
    bar = TerminalProgress(
        None if call.quiet else sys.stderr,
        cancel,
        is_terminal=sys.stderr is not None and sys.stderr.isatty(),
    )
    call.progress = bar
    try:
        cancel.check()
        # Libraries below read the day that is set as well, and do not say what is wrong with it.
        today()
        answer = _answer(call)
        text = _text(answer, call)
        cancel.settle()
        bar.close()
    except BaseException as fault:
        cancel.settle()
        bar.close()
        error = plain_error(fault, cancelled=cancel.requested)
        keep_traceback(fault, call)
        show_error(error, call)
        return exit_code(error)
    if not isinstance(answer, str) and not call.as_json:
        show_problems(answer.problems, call)
    try:
        write_standard_output(text)
    except StorageError as error:
        write_line(sys.stderr, f"error: {error}")
        return exit_code(error)
    return EXIT_OK if isinstance(answer, str) else OUTCOMES[answer.outcome][1]


def _answer(call: Call) -> Result | str:
    """Return the result of a command, or the text that was asked for (help, version)."""
    printed = io.StringIO()
    from strikeoff.cli.program import invoke

    # Nothing but the answer may reach standard output, whatever the libraries below print.
    with redirect_stdout(printed):
        result = invoke(call)
    return printed.getvalue() if result is None else result


def _text(answer: Result | str, call: Call) -> str:
    """Return what goes to standard output."""
    if isinstance(answer, str):
        return document(call.schema, "ok", results={"text": answer}) if call.as_json else answer
    if not call.as_json:
        return result_lines(answer.lines, answer.outputs)
    return document(
        call.schema,
        OUTCOMES[answer.outcome][0],
        results=answer.results,
        problems=[problem.as_record() for problem in answer.problems],
        outputs=answer.outputs,
    )
