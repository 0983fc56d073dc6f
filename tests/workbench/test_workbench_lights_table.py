"""The table of lights shows the figures that there are and says once why others are absent."""

import pytest

from strikeoff.workbench.lights_table import lights_html, lights_lines

_KEYS = ("de00", "mi", "cii")


def rows(*known):
    figures = {f"{kind}_{key}": 1.25 if key in known else None for key in _KEYS for kind in ("mean", "max")}
    return [{"light": name} | figures for name in ("A", "FL11")]


@pytest.mark.parametrize(
    ("known", "heads", "absent"),
    [
        (("de00", "mi", "cii"), ["light", "CIEDE2000", "metamerism", "inconstancy"], None),
        (("cii",), ["light", "inconstancy"], "no spectra to compare them with"),
        ((), None, "no figures: 3 colours are undecided under other lights"),
    ],
)
def test_only_columns_with_figures_stand_in_the_table(known, heads, absent):
    lines = lights_lines(rows(*known), 3)
    page = lights_html(rows(*known), 3)
    if heads is not None:
        assert lines[0].split() == heads
        assert lines[2].split() == ["A", *["1.25"] * 2 * len(known)]
        assert len({len(line) for line in lines[:4]}) == 1
    assert page.count("</th>") == (0 if heads is None else 1 + 2 * len(known))
    assert not any(dash in text for text in ("\n".join(lines), page) for dash in (" - ", "–"))
    for text in ("\n".join(lines), page):
        assert text.lower().count("spectra") == ("cii" in known and "de00" not in known)
        assert absent is None or absent in text or absent.capitalize() in text
    # The page explains the figures that it shows and no others.
    assert [word in page for word in ("ISO 18314-4", "CMCCON02")] == [key in known for key in ("mi", "cii")]
