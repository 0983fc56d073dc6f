"""What a condition promises, in a few figures, and what is open before it is signed."""

from __future__ import annotations

from strikeoff.base.today import today
from strikeoff.base.words import counted
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import is_past
from strikeoff.qualify.next_patches import expected_error, mean_radius, usual_words
from strikeoff.report.page import Section
from strikeoff.report.style import LABELS
from strikeoff.report.tables import facts_html, paragraph, points_html
from strikeoff.workbench.condition_goods import not_recorded
from strikeoff.workbench.condition_tables import lab_words, not_stated, total_name
from strikeoff.workbench.condition_uncertainty import few_recipes_words


def summary_section(condition: Condition, volume: float) -> Section:
    """Return the figures that matter most and the open points; ``volume`` is that of the gamut."""
    black = condition.connection.from_relative(condition.black_lab[None])[0]
    facts = [
        ("rests on", f"{LABELS[condition.label][0]}, {len(condition.forward.recipes):,} recipes"),
        ("bare cloth", lab_words(condition.cloth_lab)),
        *(
            []
            if condition.white_recipe is None
            else [(f"white, {condition.white_words}", lab_words(condition.media_lab))]
        ),
        ("black point", lab_words(black)),
        (total_name(condition), f"{condition.limits.total * 100:.4g} %"),
        ("gamut", f"{round(volume):,} cubic L*a*b* units"),
    ]
    if condition.validation is not None:
        figure = condition.validation.figure("all")
        facts += [
            ("held-out error, mean", f"{figure.mean:.2f} CIEDE2000"),
            ("held-out error, 95 %", f"{figure.percentile_95:.2f} CIEDE2000"),
        ]
    if (radius := mean_radius(condition)) is not None:
        facts.append((f"90 % radius, mean, {usual_words(condition.n_inks)}", f"{radius:.2f} CIEDE2000"))
    if (expected := expected_error(condition)) is not None:
        facts.append((f"expected mean error, {usual_words(condition.n_inks)}", f"{expected:.2f} CIEDE2000"))
    points = open_points(condition)
    body = facts_html(facts)
    body += paragraph(
        "Open, to be settled or accepted before it is signed:" if points else "No point is open."
    )
    body += points_html(points) if points else ""
    return Section("summary", "In short", body, condition.label)


def open_points(condition: Condition) -> list[str]:
    """Return what a person who signs should know first, in words."""
    points = [f"The tone curves no longer hold: {reason}." for reason in condition.spaces.stale]
    if is_past(condition.goods):
        points.append(
            f"The last day on which it was to hold, {condition.goods.valid_until}, was past on {today()}."
        )
    if missing_goods := not_recorded(condition):
        points.append(f"Of what it holds for nobody recorded: {', '.join(missing_goods)}.")
    if condition.label != "measured":
        points.append(
            f"The figures are no measurements of this cloth ({LABELS[condition.label][1].lower()})."
        )
    if condition.validation is None:
        points.append("There are no error figures: nothing was read from printed patches.")
    elif few := few_recipes_words(len(condition.forward.recipes)):
        points.append(few)
    if missing := not_stated(condition):
        points.append(f"The readings do not state: {', '.join(missing)}.")
    if not condition.has_spectra:
        points.append("Without spectra nothing is known of other lights.")
    elif float(condition.forward.bands.max()) > 1.0:
        points.append("Reflectance exceeds 1: such colours are undecided under other lights.")
    if condition.spaces.total_ml_m2 is None:
        points.append(
            "Drop volumes or addressability are not stated: the total is a sum of tones, no volume."
        )
    for severity, one in (("error", "error"), ("warning", "warning")):
        count = sum(problem.severity == severity for problem in condition.problems)
        if count:
            points.append(f"{counted(count, one)} while it was made; see Validity and digests.")
    return points
