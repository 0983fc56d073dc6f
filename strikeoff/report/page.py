"""One self-contained page for a technician."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any
from urllib.parse import quote

from strikeoff.base.errors import InputError, UsageError
from strikeoff.report.figures import Drawing
from strikeoff.report.style import LABELS, badge

_ID = re.compile(r'<[^>]*?\sid="([^"]+)"')
_FIGURE = re.compile(r'<svg\b[^>]*\bclass="figure".*?</svg>', re.S)


@dataclass(frozen=True)
class Section:
    """A part of the page.

    Attributes
    ----------
    ident : str
        Anchor, unique on the page.
    title : str
        Plain text.
    html : str
        Body; made by the functions of this package, so taken as it is.
    label : str or tuple of str
        Where its figures come from: one or more of `style.LABELS`, or empty where it holds no figures.
    drawings : tuple of Drawing
        Those of its drawings that can stand on paper.
    """

    ident: str
    title: str
    html: str
    label: str | tuple[str, ...] = ""
    drawings: tuple[Drawing, ...] = ()

    @property
    def labels(self) -> tuple[str, ...]:
        """All labels."""
        names = (self.label,) if isinstance(self.label, str) else self.label
        return tuple(name for name in names if name)


@dataclass(frozen=True)
class FileRow:
    """A file beside the page.

    Attributes
    ----------
    name : str
        Path relative to the page.
    what : str
        One line.
    size_bytes : int
        Its size.
    digest : str
        ``sha256:`` and hexadecimal.
    origin : str
        What it was made from, or where it was read.
    """

    name: str
    what: str
    size_bytes: int
    digest: str
    origin: str = ""

    @property
    def href(self) -> str:
        """The name as a link."""
        return quote(self.name)

    @property
    def size(self) -> str:
        """The size for people."""
        return file_size(self.size_bytes)

    @property
    def short(self) -> str:
        """The first figures of the digest."""
        return self.digest.removeprefix("sha256:")[:16]


def file_size(size_bytes: int) -> str:
    """Return a size for people, in powers of 1,000.

    Examples
    --------
    >>> file_size(950), file_size(48_300), file_size(999_960), file_size(12_345_678)
    ('950 B', '48.3 kB', '1.0 MB', '12.3 MB')
    """
    if size_bytes < 1000:
        return f"{size_bytes} B"
    value = float(size_bytes)
    for unit in ("kB", "MB", "GB"):
        value /= 1000.0
        if round(value, 1) < 1000:
            return f"{value:.1f} {unit}"
    return f"{value / 1000.0:.1f} TB"


def render_page(
    title: str,
    lead: str,
    sections: Sequence[Section],
    *,
    files: Sequence[FileRow] = (),
    lineage_svg: str = "",
    cautions: Sequence[str] = (),
) -> str:
    """Return the page as HTML that fetches nothing.

    Parameters
    ----------
    title, lead : str
        Plain text.
    sections : sequence of Section
        In reading order.
    files : sequence of FileRow
        Everything that lies beside the page.
    lineage_svg : str
        From `lineage_graph`.
    cautions : sequence of str
        From `cautions`.

    Returns
    -------
    str
        HTML.

    Raises
    ------
    InputError
        Two things on the page of one id: sections, drawings or the page's own parts.
    UsageError
        Unknown label.
    """
    contents = [(section.ident, section.title) for section in sections]
    contents += [("lineage", "What came from what")] if lineage_svg else []
    contents += [("files", "Files")] if files else []
    contents += [("cautions", "Working safely")] if cautions else []
    used = sorted({label for section in sections for label in section.labels})
    for label in used:
        if label not in LABELS:
            raise UsageError("unknown label", found=label, expected=", ".join(LABELS))
    html = render(
        "page.html",
        title=title,
        lead=lead,
        contents=contents,
        sections=[_Ready(s.ident, s.title, markup(_framed(s.html)), s.labels) for s in sections],
        badges={label: markup(badge(label)) for label in used},
        files=files,
        lineage=markup(lineage_svg),
        cautions=cautions,
        css=markup(_css()),
        meanings=" ".join(f"{LABELS[label][0].capitalize()} = {LABELS[label][1].lower()}." for label in used),
    )
    seen: set[str] = set()
    for ident in _ID.findall(html):
        if ident in seen:
            raise InputError(
                "two parts of the page have one id", found=ident, advice="Give each drawing its own"
            )
        seen.add(ident)
    return html


def render(template: str, **values: Any) -> str:
    """Return a template of this package filled in; plain text is escaped."""
    return str(_environment().get_template(template).render(**values))


def markup(html: str) -> Any:
    """Mark HTML that this package made, so that it is not escaped again."""
    from markupsafe import Markup

    return Markup(html)


@dataclass(frozen=True)
class _Ready:
    ident: str
    title: str
    html: Any
    labels: tuple[str, ...]


@cache
def _environment() -> Any:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("strikeoff.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )


def _framed(html: str) -> str:
    """Put drawings into frames in which narrow screens can move them."""
    return _FIGURE.sub(r'<div class="scroll drawn">\g<0></div>', html)


def _css() -> str:
    return (resources.files("strikeoff.report") / "templates" / "page.css").read_text(encoding="utf-8")
