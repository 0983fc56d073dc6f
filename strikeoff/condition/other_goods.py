"""Goods beside those that a condition holds for: what asks for new readings, what for a control strip."""

from __future__ import annotations

from strikeoff.base.problems import Problem
from strikeoff.inks.goods import Goods, Step

_QUALIFY = "This is no re-linearisation: read a chart on these goods and build a condition for them"
_STRIP = "Read a control strip before the first order"
_KEPT = "the condition keeps what it records"


def goods_problems(condition: Goods, other: Goods) -> tuple[Problem, ...]:
    """Return how other goods differ from those of a condition, where both record something.

    Parameters
    ----------
    condition, other : Goods
        What the condition holds for; what a file records of the press or the goods it is to be used with.

    Returns
    -------
    tuple of Problem
        Warnings for another cloth, finishing or ink, which ask for new readings, and for another printer;
        notes for other lots.

    Examples
    --------
    >>> from strikeoff.inks.goods import Cloth
    >>> before, now = Goods(cloth=Cloth("satin", "7")), Goods(cloth=Cloth("satin", "9"))
    >>> [(p.severity, p.where, p.found) for p in goods_problems(before, now)]
    [('note', 'cloth lot', '9')]
    """
    if not other.is_recorded:
        return ()
    if not condition.is_recorded:
        return (
            Problem(
                "note",
                "goods",
                "the file says which goods it is for, the condition does not: nobody can compare them",
                advice="Build the condition with --goods from its readings, if it was made for these",
            ),
        )
    found = [
        Problem("warning", where, f"is another; {_KEPT}", now, before, _QUALIFY)
        for where, before, now in _materials(condition, other)
        if before and now and before != now
    ]
    before, now = condition.press.name, other.press.name
    if before and now and before != now:
        advice = "Make the tone curves again, and read a control strip before the first order"
        found.append(Problem("warning", "printer", f"is another; {_KEPT}", now, before, advice))
    found += [
        Problem("note", where, f"is another; {_KEPT}", now, before, _STRIP)
        for where, before, now in _lots(condition, other)
        if before and now and before != now
    ]
    return tuple(found)


def step_words(step: Step) -> str:
    """Return a step of finishing in one line, without its machine and note.

    Examples
    --------
    >>> step_words(Step("steaming", 102, minutes=10))
    'steaming 102 °C 10 min'
    """
    heat = None if step.temperature_c is None else f"{step.temperature_c:g} °C"
    name = step.note if step.process == "other" else step.process
    return " ".join(part for part in (name, heat, time_words(step)) if part)


def time_words(step: Step) -> str:
    """Return how long a step takes; empty where nobody said."""
    if step.minutes is not None:
        return f"{step.minutes:g} min"
    return "" if step.seconds is None else f"{step.seconds:g} s"


def _materials(a: Goods, b: Goods) -> list[tuple[str, str | None, str | None]]:
    cloths = [
        (words, getattr(a.cloth, name), getattr(b.cloth, name))
        for words, name in (
            ("cloth", "name"),
            ("composition of the cloth", "composition"),
            ("colour of the cloth", "colour"),
            ("pre-treatment", "pretreatment"),
        )
    ]
    masses = [None if c.mass_g_m2 is None else f"{c.mass_g_m2:g} g/m²" for c in (a.cloth, b.cloth)]
    steps = [", ".join(map(step_words, goods.finishing.steps)) for goods in (a, b)]
    names = {ink.name: ink.full_name for ink in b.inks}
    return [
        *cloths,
        ("mass of the cloth", masses[0], masses[1]),
        ("finishing", steps[0], steps[1]),
        ("ink set", a.ink_set.name, b.ink_set.name),
        ("ink class", a.ink_set.ink_class, b.ink_set.ink_class),
        *((f"ink {ink.name}", ink.full_name, names.get(ink.name)) for ink in a.inks),
    ]


def _lots(a: Goods, b: Goods) -> list[tuple[str, str | None, str | None]]:
    lots = {ink.name: ink.lot for ink in b.inks}
    return [
        ("cloth lot", a.cloth.lot, b.cloth.lot),
        *((f"lot of ink {ink.name}", ink.lot, lots.get(ink.name)) for ink in a.inks),
    ]
