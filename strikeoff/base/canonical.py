"""Canonical bytes and digests: the names by which everything is known."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

_CHUNK = 1 << 20


def canonical_bytes(value: Any) -> bytes:
    """Return the one JSON encoding of a value: sorted keys, no spaces, UTF-8, no NaN.

    Examples
    --------
    >>> canonical_bytes({"b": 1, "a": [1.5, "ö"]}).decode()
    '{"a":[1.5,"ö"],"b":1}'
    """
    text = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return text.encode("utf-8")


def digest_bytes(data: bytes | memoryview) -> str:
    """Return ``sha256:`` and the hexadecimal digest of some bytes."""
    return "sha256:" + hashlib.sha256(data).hexdigest()


def digest_value(value: Any) -> str:
    """Return the digest of a value's canonical bytes."""
    return digest_bytes(canonical_bytes(value))


def digest_file(path: str | Path) -> str:
    """Return the digest of a file's bytes, read in pieces."""
    sha = hashlib.sha256()
    with open(path, "rb") as stream:
        while chunk := stream.read(_CHUNK):
            sha.update(chunk)
    return "sha256:" + sha.hexdigest()
