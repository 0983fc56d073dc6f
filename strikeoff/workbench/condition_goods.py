"""What a condition holds for: press, inks and lots, cloth and lot, finishing, and until when."""

from __future__ import annotations

from strikeoff.condition.other_goods import step_words, time_words
from strikeoff.condition.record import Condition
from strikeoff.inks.goods import Change, Cloth, Goods
from strikeoff.report.cautions import cautions, known_processes
from strikeoff.report.page import Section
from strikeoff.report.tables import facts_html, form_html, paragraph, subheading, table_html

NOT_RECORDED = "not recorded"
_BRIGHTENER = {"yes": "in the cloth", "no": "none in the cloth", "unknown": "not known"}


def goods_section(condition: Condition) -> Section:
    """State what the condition holds for, and plainly what nobody recorded."""
    goods = condition.goods
    body = facts_html(_head_facts(goods))
    body += subheading("Inks")
    if goods.inks:
        body += table_html(["Ink", "role", "full name", "lot"], _ink_rows(condition), words=True)
    else:
        names = " ".join(ink.name for ink in condition.spaces.inks)
        body += paragraph(f"{names}; full names and lots: {NOT_RECORDED}.")
    body += subheading("Cloth")
    known = goods.cloth != Cloth()
    body += facts_html(_cloth_facts(goods.cloth)) if known else paragraph(f"Cloth and lot: {NOT_RECORDED}.")
    body += subheading("Finishing, in order")
    if goods.finishing.steps:
        rows = [
            [
                str(place),
                step.process,
                "" if step.temperature_c is None else f"{step.temperature_c:g} °C",
                time_words(step),
                step.machine or "",
                step.note or "",
            ]
            for place, step in enumerate(goods.finishing.steps, 1)
        ]
        body += table_html(["Step", "process", "temperature", "time", "machine", "note"], rows, words=True)
    else:
        body += paragraph(f"Steps: {NOT_RECORDED}.")
    body += subheading("What finishing does to lengths") + _change_html(goods)
    if missing := not_recorded(condition):
        body += paragraph(
            f"Not recorded: {', '.join(missing)}. Goods that differ in these cannot be told from those it "
            "was made for."
        )
    return Section("goods", "What it holds for", body)


def goods_words(goods: Goods) -> tuple[str, ...]:
    """Return the same for a terminal, at most six lines."""
    if not goods.is_recorded:
        return ("holds for: press, inks, cloth, finishing and last day are not recorded",)
    press, cloth, finishing = goods.press, goods.cloth, goods.finishing
    width = "" if press.width_mm is None else f", {press.width_mm:g} mm wide"
    sorts = (goods.ink_set.name, goods.ink_set.ink_class)
    lots = [f"{ink.name} {ink.lot}" for ink in goods.inks if ink.lot]
    cloths = [cloth.composition, None if cloth.mass_g_m2 is None else f"{cloth.mass_g_m2:g} g/m2"]
    changes = [
        f"{way} {change.change_percent:+.2f} %{_spread_words(change)}"
        for way, change in (("warp", finishing.warp), ("weft", finishing.weft))
        if change is not None
    ]
    told = [
        ("printer", f"{press.name or NOT_RECORDED}{width}"),
        ("inks", ", ".join(word for word in sorts if word) or NOT_RECORDED),
        ("ink lots", ", ".join(lots) or NOT_RECORDED),
        (
            "cloth",
            ", ".join(word for word in (cloth.name or NOT_RECORDED, *cloths) if word)
            + f"; lot {cloth.lot or NOT_RECORDED}",
        ),
        ("finishing", ", ".join(map(step_words, finishing.steps)) or NOT_RECORDED),
        ("change", ", ".join(changes) or NOT_RECORDED),
        ("valid until", _until_words(goods)),
    ]
    return ("holds for", *(f"  {name:<12} {value}" for name, value in told))


def goods_cautions(goods: Goods) -> tuple[str, ...]:
    """Return the cautions for its ink class and the steps of its finishing, and what holds everywhere."""
    named = {goods.ink_set.ink_class, *(step.process for step in goods.finishing.steps)}
    return cautions(name for name in known_processes() if name in named)


