"""The worker process that reads a PDF, seen from outside: started, asked, and stopped in time."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import weakref
from dataclasses import dataclass
from importlib.util import find_spec
from typing import Any

from strikeoff.base.errors import InputError, UsageError

_MOST_HEADER_BYTES = 256 << 20


@dataclass(frozen=True)
class WorkerLimits:
    """What one request to the worker may take.

    Attributes
    ----------
    seconds : float
        Time by the clock. [s]
    memory_bytes : int
        Address space of the process. [bytes]
    """

    seconds: float = 300.0
    memory_bytes: int = 4 << 30


class PdfWorker:
    """One worker process on one file; requests are answered one after the other.

    Parameters
    ----------
    path : str
        File that it reads; for messages.
    limits : WorkerLimits
        Time and memory.

    Raises
    ------
    UsageError
        When the interpreter is not installed.
    """

    def __init__(self, path: str, limits: WorkerLimits) -> None:
        if find_spec("pymupdf") is None:
            raise UsageError(
                "reading PDF needs an optional package",
                path=path,
                found="no package pymupdf",
                expected="strikeoff installed with its extra: strikeoff[pdf]",
                advice="Install it, or export the artwork as TIFF",
            )
        self.path = path
        self.limits = limits
        self._lock = threading.Lock()
        self._late = False
        self._process = subprocess.Popen(
            [
                sys.executable, "-P", "-m", "strikeoff.artwork.pdf_worker",
                str(limits.memory_bytes), str(max(1, round(limits.seconds))),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self._finalizer = weakref.finalize(self, _end, self._process, os.getpid())

    def ask(self, request: dict[str, Any], size: int = 0) -> tuple[dict[str, Any], bytearray]:
        """Return the answer to a request, and ``size`` bytes that follow it.

        Raises
        ------
        InputError
            When the file cannot be interpreted, or not within the limits; the worker is then gone.
        """
        with self._lock:
            timer = threading.Timer(self.limits.seconds, self._stop_late)
            timer.start()
            try:
                answer, payload = self._exchange(request, size)
            except BaseException:
                # An answer that was not heard to its end would be taken for the next one's.
                self.close()
                raise
            finally:
                timer.cancel()
        if "fault" in answer:
            self.close()
            raise self._fault(str(answer["fault"]), answer.get("found"))
        return answer, payload

    def _exchange(self, request: dict[str, Any], size: int) -> tuple[dict[str, Any], bytearray]:
        process = self._process
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            process.stdin.write(json.dumps(request).encode("ascii") + b"\n")
            process.stdin.flush()
            line = process.stdout.readline(_MOST_HEADER_BYTES)
            answer = json.loads(line) if line.endswith(b"\n") else None
            payload = bytearray(size if answer is not None and "fault" not in answer else 0)
            view, got = memoryview(payload), 0
            while got < len(payload):
                part = process.stdout.readinto(view[got:])  # type: ignore[attr-defined]
                if not part:
                    answer = None
                    break
                got += part
        except (OSError, ValueError):
            answer = None
        if isinstance(answer, dict):
            return answer, payload
        raise self._gone()

    def _gone(self) -> InputError:
        code = self._process.wait()
        if self._late or code == -signal.SIGXCPU:
            return self._fault("it takes longer than is allowed", f"more than {self.limits.seconds:g} s")
        if code in (-signal.SIGKILL, -signal.SIGSEGV, -signal.SIGABRT, 1):
            return self._fault("the interpreter broke down, for want of memory or by a fault", f"code {code}")
        return self._fault("the interpreter ended without an answer", f"code {code}")

    def _fault(self, said: str, found: object) -> InputError:
        memory = f"{self.limits.memory_bytes / 2**30:.3g} GiB"
        return InputError(
            f"PDF cannot be read: {said}",
            path=self.path,
            found=found,
            expected=f"a page that is drawn within {self.limits.seconds:g} s and {memory}",
            advice="Have it exported again, flattened if need be, or as TIFF",
        )

    def _stop_late(self) -> None:
        self._late = True
        self._process.kill()

    def close(self) -> None:
        """End the process."""
        self._finalizer()


def _end(process: subprocess.Popen[bytes], owner: int) -> None:
    if os.getpid() != owner:
        return
    process.kill()
    for stream in (process.stdin, process.stdout):
        if stream is not None:
            try:
                stream.close()
            except OSError:
                continue
    process.wait()
