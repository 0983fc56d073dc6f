"""The day it is: the one place that asks."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime

from strikeoff.base.errors import UsageError

_SET = "SOURCE_DATE_EPOCH"


def today() -> date:
    """Return the day it is here, or the day (UTC) of ``SOURCE_DATE_EPOCH`` where that is set.

    Raises
    ------
    UsageError
        When that variable is no whole number of seconds since 1970.

    Notes
    -----
    ``SOURCE_DATE_EPOCH`` is the usual name for a date that makes builds reproducible
    (reproducible-builds.org).
    """
    stated = os.environ.get(_SET, "").strip()
    if not stated:
        return datetime.now().astimezone().date()
    try:
        return datetime.fromtimestamp(int(stated), UTC).date()
    except (ValueError, OverflowError, OSError) as error:
        raise UsageError(
            f"the variable {_SET} of the environment is no date",
            found=stated[:40],
            expected="seconds since 1970, UTC",
            advice="Set it right, or unset it",
        ) from error
