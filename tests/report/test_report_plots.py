"""Plots: valid, embeddable, the same every time, and showing what they are given."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.weights import white_point
from strikeoff.report.figures import drawing_style, svg_figure
from strikeoff.report.gamut import chroma_table, surface_inks, surface_mesh
from strikeoff.report.lineage import Node, lineage_graph
from strikeoff.report.name_places import name_places
from strikeoff.report.plots_gamut import NamedColour, gamut_projection, gamut_solid
from strikeoff.report.plots_inks import ToneCurve, black_curve, ink_use, tone_curves
from strikeoff.report.plots_quality import error_histogram, neutral_axis, verdict_chart

STEPS = np.linspace(0, 1, 6)
INKS = [("cyan & co", "#0090d0"), ("yellow", "#ffe600")]
_RNG = np.random.default_rng(7)
_BALL = _RNG.normal(size=(3000, 3))
BALL = _BALL / np.linalg.norm(_BALL, axis=1)[:, None] * [40, 60, 60] + [50, 0, 0]
CLOTH = NamedColour("cloth", (93.0, 0.0, 3.0), "#eeeae0")

ITEMS = [
    {"name": "Cloth", "value": 0.4, "uncertainty": 0.2, "limit": 1.5, "outcome": "pass"},
    {"name": "Solids", "value": 3.0, "uncertainty": 0.2, "limit": 2.0, "outcome": "fail"},
    {"name": "Greys", "value": 1.0, "uncertainty": 0.6, "limit": 1.2, "outcome": "undecided"},
    {"name": "Absent", "value": None, "uncertainty": None, "limit": 1.2, "outcome": "undecided"},
]

MAKERS = {
    "tone": lambda ident: tone_curves(
        [ToneCurve(name, colour, STEPS, STEPS**0.8, 50 * STEPS) for name, colour in INKS], ident=ident
    ),
    "black": lambda ident: black_curve(
        [90, 50, 20],
        [[0, 0], [0.5, 0.2], [0.6, 1]],
        ["a", "b"],
        ["#111111", "#eeee00"],
        total_limit=2,
        ident=ident,
    ),
    "ink": lambda ident: ink_use(["a", "b"], ["#111111", "#ffee00"], [1.5, 0.25], ident=ident),
    "gamut": lambda ident: gamut_projection(
        BALL,
        [NamedColour("C", (55, -35, -50), "#0090d0"), NamedColour("K", (16, 0, 0), "#222222")],
        CLOTH,
        ident=ident,
    ),
    "solid": lambda ident: gamut_solid(BALL, white_point(), ident=ident),
    "neutral": lambda ident: neutral_axis(
        [[90, 0.1, 0.2], [50, 0.4, -1.4], [20, 0, 0]], [[90, 0, 0], [50, 0, 0], [20, 0, 0]], ident=ident
    ),
    "error": lambda ident: error_histogram([0.1, 0.5, 1.2], [0.2, 0.6, 2.0], ident=ident),
    "verdict": lambda ident: verdict_chart(ITEMS, ident=ident),
}


@pytest.fixture(scope="module")
def drawn():
    return {name: make(f"one-{name}") for name, make in MAKERS.items()}


@pytest.mark.parametrize("name", MAKERS)
def test_svg_stands_inside_a_page(drawn, name):
    svg = drawn[name]
    root = ElementTree.fromstring(svg)
    assert root.tag.endswith("svg")
    assert root[0].tag.endswith("title")
    assert root[0].text
    assert root[1].tag.endswith("desc")
    assert root[1].text
    assert "<?xml" not in svg
    assert "<metadata" not in svg
    # Nothing is fetched and no style leaks out.
    assert not re.search(r'(href|src)="(?!#)', svg)
    for style in re.findall(r"<style[^>]*>([^<]*)</style>", svg):
        assert style.startswith(f"#one-{name} ")
    ids = re.findall(r'\bid="([^"]+)"', svg)
    assert len(ids) == len(set(ids))
    assert all(one.startswith(f"one-{name}") for one in ids)
    for target in re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', svg):
        assert "".join(target) in ids


@pytest.mark.parametrize("name", ["tone", "solid", "verdict"])
def test_same_data_same_bytes(drawn, name):
    assert MAKERS[name](f"one-{name}") == drawn[name]


def test_every_axis_says_its_unit(drawn):
    for name, words in {
        "tone": ("ink asked for [%]", "tone value [%]", "CIEDE2000 from cloth", "cyan &amp; co"),
        "black": ("sum [%]", "ink [%]", "L*", "limit 200 %"),
        "ink": ("ink laid down [ml/m²]", "1.50", "0.25", "Together 1.75 ml/m²"),
        "gamut": ("a*", "b*", "L*", "C* at hue", "Marked: C, K, cloth"),
        "solid": ("from L* 10 to 90",),
        "neutral": ("L* of the grey", "redder", "aim ±1"),
        "error": ("CIEDE2000", "patches [%]", "mean 0.60", "95 % 1.20"),
        "verdict": ("share of the limit [%]", "Solids", "limit"),
    }.items():
        for word in words:
            assert word in drawn[name], (name, word)
    assert "Absent" not in drawn["verdict"]


def test_bad_numbers_and_ids_are_refused():
    with pytest.raises(InputError):
        neutral_axis([[50, np.nan, 0], [60, 0, 0]])
    with pytest.raises(InputError):
        ink_use(["a"], ["#000000"], [-1.0])
    with pytest.raises(InputError):
        black_curve([1, 2], [[0, 0]], ["a", "b"], ["#000000"] * 2)
    with pytest.raises(InputError):
        error_histogram([])
    with pytest.raises(InputError):
        tone_curves([ToneCurve("a", "#000000", STEPS, STEPS * np.nan, STEPS)])
    with pytest.raises(UsageError):
        svg_figure('x"y', "t", "d", (1, 1), lambda figure: None)


def test_the_black_curve_weighs_inks_as_their_limit_does():
    inks = [[0, 0], [1, 1]]
    marks = re.compile(r"sum \[%\]")
    plain = black_curve([90, 20], inks, ["a", "b"], ["#111111", "#eeee00"], total_limit=1.5)
    weighed = black_curve([90, 20], inks, ["a", "b"], ["#111111", "#eeee00"], total_limit=1.5, sums=[0, 1.5])
    assert "weighted" not in plain
    assert marks.search(plain)
    assert "Total ink, weighted" in weighed


def test_the_black_curve_keeps_its_legend_off_the_lines_and_its_names_apart():
    """On paper the drawing may be low; names of seven points stand eight apart."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    names = ["C", "M", "Y", "K"]
    inks = [[0.8, 0.81, 0.82, 0.83], [0, 0, 0, 0]]
    drawing = black_curve([20, 90], inks, names, ["#009fe3"] * 4)
    with drawing_style(7.0):
        figure = Figure(figsize=(7, 3), layout="constrained")
        canvas = FigureCanvasAgg(figure)
        drawing.draw(figure.subfigures(1, 1))
        canvas.draw()
    (half,) = figure.subfigs
    (legend,) = half.legends
    boxes = [axes.get_window_extent() for axes in half.axes]
    assert legend.get_window_extent().y1 <= min(box.y0 for box in boxes)
    lower = half.axes[1]
    heights = sorted(text.get_window_extent().y0 for text in lower.texts)
    assert [text.get_text() for text in lower.texts] == names
    assert min(np.diff(heights)) * 72 / figure.dpi > 8.0


