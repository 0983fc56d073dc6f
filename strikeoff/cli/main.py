"""The installed program. Nothing is imported here before Ctrl-C is listened for."""

from __future__ import annotations

import os
import sys

from strikeoff.cli.cancel import Cancel


def main() -> None:
    """Run the command line and leave with its exit code."""
    cancel = Cancel()
    cancel.install()
    try:
        _quieten()
        from strikeoff.cli.run import run
    except KeyboardInterrupt:
        cancel.settle()
        from strikeoff.cli.run import run
    for stream in (sys.stdout, sys.stderr):
        if stream is not None and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    code = run(sys.argv[1:], cancel)
    if cancel.requested:
        # Threads may still be at work on what nobody wants any more; leaving would wait for them.
        os._exit(code)
    sys.exit(code)


def _quieten() -> None:
    """Keep what libraries warn or log off standard error; ``python -W`` brings warnings back."""
    import logging
    import warnings

    if not sys.warnoptions:
        warnings.simplefilter("ignore")
    logging.getLogger().addHandler(logging.NullHandler())
