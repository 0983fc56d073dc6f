"""Whatever went wrong, as an error that a person understands."""

from __future__ import annotations

import traceback

from strikeoff.base.errors import Cancelled, StrikeoffError
from strikeoff.base.files import storage_error
from strikeoff.cli.call import Call


def plain_error(fault: BaseException, *, cancelled: bool) -> StrikeoffError:
    """Return the error of strikeoff that stands for any exception.

    Parameters
    ----------
    fault : BaseException
        What was raised.
    cancelled : bool
        Whether someone had asked to stop; what then breaks breaks because of that.

    Examples
    --------
    >>> print(plain_error(ValueError("odd"), cancelled=False).message)
    internal error: ValueError: odd
    >>> plain_error(KeyboardInterrupt(), cancelled=False).kind
    'cancelled'
    """
    if cancelled or isinstance(fault, KeyboardInterrupt | Cancelled):
        return Cancelled("cancelled", advice="No half-written file is left")
    if isinstance(fault, StrikeoffError):
        return fault
    if isinstance(fault, MemoryError):
        return StrikeoffError(
            "not enough memory",
            advice="Close other programs, or use artwork with fewer pixels or a shorter piece",
        )
    if isinstance(fault, OSError) and fault.errno is not None:
        return storage_error(fault, fault.filename or "input or output")
    text = str(fault).strip().split("\n")[0]
    return StrikeoffError(
        f"internal error: {type(fault).__name__}" + (f": {text}" if text else ""),
        advice="Please report this line; with --traceback FILE the details go to a file",
    )


def keep_traceback(fault: BaseException, call: Call) -> None:
    """Write the details of a fault to the file that the call names, if it names one."""
    if call.traceback is None:
        return
    try:
        with open(call.traceback, "w", encoding="utf-8", errors="backslashreplace") as stream:
            stream.writelines(traceback.format_exception(fault))
    except OSError:
        return
