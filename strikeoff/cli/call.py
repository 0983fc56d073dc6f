"""One call of the program: its words, and what holds for every command."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from strikeoff.base.progress import Progress, silent

JSON = "--json"
QUIET = "--quiet"
TRACEBACK = "--traceback"


@dataclass
class Call:
    """What was typed.

    Attributes
    ----------
    words : tuple of str
        The words after the program's name.
    as_json : bool
        One JSON document on standard output instead of lines.
    quiet : bool
        No progress and no notes.
    traceback : str or None
        File for the details of an internal error.
    command : str
        The command, such as ``condition build``; filled in once it is known.
    progress : Progress
        Where long work reports.
    """

    words: tuple[str, ...]
    as_json: bool = False
    quiet: bool = False
    traceback: str | None = None
    command: str = ""
    progress: Progress = field(default=silent)

    @property
    def schema(self) -> str:
        """Name and number of the JSON document of the command."""
        return f"strikeoff/{self.command.replace(' ', '-') or 'command-line'}/1"


def read_call(words: Sequence[str]) -> Call:
    """Find the options that hold for every command, wherever they stand.

    They are needed before the command line is understood: a usage error is a JSON document too.

    Parameters
    ----------
    words : sequence of str
        The words after the program's name.

    Examples
    --------
    >>> call = read_call(["condition", "show", "a.cond", "--json"])
    >>> call.as_json, call.quiet, read_call(["--", "--json"]).as_json
    (True, False, False)
    """
    options = list(words[: words.index("--")] if "--" in words else words)
    traceback = None
    for index, word in enumerate(options):
        if word.startswith(TRACEBACK + "="):
            traceback = word.split("=", 1)[1]
        elif word == TRACEBACK and index + 1 < len(options):
            traceback = options[index + 1]
    return Call(tuple(words), JSON in options, QUIET in options, traceback)
