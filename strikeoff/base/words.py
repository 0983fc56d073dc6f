"""Counts in words."""

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
