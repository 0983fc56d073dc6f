"""Where a condition errs, and which patches to read again, as sections of a page."""

from __future__ import annotations

import numpy as np

from strikeoff.condition.record import Condition
from strikeoff.report.page import Section
from strikeoff.report.plots_errors import error_map
from strikeoff.report.tables import figure, paragraph, table_html
from strikeoff.workbench.condition_readings import ReadRecipes, held_out

_AGAIN = 15


def map_section(condition: Condition) -> Section:
    """Where in lightness, chroma and hue the held-out error is largest."""
    judged = held_out(condition)
    if judged is None:
        return Section("map", "Where the errors are", paragraph("There are no error figures."))
    rows, errors = judged
    lab = condition.native.view.lab(condition.forward.bands[rows])
    drawing = error_map(lab, errors)
    body = paragraph(
        "Mean held-out CIEDE2000 of the patches in each part of colour space, and how many they are; blank: "
        "none were read there. A patch that several splits left out counts with the mean of its errors."
    )
    return Section("map", "Where the errors are", body + drawing, condition.label, (drawing,))


def again_section(condition: Condition, read: ReadRecipes) -> Section:
    """Patches whose held-out error is largest: misread, or where the model lacks neighbours."""
    judged = held_out(condition)
    if judged is None:
        return Section("again", "Patches to read again", paragraph("There are no error figures."))
    found, errors = judged
    worst = np.argsort(-errors, kind="stable")[:_AGAIN]
    rows = [
        [
            read.names[found[i]],
            *(f"{round(100 * v, 1):g}" for v in condition.forward.recipes[found[i]]),
            *(figure(v, 1) for v in read.lab[found[i]]),
            str(read.counts[found[i]]) if read.counts[found[i]] else "-",
            f"{errors[i]:.2f}",
        ]
        for i in worst
    ]
    body = paragraph(
        f"The {len(rows)} largest errors of patches that were held out, each the mean of the splits that "
        "left the patch out, so a little below the worst single one. Read these first; what stays large "
        "lacks neighbours. Inks in percent; L*, a*, b* as read; error in CIEDE2000."
    )
    inks = [f"{name} %" for name in condition.spaces.channels]
    body += table_html(["Patch", *inks, "L*", "a*", "b*", "readings", "held-out error"], rows, dense=True)
    return Section("again", "Patches to read again", body, condition.label)