def test_boundary_of_a_ball_is_the_ball():
    lightness, hue, chroma = chroma_table(BALL)
    assert lightness[0] == pytest.approx(10, abs=0.5)
    assert lightness[-1] == pytest.approx(90, abs=0.5)
    middle = np.argmin(np.abs(lightness - 50))
    assert chroma[middle] == pytest.approx(60, abs=2)
    assert chroma[:, 3].max() < 60.5
    assert hue[12] == 90.0
    with pytest.raises(InputError):
        chroma_table(BALL[:3])


def test_mesh_has_the_outermost_colours_for_corners():
    points = np.vstack([BALL, [[70.0, 0.3, 100.0]]])
    mesh = surface_mesh(points, 20, 60)
    corners = {tuple(corner) for corner in mesh.reshape(-1, 3)}
    assert (70.0, 0.3, 100.0) in corners
    own = corners & set(map(tuple, points))
    assert len(own) > 0.25 * len(corners)
    # Columns go round the hue circle, rows upward.
    assert mesh[10, 15, 2] > 40 > abs(mesh[10, 15, 1])
    assert mesh[-1, 0, 0] > mesh[0, 0, 0]


def test_boundary_keeps_hue_and_lightness_apart():
    points = np.vstack([BALL, [[70.0, 0.0, 100.0]]])
    lightness, hue, chroma = chroma_table(points)
    level, sector = np.unravel_index(np.argmax(chroma), chroma.shape)
    assert hue[sector] == 90.0
    assert lightness[level] == pytest.approx(70, abs=2)


