"""Files that appear whole or not at all."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from strikeoff.base.errors import InputError, StorageError, UsageError

_ADVICE = {
    errno.ENOSPC: ("disk is full", "Free some space or choose another folder"),
    errno.EDQUOT: ("disk quota is used up", "Free some space or choose another folder"),
    errno.EACCES: ("no permission", "Choose a folder that you may write to"),
    errno.EPERM: ("no permission", "Choose a folder that you may write to"),
    errno.EROFS: ("read-only file system", "Choose a folder that you may write to"),
    errno.ENOENT: ("no such file or folder", "Check the path"),
    errno.EEXIST: ("part of the path is a file, not a folder", "Check the path"),
    errno.ENOTDIR: ("part of the path is not a folder", "Check the path"),
    errno.EISDIR: ("is a folder, not a file", "Give a file name"),
    errno.EFBIG: ("file grew past the limit of this disk or account", "Choose another folder"),
}


def storage_error(error: OSError, path: object) -> StorageError:
    """Translate an operating-system error about a path into a StorageError."""
    plain = (error.strerror or str(error), "Check the disk and the path")
    message, advice = _ADVICE.get(error.errno or 0, plain)
    return StorageError(message, path=path, advice=advice)


_LEAST_READ = 1 << 20


@contextmanager
def storage_errors(path: object) -> Iterator[None]:
    """Turn any OSError raised inside into a StorageError that names the path."""
    try:
        yield
    except OSError as error:
        raise storage_error(error, path) from error


@contextmanager
def atomic_path(path: str | Path) -> Iterator[Path]:
    """Yield a temporary name beside ``path``; on success it is flushed to disk and takes the name.

    On any error, a cancel included, the temporary file is removed and an older file under
    the name stays as it was. Folders that do not exist are made.

    Raises
    ------
    StorageError
        When the folder cannot be made or written, or the disk is full.
    """
    target = Path(path)
    with storage_errors(target):
        if target.is_dir():
            raise IsADirectoryError(errno.EISDIR, "is a folder", str(target))
        if target.exists() and not target.is_file():
            raise StorageError("is a device or pipe, not a file", path=target, advice="Give a file name")
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".part")
        os.close(handle)
    part = Path(name)
    try:
        with storage_errors(target):
            yield part
            with open(part, "rb+") as stream:
                os.fsync(stream.fileno())
            os.chmod(part, 0o666 & ~_umask())
            os.replace(part, target)
            folder = os.open(target.parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def keep_inputs(out: str | Path, *inputs: str | Path | None) -> None:
    """Refuse to write over what is read: readings and artwork cannot be made again.

    Raises
    ------
    UsageError
        When the output is one of the inputs, under whatever name.
    """
    target = Path(out)
    for path in inputs:
        if path is not None and _is_same(target, Path(path)):
            raise UsageError(
                "output would replace an input",
                path=out,
                expected="another name",
                advice="Name a new file; what was read or drawn stays as it is",
            )


def _is_same(a: Path, b: Path) -> bool:
    with suppress(OSError):
        return a.samefile(b)
    return False


def write_bytes(path: str | Path, data: bytes) -> None:
    """Write bytes so that the file appears whole or not at all."""
    with atomic_path(path) as part:
        part.write_bytes(data)


def write_text(path: str | Path, text: str) -> None:
    """Write UTF-8 text so that the file appears whole or not at all."""
    write_bytes(path, text.encode("utf-8"))


def read_bytes(path: str | Path, limit: int) -> bytes:
    """Read a whole file of at most ``limit`` bytes.

    Raises
    ------
    StorageError
        When it cannot be read.
    InputError
        When it is larger than the limit.
    """
    with storage_errors(path), open(path, "rb") as stream:
        # A buffer is made for all that is asked for, so no more is than there can be.
        size = os.fstat(stream.fileno()).st_size
        data = stream.read(min(limit, max(size, _LEAST_READ)) + 1)
    if len(data) > limit:
        raise InputError("file is too large for its kind", path=path, expected=f"at most {limit} bytes")
    return data


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
