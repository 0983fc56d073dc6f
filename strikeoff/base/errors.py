"""The error tree. Every error says what was found, where, what was expected and what to do next."""

from __future__ import annotations


class StrikeoffError(Exception):
    """Root of every error that strikeoff raises on purpose.

    Parameters
    ----------
    message : str
        One line, without a full stop, that names the fault.
    path : str, optional
        File concerned.
    where : str, optional
        Line, field, patch, page or strip inside the file.
    found, expected : str, optional
        What stood there and what should have.
    advice : str, optional
        What the person should do next.

    Examples
    --------
    >>> str(InputError("bad size", path="a.tif", where="tag 256", found="0", expected="1 or more"))
    'a.tif: tag 256: bad size (found 0; expected 1 or more)'
    """

    kind = "internal"

    def __init__(
        self,
        message: str,
        *,
        path: object = None,
        where: str | None = None,
        found: object = None,
        expected: object = None,
        advice: str | None = None,
    ) -> None:
        super().__init__(message)
        self.message = message
        self.path = None if path is None else str(path)
        self.where = where
        self.found = None if found is None else str(found)
        self.expected = None if expected is None else str(expected)
        self.advice = advice

    def __str__(self) -> str:
        lead = "".join(f"{part}: " for part in (self.path, self.where) if part)
        facts = "; ".join(
            f"{word} {value}"
            for word, value in (("found", self.found), ("expected", self.expected))
            if value is not None
        )
        text = f"{lead}{self.message}" + (f" ({facts})" if facts else "")
        return f"{text}. {self.advice}" if self.advice else text

    def as_record(self) -> dict[str, str | None]:
        """Return the error as a problem record for JSON output."""
        return {
            "severity": "error",
            "kind": self.kind,
            "message": self.message,
            "path": self.path,
            "where": self.where,
            "found": self.found,
            "expected": self.expected,
            "advice": self.advice,
        }


class UsageError(StrikeoffError):
    """An option or argument that cannot be right whatever the files hold."""

    kind = "usage"


class InputError(StrikeoffError):
    """A file or value from outside that is damaged, hostile or not what it claims to be."""

    kind = "input"


class RangeError(InputError):
    """A number outside the range in which the method holds."""

    kind = "range"


class StorageError(StrikeoffError):
    """Disk full, folder not writable, file missing."""

    kind = "storage"


class Cancelled(StrikeoffError):
    """The person stopped the work; nothing half-written remains."""

    kind = "cancelled"


EXIT_OK = 0
EXIT_FAIL = 1
EXIT_UNDECIDED = 4

#: Error class to process exit code; the first match along the class's ancestry counts.
EXIT_CODES: dict[type[BaseException], int] = {
    UsageError: 2,
    InputError: 3,
    StorageError: 6,
    Cancelled: 130,
    KeyboardInterrupt: 130,
    Exception: 5,
}


def exit_code(error: BaseException) -> int:
    """Return the documented exit code of an error.

    Examples
    --------
    >>> exit_code(RangeError("x")), exit_code(ValueError("y")), exit_code(KeyboardInterrupt())
    (3, 5, 130)
    """
    for ancestor in type(error).__mro__:
        if ancestor in EXIT_CODES:
            return EXIT_CODES[ancestor]
    return 5
