"""What the reader of TIFF files mutters, as problems."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager

from strikeoff.base.problems import Problem


class _Collector(logging.Handler):
    def __init__(self, problems: list[Problem]) -> None:
        super().__init__(logging.WARNING)
        self.problems = problems

    def emit(self, record: logging.LogRecord) -> None:
        text = " ".join(record.getMessage().split())[:200]
        self.problems.append(Problem("warning", "TIFF", text))


@contextmanager
def messages_as_problems(problems: list[Problem]) -> Iterator[None]:
    """Collect what the reader says while the body runs."""
    # With a handler of its own the logger no longer writes to standard error.
    logger, handler = logging.getLogger("tifffile"), _Collector(problems)
    logger.addHandler(handler)
    try:
        yield
    finally:
        logger.removeHandler(handler)
