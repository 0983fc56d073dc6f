"""One question to a process of its own, so that a crash or an endless loop there ends nothing here."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from typing import Any

from strikeoff.base.errors import InputError
from strikeoff.base.progress import Progress, silent

_LONGEST_ANSWER = 256 << 20
_LOOK_S = 0.1


def ask_process(
    module: str,
    request: dict[str, Any],
    *,
    seconds: float,
    memory_bytes: int,
    what: str,
    path: object = None,
    progress: Progress = silent,
) -> dict[str, Any]:
    """Return the answer of ``python -m module`` to a request.

    Parameters
    ----------
    module : str
        Calls `serve_process`.
    request : dict
        JSON values.
    seconds : float
        By the clock, after which it is stopped. [s]
    memory_bytes : int
        Address space that it may take. [bytes]
    what : str
        What it does, for messages.
    path : path-like, optional
        File concerned.
    progress : Progress
        Told how much of the time is over; what it raises stops the process.

    Raises
    ------
    InputError
        No answer in time, a crash, or a fault that the process reports.
    """
    limits = ["-P", "-m", module, str(memory_bytes)]
    with tempfile.TemporaryFile() as asked, tempfile.TemporaryFile() as answered:
        asked.write(json.dumps(request, allow_nan=False).encode())
        asked.seek(0)
        process = subprocess.Popen(
            [sys.executable, *limits], stdin=asked, stdout=answered, stderr=subprocess.DEVNULL
        )
        try:
            start = time.monotonic()
            while process.poll() is None:
                over = time.monotonic() - start
                if over > seconds:
                    raise InputError(
                        f"{what} took too long",
                        path=path,
                        found=f"no answer in {seconds:g} s",
                        advice="Give it less, or simpler contours",
                    )
                progress(what, min(1.0, over / seconds))
                time.sleep(_LOOK_S)
        finally:
            if process.poll() is None:
                process.kill()
            process.wait()
        answered.seek(0)
        text = answered.read(_LONGEST_ANSWER)
    try:
        answer = json.loads(text)
    except ValueError:
        answer = None
    if not isinstance(answer, dict) or process.returncode != 0:
        raise InputError(
            f"{what} broke down",
            path=path,
            found=f"exit code {process.returncode}",
            advice="Give it less, or simpler contours",
        )
    if "fault" in answer:
        raise InputError(f"{what} failed", path=path, found=str(answer["fault"])[:200])
    return answer


def serve_process(work: Callable[[dict[str, Any]], dict[str, Any]]) -> None:
    """Answer the one request on standard input, under the limit of memory in the first argument."""
    import os
    import resource

    memory_bytes = int(sys.argv[1])
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    answers = os.fdopen(os.dup(1), "wb")
    # What a library prints must not get into the answer.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    try:
        answer = work(json.load(sys.stdin.buffer))
    except BaseException as error:
        # Libraries raise many classes here, panics of compiled code among them; the words are of use.
        answer = {"fault": " ".join(str(error).split())[:300] or type(error).__name__}
    answers.write(json.dumps(answer).encode())
    answers.flush()
