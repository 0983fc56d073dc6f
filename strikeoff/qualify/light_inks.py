"""Which inks are pale ones of others, told by their ramps and names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.colour.cielab import lab_to_lch
from strikeoff.inks.records import Ink
from strikeoff.qualify.ramps import Ramp

FloatArray = NDArray[np.float64]

# Most density of a light ink against its dark one, without names that tell and with; least cosine between
# densities; most turn of hue [degrees]; chroma below which an ink is grey. Common practice, no source.
_PALE, _PALE_BY_NAME, _ALIKE, _TURN, _GREY = 0.7, 0.9, 0.95, 25.0, 12.0
# Inks that lay down less than this show no hue to compare. [density]
_LEAST_DENSITY = 0.03
# Reflectance above the cloth's that only a fluorescent ink has. Common practice, no source.
_GLOW = 0.05


def find_light_inks(inks: Sequence[Ink], ramps: Sequence[Ramp]) -> dict[int, int]:
    """Return the dark ink of each light one, by position.

    A light ink has the hue of another and much less density at full ink. Names count as well: c beside C,
    Lc or "light cyan" beside C or cyan.

    Parameters
    ----------
    inks : sequence of Ink
        Physical inks; white, clear, fluorescent and metallic ones are no light inks and have none,
        nor do inks that give back more light than the cloth.
    ramps : sequence of Ramp
        Their ramps, in that order.

    Returns
    -------
    dict of int to int
        Several may have one dark ink.

    Notes
    -----
    Densities are those of X, Y and Z above the cloth; of a diluted ink they keep their proportions, after
    the law of A. Beer (Ann. Phys. 162 (1852), 78-88).
    """
    roles = ("process", "extra", "light")
    plain = [n for n, ink in enumerate(inks) if ink.role in roles and not _glows(ramps[n])]
    depth = {n: np.log10(ramps[n].xyz[0] / np.maximum(ramps[n].xyz[-1], 1e-4)) for n in plain}
    size = {n: float(np.linalg.norm(depth[n])) for n in plain}
    found: dict[int, int] = {}
    for light in sorted(plain, key=lambda n: size[n]):
        if size[light] < _LEAST_DENSITY:
            continue
        fits: list[tuple[bool, float, int]] = []
        for dark in plain:
            named = _is_named_light(inks[light].name, inks[dark].name)
            alike = float(depth[light] @ depth[dark]) / max(size[light] * size[dark], 1e-12)
            paler = size[light] < (_PALE_BY_NAME if named else _PALE) * size[dark]
            if paler and alike > _ALIKE and _is_one_hue(ramps[light].lab[-1], ramps[dark].lab[-1]):
                fits.append((named, alike, dark))
        if fits:
            found[light] = max(fits)[2]
    return {light: _darkest(dark, found) for light, dark in found.items()}


def with_light_inks(inks: Sequence[Ink], pairs: dict[int, int]) -> tuple[tuple[Ink, ...], list[Problem]]:
    """Give light inks their role and say so.

    Of several light inks of one dark ink the first keeps the role, for a split takes one; the user is told
    about the others.
    """
    named = list(inks)
    problems: list[Problem] = []
    taken: set[int] = set()
    for light, dark in sorted(pairs.items()):
        pale, strong = inks[light].name, inks[dark].name
        if dark in taken:
            problems.append(
                Problem(
                    "note",
                    f"ink {pale}",
                    f"is a light ink of {strong} too, and stays an ink of its own",
                    expected="one light ink for each colour",
                    advice='Give it role = "light" and light_of by hand, and take them from the other one, '
                    "to split with this one",
                )
            )
            continue
        taken.add(dark)
        named[light] = replace(inks[light], role="light", light_of=strong)
        problems.append(
            Problem(
                "note",
                f"ink {pale}",
                f"is taken for the light ink of {strong}",
                found="the same hue, less density",
                advice="Run 'condition split' next; to calibrate it as an ink of its own, write "
                'role = "process" and take light_of out of the file',
            )
        )
    return tuple(named), problems


def light_ink_notes(inks: Sequence[Ink], pairs: dict[int, int]) -> list[Problem]:
    """Say which inks look light but are described as inks of their own, and how to change it."""
    return [
        Problem(
            "note",
            f"ink {inks[light].name}",
            f"looks like the light ink of {inks[dark].name} and is described as an ink of its own",
            found=f"role {inks[light].role}",
            advice=f'To split it, write role = "light" and light_of = "{inks[dark].name}" in the file',
        )
        for light, dark in sorted(pairs.items())
        if inks[light].role != "light"
    ]


def with_fluorescent_inks(
    inks: Sequence[Ink], ramps: Sequence[Ramp], *, described: bool
) -> tuple[tuple[Ink, ...], list[Problem]]:
    """Give inks that glow the role fluorescent, unless a file describes them, and say so.

    Parameters
    ----------
    inks : sequence of Ink
        Physical inks.
    ramps : sequence of Ramp
        Their ramps, in that order.
    described : bool
        Whether the roles are a person's: they stay, and a note says what to write.
    """
    named, problems = list(inks), []
    for n, (ink, ramp) in enumerate(zip(inks, ramps, strict=True)):
        if ink.role not in ("process", "extra", "light") or not _glows(ramp):
            continue
        if not described:
            named[n] = replace(ink, role="fluorescent", light_of=None)
        problems.append(
            Problem(
                "note",
                f"ink {ink.name}",
                f"gives back more light than the cloth and is described as role {ink.role}"
                if described
                else "gives back more light than the cloth and is taken for fluorescent",
                advice='Write role = "fluorescent": its look under other lights is then left undecided'
                if described
                else "Colours are separated into it with --process-ink only; "
                'to calibrate it as any other, write role = "extra" in the file',
            )
        )
    return tuple(named), problems


def _glows(ramp: Ramp) -> bool:
    """Whether an ink gives more light back than the cloth in some band and less in another: it glows."""
    if ramp.spectra is None:
        return False
    change = ramp.spectra[-1] - ramp.spectra[0]
    return bool(change.max() > _GLOW and change.min() < -_GLOW)


def _is_one_hue(light: FloatArray, dark: FloatArray) -> bool:
    (_, pale, hue_pale), (_, strong, hue_strong) = lab_to_lch(light), lab_to_lch(dark)
    if min(pale, strong) < _GREY:
        return bool(max(pale, strong) < _GREY)
    return bool(abs((hue_pale - hue_strong + 180.0) % 360.0 - 180.0) < _TURN)


def _darkest(dark: int, found: dict[int, int]) -> int:
    while dark in found:
        dark = found[dark]
    return dark


def _is_named_light(light: str, dark: str) -> bool:
    """Whether a name is that of the pale one of another.

    Examples
    --------
    >>> _is_named_light("c", "C"), _is_named_light("Light Cyan", "Cyan"), _is_named_light("Lm", "M")
    (True, True, True)
    >>> _is_named_light("C", "c"), _is_named_light("Cyan", "C"), _is_named_light("Lime", "M")
    (False, False, False)
    """
    if light.islower() and light.upper() == dark:
        return True
    words = light.lower().replace("-", " ").replace("_", " ").split()
    if len(words) > 1 and words[0] in ("light", "lt", "pale"):
        return dark.lower() in (" ".join(words[1:]), words[1][0])
    return len(dark) == 1 and light.lower() == f"l{dark.lower()}"
