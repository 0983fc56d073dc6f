"""The report of a condition: a page and a PDF that say the same."""

from __future__ import annotations

from pathlib import Path

from strikeoff.base.errors import UsageError
from strikeoff.base.files import write_text
from strikeoff.base.progress import Progress, silent
from strikeoff.condition.archive import read_condition
from strikeoff.condition.record import Condition
from strikeoff.report.cautions import cautions
from strikeoff.report.page import Section, render_page
from strikeoff.report.paper import write_pdf
from strikeoff.workbench import condition_tables as tables
from strikeoff.workbench.condition_figures import (
    black_section,
    error_section,
    gamut_section,
    neutral_section,
    tone_section,
)
from strikeoff.workbench.condition_uncertainty import uncertainty_section
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
    page = Path(out) if Path(out).suffix.lower() in (".html", ".htm") else Path(out) / _PAGE
    sections = condition_sections(record, digest, progress)
    light = f"{record.setup.illuminant}, {record.setup.observer} degree observer"
    title = f"Printing condition {record.name}"
    lead = (
        f"Inks {' '.join(record.spaces.channels)}, {len(record.forward.recipes)} recipes, {light}. {digest}"
    )
    careful = cautions([])
    progress("write the page", 0.8)
    write_text(page, render_page(title, lead, sections, cautions=careful))
    outputs, pages = [page], None
    if pdf is not None:
        progress("write the PDF", 0.85)
        pages = write_pdf(pdf, title, lead, sections, cautions=careful)
        outputs.append(Path(pdf))
    results = {
        "name": record.name,
        "condition": digest,
        "label": record.label,
        "sections": [section.title for section in sections],
        "pdf_pages": pages,
    }
    line = f"report of {record.name}: {len(sections)} sections" + (f", {pages} pages" if pages else "")
    return Result(results, record.problems, tuple(outputs), "done", (line,))


def condition_sections(record: Condition, digest: str, progress: Progress = silent) -> list[Section]:
    """Return the sections of a condition's report, in reading order."""
    readings = tables.original_readings(record)
    sections = [tables.measured_section(record), tables.limits_section(record), tables.cloth_section(record)]
    progress("draw the curves", 0.1)
    sections += [tone_section(record), tables.tone_table(record), tables.solids_section(record)]
    sections += [tables.special_section(record)]
    progress("follow the neutrals", 0.3)
    sections += [neutral_section(record), black_section(record)]
    progress("draw the gamut", 0.5)
    sections += [gamut_section(record)]
    progress("judge the errors", 0.6)
    sections += [error_section(record), tables.map_section(record)]
    sections += [uncertainty_section(record, readings), tables.again_section(record, readings)]
    return [*sections, tables.validity_section(record, digest)]
