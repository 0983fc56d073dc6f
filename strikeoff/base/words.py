"""Counts in words, and numbers beside their limits."""

from __future__ import annotations


def counted(count: int, one: str, many: str | None = None) -> str:
    """Return a count with its noun, in the singular for one.

    Parameters
    ----------
    count : int
        How many.
    one : str
        Noun in the singular.
    many : str, optional
        Plural; by default the singular with s, or es after ch, sh, s and x.

    Examples
    --------
    >>> counted(1, "patch"), counted(0, "patch"), counted(2, "reading")
    ('1 patch', '0 patches', '2 readings')
    >>> counted(1, "patch is", "patches are")
    '1 patch is'
    """
    if count == 1:
        return f"1 {one}"
    return f"{count} {many or one + ('es' if one.endswith(('ch', 'sh', 's', 'x')) else 's')}"


def beside(value: float, limit: float, decimals: int = 0) -> str:
    """Return a number with as many decimals, up to four more, as it takes to read unlike a limit.

    Parameters
    ----------
    value, limit : float
        A number that is not the limit, in one unit.
    decimals : int
        How many to begin with.

    Examples
    --------
    >>> beside(6.4, 6.0), beside(25.2, 5.0), beside(0.5004, 0.5, 2)
    ('6.4', '25', '0.5004')
    """
    texts = [f"{value:.{places}f}" for places in range(decimals, decimals + 5)]
    return next((text for text in texts if float(text) != limit), texts[0])