def test_a_gamut_beside_the_grey_axis_has_no_chroma_on_the_other_side():
    """A ball of radius 40 round b* 75, as on yellow cloth; its mesh stays closed around its own middle."""
    points = BALL * [1.0, 40 / 60, 40 / 60] + np.array([0.0, 0.0, 75.0])
    _, hue, chroma = chroma_table(points)
    reach = dict(zip(hue.tolist(), chroma.max(axis=0).tolist(), strict=True))
    assert reach[90.0] == pytest.approx(115.0, abs=3)
    assert reach[270.0] == reach[0.0] == reach[180.0] == 0.0
    mesh = surface_mesh(points, 20, 60)
    assert np.hypot(mesh[..., 1], mesh[..., 2] - 75.0).max() < 41.0


def test_names_of_colours_stay_inside_the_drawing_where_they_can():
    marks = [("Bleu nuit", (-90.0, 0.0)), ("Rouge", (90.0, 20.0))]
    places = name_places(marks, 200.0, (-100.0, 100.0, -100.0, 100.0))
    for (name, (x, _)), (dx, _) in zip(marks, places, strict=True):
        assert abs(x * 230 / 200 + dx) + 3.75 * len(name) <= 115.0 + 1e-6


def test_surface_inks_hold_every_corner_and_two_inks_in_part_at_most():
    mixes = surface_inks(4, 5, total_limit=3.0)
    assert len(np.unique(mixes, axis=0)) == len(mixes)
    assert mixes.sum(axis=1).max() == 3.0
    partial = ((mixes > 0) & (mixes < 1)).sum(axis=1)
    assert partial.max() == 2
    light = surface_inks(4, 5, total_limit=3.0, sums=lambda mixes: mixes @ [0.5, 1, 1, 1])
    assert [1.0, 1.0, 1.0, 0.5] in light.tolist()
    assert (light @ [0.5, 1, 1, 1]).max() == 3.0
    assert len(surface_inks(4, 2)) == 16
    assert surface_inks(1, 3).tolist() == [[0], [0.5], [1]]
    many = surface_inks(12, 3, total_limit=3.0)
    assert ((many > 0) & (many < 1)).sum(axis=1).max() == 2
    assert many.sum(axis=1).max() == 3.0
    # Every overprint of up to three full inks, as far as the total lets it.
    assert ((many == 1) | (many == 0)).all(axis=1).sum() == 1 + 12 + 66 + 220
    with pytest.raises(InputError):
        surface_inks(25)


def graph():
    return [
        Node("a", "Readings <of> a chart", "sha256:0123456789abcdef", label="measured"),
        Node("b", "Condition", "sha256:fedcba9876543210", ("a",), "measured", "cond x.zip"),
        Node("c", "Planes", "", ("b",)),
        Node("d", "Drops", "", ("c",)),
        Node("e", "Verdict", "", ("d", "a"), "simulated"),
    ]


def boxes(svg):
    found = re.findall(r'<rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"', svg)
    return [tuple(map(float, box)) for box in found]


def test_lineage_runs_from_left_to_right_and_no_boxes_overlap():
    svg = lineage_graph(graph())
    ElementTree.fromstring(svg)
    places = boxes(svg)
    assert [x for x, *_ in places] == sorted(x for x, *_ in places)
    for i, (x, y, w, h) in enumerate(places):
        for x2, y2, *_ in places[i + 1 :]:
            assert abs(x - x2) >= w or abs(y - y2) >= h
    assert svg.count("marker-end") == 5
    assert "0123456789<" in svg
    assert "&lt;of&gt;" in svg
    assert svg == lineage_graph(graph())


