"""Profile, named colours, gamut and ink. Their limits are common practice; no source."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.colour import profile_to_lab
from strikeoff.artwork.records import CHANNELS
from strikeoff.base.errors import InputError
from strikeoff.condition.record import Condition
from strikeoff.intake.pictures import as_heat, reduced, shown, with_places
from strikeoff.intake.records import Finding, Picture
from strikeoff.intake.subject import Subject
from strikeoff.spot.compiled import SpotPrint

FloatArray = NDArray[np.float64]

#: From here a colour counts as out of gamut. [CIEDE2000]
OUT_DE00 = 2.0
_MUCH_OUT, _MUCH_INK, _AT_LIMIT = 0.01, 0.05, 0.97
_GREY_CHROMA = 6.0
_GREY_LIGHTNESS = (35.0, 72.0)


def profile_findings(subject: Subject) -> list[Finding]:
    """Look at the profile: missing, not usable, or strange."""
    artwork = subject.artwork
    picture = reduced(subject.picture, 320)
    found = []
    for problem in artwork.problems:
        if "embedded profile is not used" in problem.message:
            found.append(
                Finding(
                    "profile",
                    "warning",
                    problem.message,
                    problem.advice or "",
                    picture=picture,
                    caption="As it looks without the profile",
                )
            )
        elif "turned into CMYK" in problem.message or "overprint knock out" in problem.message:
            found.append(
                Finding(
                    "profile",
                    "warning",
                    problem.message,
                    problem.advice or "",
                    found=problem.found,
                    picture=picture,
                    caption="As it will be printed",
                )
            )
    if artwork.profile_origin == "none":
        found.append(
            Finding(
                "profile",
                "error",
                "CMYK without a profile has no known colour",
                "Ask which profile it was made for and name it with --assume-profile",
                found="none",
                expected="an embedded profile or output intent",
                picture=picture,
                caption="By a rule of thumb; the true colours are not known",
            )
        )
    elif artwork.profile_origin.startswith("assumed sRGB"):
        found.append(
            Finding(
                "profile",
                "warning" if artwork.kind == "rgb" else "note",
                f"{'RGB' if artwork.kind == 'rgb' else 'grey'} without a profile is taken for sRGB",
                "Ask in which space it was made; have it saved with its profile",
                found="none",
                expected="an embedded profile",
                picture=picture,
                caption="As sRGB",
            )
        )
    strange = _strange(subject)
    if strange is not None:
        found.append(
            Finding(
                "profile",
                "warning",
                f"the profile is strange: {strange}",
                "Compare with what the customer sees; ask for the profile that was meant",
                found=artwork.profile_origin,
                expected="a neutral middle grey for equal RGB",
                picture=picture,
                caption="As the profile says",
            )
        )
    return found


def _strange(subject: Subject) -> str | None:
    artwork = subject.artwork
    if artwork.profile is None or artwork.kind not in ("rgb", "grey"):
        return None
    ramp = np.repeat(np.array([[0.0], [0.5], [1.0]]), CHANNELS[artwork.kind], axis=1)
    try:
        lab = profile_to_lab(artwork.profile, artwork.kind, ramp)
    except InputError as error:
        return error.message
    if np.hypot(lab[1, 1], lab[1, 2]) > _GREY_CHROMA:
        return f"its middle grey has a cast of {np.hypot(lab[1, 1], lab[1, 2]):.0f}"
    if not _GREY_LIGHTNESS[0] <= lab[1, 0] <= _GREY_LIGHTNESS[1]:
        return f"its middle grey has a lightness of {lab[1, 0]:.0f}"
    if lab[2, 0] < 90 or lab[0, 0] > 30:
        return "its white is dark or its black is light"
    return None


def named_findings(subject: Subject) -> list[Finding]:
    """Say how each named colour will print."""
    found, channels = [], CHANNELS[subject.artwork.kind]
    for at, name in enumerate(subject.artwork.named):
        plane = subject.survey.small[..., channels + at]
        picture = reduced(as_heat(plane), 320)
        where = f"covers {100 * np.mean(plane > 0.004):.1f} % of the picture"
        if name in subject.swatches:
            found.append(_swatch_finding(name, subject.swatches[name], where, picture))
            continue
        ink = subject.named_inks.get(name)
        if ink is not None:
            solid = solid_lab(subject.condition, ink)
            found.append(
                Finding(
                    "named colours",
                    "note",
                    f"{name} prints with the ink {subject.condition.spaces.channels[ink]}, {where}",
                    "Make sure that this ink is meant",
                    found=f"full tone L* {solid[0]:.0f}, a* {solid[1]:.0f}, b* {solid[2]:.0f}",
                    picture=picture,
                    caption=f"Where {name} is printed",
                )
            )
            continue
        found.append(
            Finding(
                "named colours",
                "error",
                f"{name} has no ink of its name in this condition, {where}",
                "Match it to a recipe; or print the file's own alternate colour with --named fallback"
                if subject.artwork.page is not None
                else "Match it to a recipe, or have it turned into a process colour",
                found=name,
                expected=f"one of {', '.join(subject.condition.spaces.channels)}",
                picture=picture,
                caption=f"Where {name} would be missing",
            )
        )
    return found


def _swatch_finding(name: str, printed: SpotPrint | None, where: str, picture: Picture) -> Finding:
    caption = f"Where {name} is printed"
    if printed is None:
        words = f"{name} prints by its swatch, {where}"
        fix = "Compile the swatch book again to see how it prints"
        return Finding("named colours", "note", words, fix, picture=picture, caption=caption)
    light = f"{printed.illuminant}/{printed.observer}"
    colour = "L* {:.0f}, a* {:.0f}, b* {:.0f}".format(*printed.lab)
    lights = ", ".join(f"{name} {value:.1f}" for name, value in printed.lights_de00.items())
    is_off = printed.de00 is not None and printed.de00 > OUT_DE00
    far = "" if printed.de00 is None else f", CIEDE2000 {printed.de00:.2f} from its swatch"
    return Finding(
        "named colours",
        "warning" if is_off else "note",
        f"{name} prints by its swatch" + (", which is out of reach" if is_off else "") + f"; it {where}",
        "Show the customer the proof, or change the swatch"
        if is_off
        else "Make sure that this swatch is meant",
        found=f"full tint {colour} under {light}{far}" + (f"; under {lights}" if lights else ""),
        expected=f"within {OUT_DE00:g}" if printed.de00 is not None else "",
        picture=picture,
        caption=caption,
    )


def solid_lab(condition: Condition, ink: int) -> FloatArray:
    """Return predicted Lab, shape (3,), of an ink's full tone on the cloth, under the condition's light."""
    full = np.zeros((1, condition.n_inks))
    full[0, ink] = 1.0
    return np.asarray(condition.native.lab(full)[0])


def out_of_gamut_share(subject: Subject) -> float | None:
    """Return the share of the picture that the inks cannot reach within 2 CIEDE2000, or None."""
    return None if subject.need is None else float(np.mean(subject.need.error > OUT_DE00))


def gamut_findings(subject: Subject) -> list[Finding]:
    """Say how much of the picture cannot be reached, and in which direction it will move."""
    share, need = out_of_gamut_share(subject), subject.need
    if share is None or need is None or share == 0:
        return []
    words = "; ".join(
        f"L* {lab[0]:.0f} C* {np.hypot(lab[1], lab[2]):.0f} becomes {_direction(lab, reached)}"
        for lab, reached, _, _ in need.worst[:3]
    )
    return [
        Finding(
            "gamut",
            "warning" if share >= _MUCH_OUT else "note",
            f"{100 * share:.1f} % of the picture is out of gamut" + (f": {words}" if words else ""),
            "Show the customer the proof, choose another intent, or print it with more inks",
            found=f"up to {need.error.max():.1f} CIEDE2000",
            expected=f"within {OUT_DE00:g}",
            picture=reduced(with_places(shown(need.lab), need.error > OUT_DE00)),
            caption="What the inks cannot reach, marked",
        )
    ]


def _direction(lab: FloatArray, reached: FloatArray) -> str:
    words = []
    lighter, duller = reached[0] - lab[0], np.hypot(lab[1], lab[2]) - np.hypot(reached[1], reached[2])
    if abs(duller) > 2:
        words.append(f"{abs(duller):.0f} {'duller' if duller > 0 else 'more colourful'}")
    if abs(lighter) > 2:
        words.append(f"{abs(lighter):.0f} {'lighter' if lighter > 0 else 'darker'}")
    return " and ".join(words) or "a little different in hue"


def ink_figures(subject: Subject) -> tuple[float, float, float] | None:
    """Return highest and mean total ink over the limit, and the share of the picture close to it."""
    if subject.need is None:
        return None
    load = subject.need.total / subject.condition.limits.total
    return float(load.max()), float(load.mean()), float(np.mean(load >= _AT_LIMIT))


def ink_findings(subject: Subject) -> list[Finding]:
    """Say where the total ink limit is reached."""
    figures = ink_figures(subject)
    if figures is None or subject.need is None or figures[2] == 0:
        return []
    limit = subject.condition.limits.total
    is_over = figures[0] > 1.005
    return [
        Finding(
            "ink",
            "warning" if figures[2] >= _MUCH_INK or is_over else "note",
            f"{100 * figures[2]:.1f} % of the picture is at the total ink limit"
            + (
                ": named colours on top of process ones pass it, and process inks will yield"
                if is_over
                else ""
            ),
            "Allow for drying and strike-through, or choose lighter grounds",
            found=f"up to {100 * (figures[0] * limit):.0f} %, mean {100 * (figures[1] * limit):.0f} %",
            expected=f"at most {100 * limit:.0f} %",
            picture=_ink_picture(subject),
            caption="Total ink: white none, dark red the limit",
        )
    ]


def _ink_picture(subject: Subject) -> Picture:
    assert subject.need is not None
    return reduced(as_heat(subject.need.total / subject.condition.limits.total))