def not_recorded(condition: Condition) -> tuple[str, ...]:
    """Return what an auditor asks for and nobody recorded, in words."""
    return condition.goods.not_recorded([ink.name for ink in condition.spaces.inks])


def to_fill_in(condition: Condition) -> str:
    """Return lines to fill in by hand for what is not recorded; empty where all is."""
    missing = not_recorded(condition)
    return (
        "" if not missing else form_html(["Made with", ""], [name[0].upper() + name[1:] for name in missing])
    )


def _head_facts(goods: Goods) -> list[tuple[str, str]]:
    press = goods.press
    return [
        ("printer", press.name or NOT_RECORDED),
        ("widest cloth", NOT_RECORDED if press.width_mm is None else f"{press.width_mm:g} mm"),
        ("ink set", goods.ink_set.name or NOT_RECORDED),
        ("ink class", goods.ink_set.ink_class or NOT_RECORDED),
        *([] if goods.validity.start is None else [("valid from", f"{goods.validity.start}")]),
        ("valid until", _until_words(goods)),
    ]


def _until_words(goods: Goods) -> str:
    day = goods.valid_until
    return NOT_RECORDED if day is None else f"{day}, that day included"


def _ink_rows(condition: Condition) -> list[list[str]]:
    recorded = {ink.name: ink for ink in condition.goods.inks}
    rows = []
    for ink in condition.spaces.inks:
        known = recorded.get(ink.name)
        role = ink.role if ink.light_of is None else f"light of {ink.light_of}"
        full, lot = (None, None) if known is None else (known.full_name, known.lot)
        rows.append([ink.name, role, full or NOT_RECORDED, lot or NOT_RECORDED])
    return rows


def _cloth_facts(cloth: Cloth) -> list[tuple[str, str]]:
    brightener = cloth.optical_brightener
    return [
        ("cloth", cloth.name or NOT_RECORDED),
        ("lot", cloth.lot or NOT_RECORDED),
        ("composition", cloth.composition or NOT_RECORDED),
        ("mass per area", NOT_RECORDED if cloth.mass_g_m2 is None else f"{cloth.mass_g_m2:g} g/m²"),
        ("colour", cloth.colour or NOT_RECORDED),
        ("pre-treatment", cloth.pretreatment or NOT_RECORDED),
        ("optical brightener", NOT_RECORDED if brightener is None else _BRIGHTENER[brightener]),
    ]


def _change_html(goods: Goods) -> str:
    finishing = goods.finishing
    if finishing.warp is None and finishing.weft is None:
        return paragraph(f"Dimensional change: {NOT_RECORDED}.")
    rows = [_change_row("along (warp)", finishing.warp), _change_row("across (weft)", finishing.weft)]
    heads = [
        "Direction",
        "change",
        "sd, specimens",
        "sd, lots",
        "90 % of new specimens",
        "specimens",
        "lots",
    ]
    html = table_html(heads, rows)
    html += paragraph("Finished over file, shrinkage negative (sign of ISO 5077).", quiet=True)
    if finishing.evidence is not None:
        html += paragraph(f"From finishing measure: {finishing.evidence}", quiet=True)
    return html


def _change_row(words: str, change: Change | None) -> list[str]:
    if change is None:
        return [words, NOT_RECORDED, *"-----"]
    band = change.interval_90_percent
    return [
        words,
        f"{change.change_percent:+.2f} %",
        _percent(change.specimen_sd_percent),
        _percent(change.lot_sd_percent),
        "-" if band is None else "{:+.2f} to {:+.2f} %".format(*band),
        "-" if change.specimens is None else f"{change.specimens}",
        "-" if change.lots is None else f"{change.lots}",
    ]


def _percent(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f} %"


def _spread_words(change: Change) -> str:
    spreads = [
        f"sd between {what} {value:.2f} %"
        for value, what in ((change.specimen_sd_percent, "specimens"), (change.lot_sd_percent, "lots"))
        if value is not None
    ]
    return f" ({', '.join(spreads)})" if spreads else ""