def test_long_arrows_pass_beside_the_boxes():
    svg = lineage_graph(graph())
    places = boxes(svg)
    flat = re.findall(r" ([\d.]+),([\d.]+) H([\d.]+)", svg)
    assert len(flat) == 3
    for x0, y, x1 in (tuple(map(float, part)) for part in flat):
        for x, top, w, h in places:
            assert not (x < (x0 + x1) / 2 < x + w and top <= y <= top + h)


def test_lineage_refuses_circles_and_strangers():
    with pytest.raises(InputError, match="circle"):
        lineage_graph([Node("a", "A", inputs=("b",)), Node("b", "B", inputs=("a",))])
    with pytest.raises(InputError, match="unknown"):
        lineage_graph([Node("a", "A", inputs=("z",))])
    with pytest.raises(InputError, match="one key"):
        lineage_graph([Node("a", "A"), Node("a", "B")])


def test_names_of_axes_stand_clear_of_the_body():
    """A body whose yellow reaches high and far, as that of prints does: no word lies on it."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    yellow = BALL * [0.2, 0.2, 0.2] + [78, 0, 85]
    drawing = gamut_solid(np.vstack([BALL, yellow, BALL * [0.2, 0.3, 0.3] + [12, 5, -8]]), white_point())
    figure = Figure(figsize=drawing.size)
    canvas = FigureCanvasAgg(figure)
    drawing.draw(figure)
    canvas.draw()
    (axes,) = figure.axes
    faces = [path.transformed(axes.transData) for path in axes.collections[0].get_paths()]
    named = [text for text in axes.texts if text.get_text()]
    assert {"+b* yellow", "-a* green", "L*"} <= {text.get_text() for text in named}
    for text in named:
        box = text.get_window_extent(canvas.get_renderer())
        grid = np.stack(np.meshgrid(np.linspace(box.x0, box.x1, 9), np.linspace(box.y0, box.y1, 5)), -1)
        assert not any(face.contains_points(grid.reshape(-1, 2)).any() for face in faces), text.get_text()


def test_marks_show_what_was_read():
    """Steps as read stand where they were read, in both panels; an ink without has a line only."""
    from matplotlib.figure import Figure

    read = (np.array([0.5]), np.array([0.61]), np.array([23.0]))
    curves = [
        ToneCurve("C", "#0090d0", STEPS, STEPS, 50 * STEPS, read),
        ToneCurve("Y", "#ffe600", STEPS, STEPS, 30 * STEPS),
    ]
    figure = Figure()
    tone_curves(curves).draw(figure)
    for axes, value in zip(figure.axes, (61.0, 23.0), strict=True):
        marks = [line for line in axes.lines if line.get_marker() not in ("None", "", None)]
        assert [line.get_xydata().tolist() for line in marks] == [[[50.0, value]]]


def test_names_at_the_ends_of_lines_do_not_touch():
    from matplotlib.figure import Figure

    curves = [ToneCurve(f"Ink {k}", "#0090d0", STEPS, STEPS, (50 + 0.1 * k) * STEPS) for k in range(6)]
    figure = Figure()
    tone_curves(curves).draw(figure)
    axes = figure.axes[1]
    places = sorted(text.xy[1] for text in axes.texts)
    assert len(places) == 6
    low, high = axes.get_ylim()
    assert np.diff(places).min() >= 0.07 * (high - low)
    assert places[-1] <= high


def test_names_of_colours_keep_clear_of_each_other():
    """A cloud in the middle, a pair at the edge: no name on a name or a mark; a lone one stands outwards."""
    marks = [("cloth", (0.0, 3.0)), ("W", (2.0, 0.0)), ("K", (0.0, -2.0)), ("G", (-60.0, 10.0))]
    marks += [("C+Y", (-58.0, 18.0)), ("M", (75.0, -3.0))]
    places = name_places(marks, 200.0)
    at = np.array([place for _, place in marks]) * 230 / 200
    boxes = [
        (x + dx, y + dy, 3.75 * len(name), 6)
        for (name, _), (x, y), (dx, dy) in zip(marks, at, places, strict=True)
    ]
    boxes += [(x, y, 6, 6) for x, y in at]
    for number, one in enumerate(boxes[: len(marks)]):
        for other in [*boxes[:number], *boxes[number + 1 :]]:
            assert (
                abs(one[0] - other[0]) >= one[2] + other[2] - 1e-6
                or abs(one[1] - other[1]) >= one[3] + other[3] - 1e-6
            )
    assert places[-1][0] > 6
    assert abs(places[-1][1]) < 6


def test_every_panel_of_ramps_has_a_scale():
    """Six panels in rows of four: numbers below each, names of the axis at the end of each column."""
    from strikeoff.report.plots_ramps import RampPlot, ramp_panels

    plots = [RampPlot(f"i{k}", "#0090d0", STEPS, STEPS, 1.0) for k in range(6)]
    svg = ramp_panels(plots, "Tone", value_label="tone [%]", label="measured")
    assert svg.count(">ink [%]<") == 4
    assert len(re.findall(r">80<", svg)) == 2 + 6


def test_figures_on_patches_stand_out():
    """The better of dark and white type by WCAG's contrast, for colours of every lightness and hue."""
    from strikeoff.report.plots_lights import _EVEN_LUMINANCE, _luminance

    dark = _luminance(np.array([0x16, 0x23, 0x3A]))
    for rgb in np.stack(np.meshgrid(*[np.arange(0, 256, 51)] * 3), -1).reshape(-1, 3):
        own = _luminance(rgb)
        on_dark, on_white = (own + 0.05) / (dark + 0.05), 1.05 / (own + 0.05)
        chosen = on_dark if own > _EVEN_LUMINANCE else on_white
        assert chosen >= 0.99 * max(on_dark, on_white)
        assert chosen >= 3.9


