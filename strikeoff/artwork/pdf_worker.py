"""The process that looks into PDF files: it alone loads the interpreter, under limits of time and memory.

Run as ``python -m strikeoff.artwork.pdf_worker MEMORY_BYTES CPU_SECONDS``. Requests come as lines of JSON
on standard input; each answer is a line of JSON on standard output, its ``bytes`` counting what follows.
Files are hostile, so nothing of the house but this module, `pdf_answers` and what that asks is loaded here.
"""

from __future__ import annotations

import json
import os
import resource
import sys
from typing import BinaryIO

from strikeoff.artwork.pdf_answers import Opened, classes, open_page, rows, set_picture


def serve(requests: BinaryIO, answers: BinaryIO, cpu_seconds: int) -> None:
    """Answer requests until they end."""
    opened = Opened()
    for line in requests:
        _allow(cpu_seconds)
        payload = memoryview(b"")
        try:
            request = json.loads(line)
            if request["do"] == "open":
                answer = open_page(opened, request)
            elif request["do"] == "picture":
                answer = set_picture(opened, request)
            elif request["do"] == "classes":
                answer, payload = classes(opened, request)
            else:
                answer, payload = rows(opened, request)
        except MemoryError:
            answer = {"fault": "it needs more memory than is allowed"}
        except Exception as error:
            # The interpreter raises nearly anything on hostile files; the words are all that is of use.
            text = " ".join(str(error).split())[:300] or type(error).__name__
            is_memory = "malloc" in text or "calloc" in text or "realloc" in text
            said = "it needs more memory than is allowed" if is_memory else "the file cannot be interpreted"
            answer, payload = {"fault": said, "found": text}, memoryview(b"")
        answers.write(json.dumps(answer).encode("ascii") + b"\n")
        answers.write(payload)
        answers.flush()


def _allow(cpu_seconds: int) -> None:
    used = resource.getrusage(resource.RUSAGE_SELF)
    limit = int(used.ru_utime + used.ru_stime) + cpu_seconds + 1
    resource.setrlimit(resource.RLIMIT_CPU, (limit, resource.RLIM_INFINITY))


def main() -> None:
    """Take the limits, then serve."""
    memory_bytes, cpu_seconds = int(sys.argv[1]), int(sys.argv[2])
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    answers = os.fdopen(os.dup(1), "wb")
    # What the interpreter prints must not get between the answers.
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 1)
    import pymupdf

    pymupdf.TOOLS.mupdf_display_errors(False)
    pymupdf.TOOLS.mupdf_display_warnings(False)
    serve(sys.stdin.buffer, answers, cpu_seconds)


if __name__ == "__main__":
    main()
