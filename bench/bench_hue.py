"""Which space keeps Munsell hues on one angle: the ground on which the space of gamut mapping is chosen.

Lines of constant Munsell hue (renotation, real colours of value 2 to 9 and chroma 4 or more) should
have one hue angle each. Reported per space: the root mean square departure from each hue's own mean
angle, in degrees and in Munsell hue steps (a 40th of the circle, measured in the space itself, so that
a stretched circle gains nothing), and the worst hue.

Source: S. M. Newhall, D. Nickerson, D. B. Judd, J. Opt. Soc. Am. 33 (1943) 385, as colour-science
carries it (illuminant C, 2 degrees), adapted to D65 by Bradford.

Run: python bench/bench_hue.py
"""

from __future__ import annotations

from typing import Any

import numpy as np

from strikeoff.colour.adaptation import adapt
from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.colour.oklab import xyz_to_oklab

LETTERS = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")
HUES = tuple(f"{number:g}{letters}" for letters in LETTERS for number in (2.5, 5, 7.5, 10))
D65 = np.array([0.95047, 1.0, 1.08883])
_ILLUMINANT_C = np.array([0.98074, 1.0, 1.18232])


def munsell_loci() -> tuple[np.ndarray, np.ndarray]:
    """Return XYZ under D65, shape (n, 3), and the number of the hue of each colour, 0-39."""
    from colour.notation import MUNSELL_COLOURS

    number, xyz = [], []
    for (hue, value, chroma), (x, y, luminance) in MUNSELL_COLOURS["real"]:
        if 2 <= value <= 9 and chroma >= 4:
            number.append(HUES.index(f"{float(hue.rstrip('RYGBP')):g}{hue.lstrip('0123456789.')}"))
            xyz.append([x / y, 1.0, (1 - x - y) / y] * np.array(luminance / 102.57))
    return adapt(np.array(xyz), _ILLUMINANT_C, D65), np.array(number)


def spaces() -> dict[str, Any]:
    """Return name to function from XYZ (D65, Y = 1 for white) to lightness and two opponent axes."""
    import colour

    def of(name, *arguments):
        return lambda xyz: np.asarray(getattr(colour, name)(xyz, *arguments))

    def cam16(xyz):
        cam = colour.XYZ_to_CAM16(xyz * 100, D65 * 100, 64 / np.pi * 0.2, 20.0)
        return colour.JMh_CAM16_to_CAM16UCS(np.stack([cam.J, cam.M, cam.h], axis=-1))

    return {
        "CIELAB": lambda xyz: xyz_to_lab(xyz, D65),
        "CIELUV": of("XYZ_to_Luv", [0.3127, 0.3290]),
        "Oklab": lambda xyz: xyz_to_oklab(xyz, D65),
        "IPT": of("XYZ_to_IPT"),
        "ICtCp": lambda xyz: np.asarray(colour.XYZ_to_ICtCp(xyz * 203.0, [0.3127, 0.3290])),
        "JzAzBz": lambda xyz: np.asarray(colour.XYZ_to_Jzazbz(xyz * 203.0)),
        "CAM16-UCS": cam16,
        "sUCS": of("XYZ_to_sUCS"),
    }


def hue_departures(opponent: np.ndarray, number: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the root mean square departure of each hue, shape (40,), in degrees and in hue steps."""
    angle = np.arctan2(opponent[:, 2], opponent[:, 1])
    unit = np.exp(1j * angle)
    mean = np.array([unit[number == k].sum() for k in range(len(HUES))])
    mean /= np.abs(mean)
    spread = np.angle(unit / mean[number])
    degrees = np.degrees([np.sqrt((spread[number == k] ** 2).mean()) for k in range(len(HUES))])
    steps = np.abs(np.degrees(np.angle(np.roll(mean, -1) / np.roll(mean, 1)))) / 2
    return degrees, degrees / steps


def run() -> list[dict[str, Any]]:
    """Return a row per space, the most constant first."""
    xyz, number = munsell_loci()
    rows = []
    for name, function in spaces().items():
        degrees, steps = hue_departures(np.asarray(function(xyz)), number)
        worst = int(steps.argmax())
        rows.append(
            {
                "bench": "hue",
                "method": name,
                "degrees": round(float(np.sqrt((degrees**2).mean())), 3),
                "steps": round(float(np.sqrt((steps**2).mean())), 4),
                "worst_hue": HUES[worst],
                "worst_steps": round(float(steps[worst]), 4),
                "worst_degrees": round(float(degrees[worst]), 2),
            }
        )
    return sorted(rows, key=lambda row: row["steps"])


if __name__ == "__main__":
    for row in run():
        print(row)
