"""Ctrl-C and other requests to stop, heard at any moment and answered once."""

from __future__ import annotations

import signal
import sys
import threading
import time
from types import FrameType
from typing import Any

_BOUNCE_S = 2.0
_RETRY_S = 0.05


class Cancel:
    """Turns SIGINT, SIGTERM and SIGHUP into one KeyboardInterrupt in the main thread.

    Repeated signals within two seconds are taken for the same wish, so that an impatient second
    Ctrl-C does not disturb the removal of temporary files.

    Attributes
    ----------
    requested : bool
        Whether someone has asked to stop.
    """

    def __init__(self) -> None:
        self.requested = False
        self._last = float("-inf")

    def install(self) -> None:
        """Start to listen; a SIGHUP that the caller ignores (nohup) stays ignored."""
        signal.signal(signal.SIGINT, self._heard)
        signal.signal(signal.SIGTERM, self._heard)
        if hasattr(signal, "SIGHUP") and signal.getsignal(signal.SIGHUP) != signal.SIG_IGN:
            signal.signal(signal.SIGHUP, self._heard)
        sys.unraisablehook = self._unraisable

    def settle(self) -> None:
        """Stop listening: what remains to be done is short and must not be torn."""
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        signal.signal(signal.SIGTERM, signal.SIG_IGN)

    def check(self) -> None:
        """Raise KeyboardInterrupt when someone has asked to stop.

        The interrupt can be lost in foreign code; progress reports call this, so the work stops all
        the same.
        """
        if self.requested:
            raise KeyboardInterrupt

    def _heard(self, number: int, frame: FrameType | None) -> None:
        self.requested = True
        now = time.monotonic()
        if now - self._last >= _BOUNCE_S:
            self._last = now
            raise KeyboardInterrupt

    def _unraisable(self, lost: Any) -> None:
        """Ask again when the interrupt fell into a finaliser or callback, which cannot raise."""
        if issubclass(lost.exc_type, KeyboardInterrupt):
            timer = threading.Timer(_RETRY_S, self._again)
            timer.daemon = True
            timer.start()
        elif not self.requested:
            sys.__unraisablehook__(lost)

    def _again(self) -> None:
        self._last = float("-inf")
        signal.pthread_kill(threading.main_thread().ident or 0, signal.SIGINT)
