"""The report of a condition: a page and a PDF that say the same."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from strikeoff.base.errors import UsageError
from strikeoff.base.files import write_text
from strikeoff.base.progress import Progress, silent
from strikeoff.condition.archive import read_condition
from strikeoff.condition.recipe_rules import rules_problems
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import recipe_problems
from strikeoff.report.page import Section, render_page
from strikeoff.report.paper import write_pdf
from strikeoff.workbench import condition_tables as tables
from strikeoff.workbench.condition_errors import again_section, map_section
from strikeoff.workbench.condition_figures import (
    black_section,
    black_table,
    error_section,
    gamut_section,
    ink_colours,
    neutral_section,
    tone_section,
)
from strikeoff.workbench.condition_goods import goods_cautions, goods_section
from strikeoff.workbench.condition_noticed import noticed_line
from strikeoff.workbench.condition_readings import original_readings, read_recipes
from strikeoff.workbench.condition_solids import heads_section, solids_section, special_section, tone_table
from strikeoff.workbench.condition_summary import summary_section
from strikeoff.workbench.condition_uncertainty import uncertainty_section
from strikeoff.workbench.gamut_bodies import condition_body
from strikeoff.workbench.result import Result

_PAGE = "condition.html"


def report_condition(
    condition: str | Path,
    out: str | Path,
    *,
    pdf: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Write the report of a condition.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    out : str or Path
        Page to write, or a folder for ``condition.html``.
    pdf : str or Path, optional
        The same on paper.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    if Path(out).suffix.lower() == ".pdf":
        raise UsageError(
            "the page is HTML; paper has an option of its own",
            found=str(out),
            expected="--out FILE.html, and --pdf FILE.pdf beside it",
        )
    record, digest = read_condition(condition)
    made_with = record.problems
    record = replace(record, problems=(*record.problems, *rules_problems(record.recipe_rules)))
    page = Path(out) if Path(out).suffix.lower() in (".html", ".htm") else Path(out) / _PAGE
    sections = condition_sections(record, digest, progress)
    title = f"Printing condition {record.name}"
    lead = (
        f"Inks {' '.join(record.spaces.channels)}, {len(record.forward.recipes):,} recipes, "
        f"{tables.light_words(record)}. {digest}"
    )
    careful = goods_cautions(record.goods)
    progress("write the page", 0.8)
    write_text(page, render_page(title, lead, sections, cautions=careful))
    outputs, pages = [page], None
    if pdf is not None:
        progress("write the PDF", 0.85)
        pages = write_pdf(pdf, title, lead, sections, cautions=careful, mark=digest[:23])
        outputs.append(Path(pdf))
    results = {
        "name": record.name,
        "condition": digest,
        "label": record.label,
        "sections": [section.title for section in sections],
        "pdf_pages": pages,
    }
    line = f"report of {record.name}: {len(sections)} sections" + (f", {pages} pages" if pages else "")
    # That its day has passed was not noticed while it was made: the page says it as an open point.
    told = noticed_line(made_with, f"'{sections[-1].title}'")
    return Result(results, recipe_problems(record), tuple(outputs), "done", (line, *told))


def condition_sections(record: Condition, digest: str, progress: Progress = silent) -> list[Section]:
    """Return the sections of a condition's report, in reading order."""
    readings = original_readings(record)
    read = read_recipes(record, readings)
    progress("measure the gamut", 0.05)
    volume = condition_body(record).volume()
    sections = [
        summary_section(record, volume),
        goods_section(record),
        tables.measured_section(record, readings, read),
        tables.cloth_section(record, read),
        tables.limits_section(record, ink_colours(record)),
    ]
    progress("draw the curves", 0.2)
    heads = heads_section(record)
    sections += [heads] if heads is not None else []
    sections += [tone_section(record), tone_table(record)]
    sections += [solids_section(record, read), special_section(record, read)]
    progress("follow the neutrals", 0.4)
    sections += [neutral_section(record), black_section(record), black_table(record)]
    progress("draw the gamut", 0.6)
    sections += [gamut_section(record, volume)]
    progress("judge the errors", 0.7)
    sections += [error_section(record), map_section(record)]
    sections += [uncertainty_section(record, readings), again_section(record, read)]
    return [*sections, tables.validity_section(record, digest)]
