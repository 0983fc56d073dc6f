"""A made-up press with smooth, lopsided tables: every ink and every axis behaves differently."""

import functools
from types import SimpleNamespace

import numpy as np
import pytest

from strikeoff.icc.encoding import D50_XYZ, lab_from_xyz
from strikeoff.icc.output import TABLE_INTENTS, output_profile
from strikeoff.icc.output_tables import A2BTable, Axis, B2ATable, axis_nodes, curve_nodes, straight_axis

DATE = (2024, 2, 29, 12, 34, 56)
WHITE = np.array([0.83, 0.85, 0.68])
CHAD = np.array([[1.05, 0.02, -0.05], [0.03, 0.99, -0.01], [-0.01, 0.01, 0.75]])

# XYZ transmittance of each full ink: cyan, magenta, yellow, black, orange, green.
_TINTS = np.array(
    [[0.2, 0.3, 0.8], [0.4, 0.2, 0.3], [0.9, 0.95, 0.1], [0.05, 0.05, 0.05], [0.7, 0.5, 0.1], [0.3, 0.6, 0.3]]
)
_SLOPES = np.array([[-3, -4, -2], [-2, 5, 1], [0.5, 1, 5], [-8, 0.3, 0.2], [-1, 3, 4], [-1, -5, 2]])


def press_lab(inks):
    """Media-relative Lab of ink values (n, n_inks)."""
    inks = np.asarray(inks, float)
    n = inks.shape[-1]
    return lab_from_xyz(D50_XYZ * np.prod(1 - inks[..., None] * (1 - _TINTS[:n]), axis=-2))


def press_inks(lab, n):
    """Ink values of Lab: not the inverse, just smooth and different for each axis and ink."""
    centred = (np.asarray(lab, float) - [50, 0, 0]) / [50, 128, 128]
    return 0.5 + 0.5 * np.tanh(centred @ _SLOPES[:n].T * 0.4)


def press_alarm(lab):
    """Gamut function (n, 1): 0 within a slanted ellipse."""
    lab = np.asarray(lab, float)
    return np.clip(np.hypot(lab[..., 1:2] - 10, lab[..., 2:3] / 1.5) / 60 - 1, 0, 1)


AXES = (
    Axis(np.array([0, 30, 100.0]), np.array([0, 0.4, 1.0])),
    straight_axis(-100, 110),
    Axis(np.array([-128, -20, 20, 127.0]), np.array([0, 0.3, 0.6, 1.0])),
)


def tables(n, grid_a2b, grid_b2a):
    curve = np.linspace(0, 1, 257) ** np.linspace(0.7, 1.2, n)[:, None]
    knots = [curve_nodes(row, grid_a2b) for row in curve]
    a2b = A2BTable(press_lab(np.stack(np.meshgrid(*knots, indexing="ij"), axis=-1)), curve)
    nodes = [axis_nodes(axis, grid_b2a) for axis in AXES]
    lab = np.stack(np.meshgrid(*nodes, indexing="ij"), axis=-1)
    out = np.linspace(0, 1, 33) ** np.linspace(0.8, 1.3, n)[:, None]
    inks = press_inks(lab, n)
    grid = np.stack([np.interp(inks[..., i], out[i], np.linspace(0, 1, 33)) for i in range(n)], axis=-1)
    b2a = B2ATable(grid, AXES, out)
    gamut = B2ATable(press_alarm(lab), AXES)
    return SimpleNamespace(a2b=a2b, b2a=b2a, gamut=gamut, knots=np.array(knots), nodes=nodes)


def arguments(version, space, made, **changes):
    n = made.a2b.grid.ndim - 1
    paper = B2ATable(made.b2a.grid * 0.5, made.b2a.axes, made.b2a.output_curves)
    values = {
        "version": version,
        "colour_space": space,
        "description": "Made-up press, Grün",
        "copyright_text": "Public domain",
        "white_xyz": WHITE,
        "chad": CHAD,
        "a2b": dict.fromkeys(TABLE_INTENTS, made.a2b),
        "b2a": {"perceptual": made.b2a, "relative": made.b2a, "saturation": paper},
        "gamut": made.gamut,
        "targ": "CGATS.17\nNUMBER_OF_SETS 0\n",
        "date": DATE,
        "technology": "ijet",
        "viewing": "Booth",
    }
    if space.endswith("CLR"):
        names = ["Cyan", "Magenta", "Yellow", "Black", "Orange", "Green"][:n]
        full = press_lab(np.eye(n))
        values["colorants"] = [(name, tuple(lab)) for name, lab in zip(names, full.tolist(), strict=True)]
    return values | changes


@functools.cache
def made_tables(space):
    return {
        "CMYK": lambda: tables(4, 9, 17),
        "6CLR": lambda: tables(6, 5, 9),
        "GRAY": lambda: tables(1, 33, 9),
        "RGB": lambda: tables(3, 17, 17),
    }[space]()


@functools.cache
def made_profile(version, space):
    return output_profile(**arguments(version, space, made_tables(space)))


@pytest.fixture(scope="session")
def press():
    """The made-up press's functions and profiles."""
    return SimpleNamespace(
        lab=press_lab,
        inks=press_inks,
        alarm=press_alarm,
        tables=made_tables,
        profile=made_profile,
        arguments=arguments,
        white=WHITE,
        chad=CHAD,
        date=DATE,
    )


_INTENTS = {"perceptual": 0, "relative": 1, "saturation": 2, "absolute": 3}


class Reference:
    """The ICC's reference implementation, float."""

    def __init__(self, folder):
        self._folder = folder

    def _engine(self, data, intent, source, target, first, tetrahedral):
        import iccdev

        path = self._folder / "profile.icc"
        path.write_bytes(data)
        engine = iccdev.IccCmm(getattr(iccdev.ColorSpace, source), getattr(iccdev.ColorSpace, target), first)
        engine.attach(str(path), intent=_INTENTS[intent], interp=int(tetrahedral))
        engine.begin()
        return engine

    def to_lab(self, data, device, intent, *, tetrahedral=False):
        engine = self._engine(data, intent, "Unknown", "Lab", True, tetrahedral)
        unit = engine.apply_ndarray(np.ascontiguousarray(device, np.float32))
        return np.asarray(unit, float) * [100, 255, 255] - [0, 128, 128]

    def from_lab(self, data, lab, intent, *, tetrahedral=False):
        engine = self._engine(data, intent, "Lab", "Unknown", False, tetrahedral)
        unit = np.add(lab, [0, 128, 128]) / [100, 255, 255]
        return np.asarray(engine.apply_ndarray(np.ascontiguousarray(unit, np.float32)), float)


@pytest.fixture
def reference(tmp_path):
    return Reference(tmp_path)
