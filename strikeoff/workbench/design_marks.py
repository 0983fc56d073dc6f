"""Marks around the design of a roll of repeats."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from strikeoff.base.errors import UsageError
from strikeoff.base.problems import Problem
from strikeoff.layout.compose import RollSource
from strikeoff.layout.mark_records import CUTTER_EVERY_MM, Mark, MarkOptions
from strikeoff.layout.marked import MarkedRoll, layout_of_design, marked_roll
from strikeoff.layout.marks import place_marks
from strikeoff.layout.marks_file import write_positions
from strikeoff.layout.marks_problems import told_together
from strikeoff.layout.marks_raster import DrawnMark
from strikeoff.layout.roll import RollPlan

ENDS_MM = 30.0
#: Kinds that a design without single pieces can have.
DESIGN_MARKS = ("trim", "register", "cutter", "code")


@dataclass(frozen=True)
class DesignMarks:
    """Marks of a roll.

    Attributes
    ----------
    plan : RollPlan
        The roll.
    marks : tuple of Mark
        Printed millimetres from the corner of the printable cloth at the first row of the design.
    problems : tuple of Problem
        Places without room.
    """

    plan: RollPlan
    marks: tuple[Mark, ...]
    problems: tuple[Problem, ...]

    @property
    def counts(self) -> dict[str, int]:
        """Marks of each kind."""
        return {kind: sum(m.kind == kind for m in self.marks) for kind in DESIGN_MARKS}

    def on(self, roll: RollSource) -> RollSource | MarkedRoll:
        """Return the roll with them."""
        unit = self.plan.repeat
        return marked_roll(roll, [DrawnMark(mark, unit.dpi_x, unit.dpi_y) for mark in self.marks])

    def write(self, path: str | Path) -> None:
        """Write the file of positions."""
        write_positions(path, layout_of_design(self.plan), self.marks)


def design_kinds(marks: tuple[str, ...] | None) -> tuple[str, ...]:
    """Return the kinds of marks that are wanted.

    Raises
    ------
    UsageError
        Kinds that a design without single pieces does not have.
    """
    kinds = DESIGN_MARKS if marks == ("all",) else marks or ()
    for kind in kinds:
        if kind not in DESIGN_MARKS:
            raise UsageError(
                "a roll of repeats has no such marks",
                found=kind,
                expected=", ".join(DESIGN_MARKS),
                advice="Lay pieces on a roll with 'roll lay' to mark their folds and eyelets",
            )
    return kinds


def design_marks(
    plan: RollPlan, kinds: tuple[str, ...], cutter_every: float | None, bare: float | None, job: str
) -> DesignMarks:
    """Place marks of some kinds around the design of a roll; see `roll_marks` for the options."""
    if not kinds:
        return DesignMarks(plan, (), ())
    options = mark_options(kinds, cutter_every, bare, None, None, job)
    marks, problems = place_marks(layout_of_design(plan), options)
    return DesignMarks(plan, marks, told_together(problems))


def mark_options(
    kinds: tuple[str, ...],
    cutter_every: float | None,
    bare: float | None,
    fold: tuple[float, float] | None,
    eyelets: float | None,
    job: str,
) -> MarkOptions:
    """Return the marks wanted, as commands ask for them; 30 mm of waste at both ends are theirs."""
    return MarkOptions(
        kinds=kinds,
        cutter_every_mm=CUTTER_EVERY_MM if cutter_every is None else cutter_every,
        bare_mm=bare,
        head_mm=ENDS_MM,
        tail_mm=ENDS_MM,
        job=job,
        fold_mm=fold or (0.0, 0.0),
        eyelets_mm=eyelets,
    )
