"""What a call leaves on standard output and standard error: lines for people or one JSON document."""

from __future__ import annotations

import json
import os
import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, TextIO

from strikeoff.base.canonical import digest_file
from strikeoff.base.errors import StorageError, StrikeoffError
from strikeoff.base.files import storage_error
from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.cli.call import Call

_MOST_PROBLEMS = 20
_MOST_OUTPUTS = 6
_RANK = {"error": 0, "warning": 1, "note": 2}
_FIELDS = ("severity", "kind", "path", "where", "message", "found", "expected", "advice", "cause")


def document(
    schema: str,
    status: str,
    *,
    results: dict[str, Any] | None = None,
    problems: Iterable[dict[str, str | None]] = (),
    outputs: Sequence[Path] = (),
) -> str:
    """Return the JSON document of a call, ending in a line end.

    Parameters
    ----------
    schema : str
        Name and number of the document.
    status : str
        ``ok``, ``fail``, ``undecided`` or ``error``.
    results : dict, optional
        What was found.
    problems : iterable of dict
        Problem and error records; fields that one lacks become null.
    outputs : sequence of Path
        Files written; each is named with the digest of its bytes.

    Raises
    ------
    ValueError
        When a result is NaN or infinite: that is no result.
    """
    value = {
        "schema": schema,
        "status": status,
        "results": results or {},
        "problems": [{name: record.get(name) for name in _FIELDS} for record in problems],
        "outputs": [
            {"path": str(path), "sha256": digest_file(path).removeprefix("sha256:")} for path in outputs
        ],
    }
    return json.dumps(value, indent=2, allow_nan=False) + "\n"


def write_standard_output(text: str) -> None:
    """Write to standard output and make sure that it arrived.

    A reader that went away (``| head``) is no error: the rest is dropped.

    Raises
    ------
    StorageError
        When standard output is a file on a full disk.
    """
    if sys.stdout is None:
        return
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        _drop_standard_output()
    except OSError as error:
        _drop_standard_output()
        raise storage_error(error, "standard output") from error


def _drop_standard_output() -> None:
    """Send what is still buffered nowhere, so that leaving the interpreter cannot fail on it."""
    with suppress(OSError, ValueError):
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, sys.stdout.fileno())
        os.close(null)


def write_line(stream: TextIO | None, line: str) -> None:
    """Write one line of a message; a stream that is closed or full must not hide the exit code.

    What a terminal would obey, such as an escape from a damaged file, becomes a question mark.
    """
    if stream is not None:
        plain = "".join(letter if letter.isprintable() else "?" for letter in " ".join(line.split()))
        with suppress(OSError, ValueError):
            stream.write(plain + "\n")
            stream.flush()


def result_lines(lines: Sequence[str], outputs: Sequence[Path]) -> str:
    """Return what a person reads on standard output.

    Examples
    --------
    >>> print(result_lines(["27 patches"], [Path("a.tif")]), end="")
    27 patches
    wrote a.tif
    """
    written = [f"wrote {path}" for path in outputs]
    if len(written) > _MOST_OUTPUTS:
        written = [f"wrote {len(written)} files"]
    return "".join(f"{line}\n" for line in [*lines, *written])


def show_problems(problems: Sequence[Problem], call: Call) -> None:
    """Write what was noticed to standard error, the worst first; what a problem explains is only counted."""
    explained = Counter(problem.cause for problem in problems)
    ordered = [problem for problem in problems if problem.cause is None]
    ordered.sort(key=lambda problem: _RANK[problem.severity])
    if call.quiet:
        ordered = [problem for problem in ordered if problem.severity != "note"]
    for problem in ordered[:_MOST_PROBLEMS]:
        count = explained[problem.title]
        more = f". This explains {counted(count, 'more message')}, which --json lists" if count else ""
        write_line(sys.stderr, f"{problem}{more}")
    if len(ordered) > _MOST_PROBLEMS:
        write_line(sys.stderr, f"and {len(ordered) - _MOST_PROBLEMS} more; --json lists them all")


def show_error(error: StrikeoffError, call: Call) -> None:
    """Write the one line, or the one document, of a call that came to nothing."""
    if call.as_json:
        try:
            write_standard_output(document(call.schema, "error", problems=[error.as_record()]))
            return
        except StorageError as fault:
            write_line(sys.stderr, f"error: {fault}")
    write_line(sys.stderr, f"error: {error}")