def test_the_surface_goes_on_where_the_total_cuts_it_off():
    """Overprints of two and three that would pass the total lie on it, in every proportion: no notches."""
    mixes = surface_inks(3, 9, total_limit=1.5)
    full = mixes[np.abs(mixes.sum(axis=1) - 1.5) < 1e-6]
    assert mixes.sum(axis=1).max() <= 1.5 + 1e-9
    pairs = full[(full > 0).sum(axis=1) == 2]
    for first, second in ((0, 1), (0, 2), (1, 2)):
        share = np.sort(pairs[(pairs[:, [first, second]] > 0).all(axis=1)][:, first])
        assert share.min() < 0.55
        assert share.max() > 0.95
        assert np.diff(share).max() < 0.1
    assert ((full > 0).sum(axis=1) == 3).any()


def test_edges_of_the_surface_are_followed_in_small_steps():
    """An ink whose colour runs round the hue circle in its last tenth leaves no hue out."""
    mixes = surface_inks(3, 5, total_limit=2.5, edge_steps=65)
    edge = np.sort(mixes[(mixes[:, 0] == 1) & (mixes[:, 2] == 0)][:, 1])
    assert len(edge) == 65
    np.testing.assert_allclose(np.diff(edge), 1 / 64, atol=1e-9)
    assert mixes.sum(axis=1).max() <= 2.5 + 1e-9


def test_notes_of_ramps_stand_where_the_curve_leaves_room():
    """A curve that is high from the start fills the upper left corner, a sagging one the lower right."""
    from strikeoff.report.plots_ramps import RampPlot, ramp_panels

    def place(value):
        plot = RampPlot("C", "#00aadd", STEPS, value, 0.615, "a note")
        drawing = ramp_panels([plot], "Tone", value_label="tone [%]", label="measured")
        assert "C  61.5 %" in drawing or "61.5 %" in drawing
        return drawing

    high, low = place(STEPS**0.3), place(STEPS**3)
    spot = re.compile(r"a note</text>")
    assert spot.search(high)
    assert _text_place(high, "a note")[1] > _text_place(low, "a note")[1] + 50
    assert _text_place(high, "a note")[0] > _text_place(low, "a note")[0] + 50


def _text_place(drawing, words):
    """Return x and y (downward) of words in an SVG."""
    at = drawing.index(f">{words}<")
    tag = drawing[drawing.rindex("<text", 0, at) : at]
    found = re.search(r'x="([-\d.]+)" y="([-\d.]+)"', tag) or re.search(
        r"(?:translate|matrix)\(([-\d.]+)[ ,]+([-\d.]+)", tag
    )
    return float(found[1]), float(found[2])
