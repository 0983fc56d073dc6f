"""Palettes as TOML files that a person names the colours in."""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.unmix import MOST_COLOURS, Palette
from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes, write_text

SCHEMA = "strikeoff/palette/1"
_MOST_BYTES = 1 << 20


@dataclass(frozen=True)
class NamedPalette:
    """A palette whose colours have names.

    Attributes
    ----------
    palette : Palette
        The colours.
    names : tuple of str
        Unique.
    artwork : str
        Digest of the artwork that it was found in.
    """

    palette: Palette
    names: tuple[str, ...]
    artwork: str


def write_palette(
    path: str | Path,
    named: NamedPalette,
    lab: NDArray[np.float64],
    hexes: list[str],
    shares: NDArray[np.float64],
) -> None:
    """Write a palette; Lab, hex and shares are for people and are not read back."""
    palette = named.palette
    lines = [
        f'schema = "{SCHEMA}"',
        f'artwork = "{named.artwork}"',
        f'mixing = "{palette.mixing}"',
        f"noise_percent = {palette.noise * 100:.6g}",
    ]
    for k, name in enumerate(named.names):
        lines += [
            "",
            "[[colour]]",
            f"name = {json.dumps(name, ensure_ascii=False)}",
            f'hex = "{hexes[k]}"',
            f"lab = [{', '.join(f'{v:.2f}' for v in lab[k])}]",
            f"share_percent = {shares[k] * 100:.3f}",
            f"linear = [{', '.join(repr(float(v)) for v in palette.linear[k])}]",
        ]
    write_text(path, "\n".join(lines) + "\n")


def read_palette(path: str | Path) -> NamedPalette:
    """Read a palette.

    Raises
    ------
    StorageError
        When the file cannot be read.
    InputError
        When it is no palette.
    """
    data = read_bytes(path, _MOST_BYTES)
    try:
        document = tomllib.loads(data.decode("utf-8"))
        if document.get("schema") != SCHEMA:
            raise InputError("not a palette", found=str(document.get("schema"))[:40], expected=SCHEMA)
        rows = document["colour"]
        names = tuple(str(row["name"]) for row in rows)
        linear = np.array([[float(v) for v in row["linear"]] for row in rows])
        noise, mixing = float(document["noise_percent"]) / 100, str(document["mixing"])
        sound = (
            1 <= len(names) <= MOST_COLOURS
            and len(set(names)) == len(names)
            and linear.shape == (len(names), 3)
            and bool(np.isfinite(linear).all() and (linear >= 0).all() and (linear <= 1).all())
            and 1e-5 <= noise <= 0.2
            and mixing in ("linear", "encoded")
        )
        if not sound:
            raise ValueError("names, numbers or mixing out of range")
        return NamedPalette(Palette(linear, noise, mixing), names, str(document["artwork"]))
    except InputError as error:
        error.path = error.path or str(path)
        raise
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise InputError(
            "not a palette, or damaged",
            path=path,
            found=(str(error) or type(error).__name__)[:120],
            expected="a file written by 'artwork palette'",
        ) from error
