"""Black policy in the terms of people: percent, and black points by name or as Lab."""

from __future__ import annotations

from typing import Any

from strikeoff.base.errors import UsageError
from strikeoff.model.black import BlackPolicy


def make_policy(
    *,
    start: float | None = None,
    width: float | None = None,
    maximum: float | None = None,
    strength: float | None = None,
    reach: float | None = None,
    point: str | None = None,
    grey: str | None = None,
    grey_fade: float | None = None,
    pure_black: bool = False,
    pure_inks: bool = False,
) -> BlackPolicy:
    """Return a black policy; what is left out keeps its default.

    Parameters
    ----------
    start, width : float, optional
        Lightness at which black begins, and over which it comes. [L*]
    maximum, strength : float, optional
        Most black; share of the most black possible. [%]
    reach : float, optional
        Chroma at which black has fallen to half. [C*]
    point : str, optional
        ``neutral``, ``patch``, or absolute Lab as ``L,A,B``.
    grey : {"cloth", "fading", "absolute"}, optional
        What neutral means.
    grey_fade : float, optional
        With fading greys: share of the cloth's a*, b* gone at black. [%]
    pure_black, pure_inks : bool
        See :class:`strikeoff.model.black.BlackPolicy`.

    Raises
    ------
    UsageError
        Out of range, not a black point, or a fade of greys that do not fade.

    Examples
    --------
    >>> policy = make_policy(strength=50.0, point="16,0,-1")
    >>> policy.strength, policy.point, policy.point_lab
    (0.5, 'given', (16.0, 0.0, -1.0))
    """
    checks = (
        ("black start", start, 0.0, 100.0, "L*"),
        ("black maximum", maximum, 0.0, 100.0, "%"),
        ("black strength", strength, 0.0, 100.0, "%"),
        ("fading of grey", grey_fade, 0.0, 100.0, "%"),
    )
    for name, value, low, high, unit in checks:
        if value is not None and not low <= value <= high:
            raise UsageError(
                f"{name} is out of range", found=f"{value:g} {unit}", expected=f"{low:g} to {high:g} {unit}"
            )
    if grey_fade is not None and grey != "fading":
        raise UsageError(
            "only fading greys have a share that fades",
            found=f"{grey_fade:g} % with {grey or 'cloth'} greys",
            advice="Ask for --grey fading with it, or leave --grey-fade away",
        )
    given: dict[str, Any] = {
        "start": start,
        "width": width,
        "maximum": None if maximum is None else maximum / 100.0,
        "strength": None if strength is None else strength / 100.0,
        "chroma_reach": reach,
        "grey": grey,
        "grey_fade": None if grey_fade is None else grey_fade / 100.0,
    }
    if point in ("neutral", "patch"):
        given["point"] = point
    elif point is not None:
        given |= {"point": "given", "point_lab": _lab(point)}
    chosen = {name: value for name, value in given.items() if value is not None}
    return BlackPolicy(**chosen, pure_black=pure_black, pure_inks=pure_inks)


def _lab(text: str) -> tuple[float, ...]:
    try:
        values = tuple(float(part) for part in text.split(","))
    except ValueError:
        values = ()
    if len(values) != 3:
        raise UsageError("not a black point", found=text, expected="neutral, patch or L,A,B")
    return values
