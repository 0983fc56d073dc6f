"""Decoded strips of files of planes, kept in bounded memory."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Hashable

from strikeoff.raster.bands import Band


class StripCache:
    """Decoded strips, the least recently used forgotten first, bounded in bytes; may serve many files."""

    def __init__(self, limit_bytes: int) -> None:
        self._limit = limit_bytes
        self._size = 0
        self._strips: OrderedDict[Hashable, Band] = OrderedDict()
        self._lock = threading.Lock()

    @property
    def held_bytes(self) -> int:
        """Bytes of all strips that are held."""
        return self._size

    def get(self, key: Hashable) -> Band | None:
        """Return a strip, or None."""
        with self._lock:
            if key in self._strips:
                self._strips.move_to_end(key)
            return self._strips.get(key)

    def put(self, key: Hashable, strip: Band) -> None:
        """Keep a strip, unless it alone is over the limit."""
        with self._lock:
            if key in self._strips or strip.nbytes > self._limit:
                return
            self._strips[key] = strip
            self._size += strip.nbytes
            while self._size > self._limit:
                _, old = self._strips.popitem(last=False)
                self._size -= old.nbytes
