"""Progress on standard error: a bar at a terminal, a line now and then elsewhere."""

from __future__ import annotations

import threading
import time
from typing import TextIO

from strikeoff.cli.cancel import Cancel

_REFRESH_S = 0.1
_LINE_EVERY_S = 10.0
_CELLS = 30


class TerminalProgress:
    """Draws how far the work has come and hears that it should stop.

    Parameters
    ----------
    stream : text stream or None
        Where to draw; None draws nothing.
    cancel : Cancel
        Asked at every report.
    is_terminal : bool
        One line that is drawn over, instead of a line every ten seconds.
    """

    def __init__(self, stream: TextIO | None, cancel: Cancel, *, is_terminal: bool) -> None:
        self._stream = stream
        self._cancel = cancel
        self._is_terminal = is_terminal
        self._lock = threading.Lock()
        self._last = time.monotonic() if not is_terminal else float("-inf")
        self._stage = ""
        self._drawn = 0

    def __call__(self, stage: str, fraction: float) -> None:
        """Report that ``stage`` has come to ``fraction`` (0-1)."""
        self._cancel.check()
        now = time.monotonic()
        due = now - self._last >= (_REFRESH_S if self._is_terminal else _LINE_EVERY_S)
        if self._is_terminal and stage != self._stage:
            due = True
        if self._stream is None or not due:
            return
        with self._lock:
            self._last, self._stage = now, stage
            if self._is_terminal:
                self._draw(bar(stage, fraction))
            else:
                self._write(f"{stage}: {100 * fraction:.0f} %\n")

    def close(self) -> None:
        """Wipe the bar, so that what follows starts on a clean line."""
        if self._is_terminal and self._drawn:
            self._draw("")
            self._write("\r")

    def _draw(self, text: str) -> None:
        self._write("\r" + text.ljust(self._drawn))
        self._drawn = len(text)

    def _write(self, text: str) -> None:
        """Write; a terminal that went away must not stop the work."""
        try:
            if self._stream is not None:
                self._stream.write(text)
                self._stream.flush()
        except (OSError, ValueError):
            self._stream = None


def bar(stage: str, fraction: float) -> str:
    """Return one line of progress.

    Parameters
    ----------
    stage : str
        What is being done.
    fraction : float
        How far it is, 0-1.

    Examples
    --------
    >>> bar("write", 0.5)
    'write                    [###############...............]  50 %'
    """
    share = min(1.0, max(0.0, fraction))
    full = round(share * _CELLS)
    return f"{stage[:24]:<24} [{'#' * full}{'.' * (_CELLS - full)}] {share * 100:3.0f} %"
