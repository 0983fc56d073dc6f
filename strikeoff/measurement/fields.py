"""What a column holds, told from its name."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field

from strikeoff.base.errors import InputError

_IDS = (
    "SAMPLE_ID",
    "SAMPLEID",
    "SAMPLE_NAME",
    "SAMPLENAME",
    "PATCH_ID",
    "PATCH_NAME",
    "PATCH",
    "SAMPLE",
    "ID",
    "NAME",
)
#: Column of the number of readings that a row is the mean of.
AVERAGED = "READINGS"
_LAB = {f"{prefix}_{axis}": i for prefix in ("LAB", "CIELAB", "CIE") for i, axis in enumerate("LAB")}
_XYZ = {f"{prefix}_{axis}": i for prefix in ("XYZ", "CIEXYZ", "CIE") for i, axis in enumerate("XYZ")}
_BARE = {"LAB": ("L", "A", "B"), "XYZ": ("X", "Y", "Z"), "CMYK": ("C", "M", "Y", "K")}
_SPECTRAL = re.compile(
    r"^(?:SPECTRAL|SPECTRUM|SPEC|REFLECTANCE|REFL|R)?_?(?P<scale>DEC|PCT)?_?(?:NM|LAMBDA)?_?"
    r"(?P<nm>[1-9]\d{2,3}(?:[.,]\d+)?)_?(?:NM)?$"
)
# What plainly is meant as a wavelength although none is told: nmX, SPECTRAL_NM, nm-7O0.
_SPECTRAL_LIKE = re.compile(r"^(?:SPECTRAL|SPECTRUM|(?:SPECTRAL_)?(?:NM|LAMBDA))(?:_|\d|[A-Z]?$)")
_PAIR_NM = re.compile(r"^SPECTRAL_NM(?:_?\d{1,2})?$")
_PAIR_VALUE = re.compile(r"^SPECTRAL_(DEC|PCT)(?:_?\d{1,2})?$")
_COLOURS = re.compile(r"^(?:PC([0-9]{1,2})|([0-9]{1,2}|[A-F])(?:CLR|C|COLOR))_([0-9]{1,2}|[A-F])$")
# CMYK and its extensions: the prefix spells the inks, the ending picks one.
_LETTERS = re.compile(r"^([CMYKRGBOVWL]{3,12})_([CMYKRGBOVWL])$")
_LETTER_ORDER = "CMYKRGBOVWL"


@dataclass
class Fields:
    """Positions of the columns that hold what is needed.

    Attributes
    ----------
    sample_id : int or None
        Column of the patch name.
    averaged : int or None
        Column of the number of readings that a row is the mean of.
    inks : dict of str to int
        Ink column name (upper case) to position, in ink order.
    lab, xyz : tuple of three int, or None
    spectral : dict of float to int
        Wavelength [nm] to position.
    pairs : list of (int, int)
        Positions of wavelength and value where wavelengths stand in the cells.
    spectral_scale : {"DEC", "PCT"} or None
        Unit or percent, where the names say so.
    other_inks : tuple of str
        Names of further ink groups that are not used.
    unread_spectral : tuple of str
        Names that look like wavelengths of a spectrum but tell none.
    faults : dict of str to InputError
        Groups (``inks``, ``lab``, ``xyz``) that lack a column; they count as absent.
    """

    sample_id: int | None = None
    averaged: int | None = None
    inks: dict[str, int] = field(default_factory=dict)
    lab: tuple[int, int, int] | None = None
    xyz: tuple[int, int, int] | None = None
    spectral: dict[float, int] = field(default_factory=dict)
    pairs: list[tuple[int, int]] = field(default_factory=list)
    spectral_scale: str | None = None
    other_inks: tuple[str, ...] = ()
    unread_spectral: tuple[str, ...] = ()
    faults: dict[str, InputError] = field(default_factory=dict)

    @property
    def has_colour(self) -> bool:
        """Whether spectra, XYZ or Lab are there."""
        return bool(self.spectral or self.pairs or self.xyz or self.lab)

    @property
    def count(self) -> int:
        """How many columns are known."""
        return (
            (self.sample_id is not None)
            + len(self.inks)
            + 3 * (self.lab is not None)
            + 3 * (self.xyz is not None)
            + len(self.spectral)
            + 2 * len(self.pairs)
        )


def normal_name(name: str) -> str:
    """Return a column name in upper case with underscores and without stars.

    Examples
    --------
    >>> normal_name(" cmyk c"), normal_name("SampleID"), normal_name("Spectral-nm380"), normal_name("Lab_a*")
    ('CMYK_C', 'SAMPLEID', 'SPECTRAL_NM380', 'LAB_A')
    """
    return re.sub(r"[\s\-]+", "_", name.replace("*", "").strip().strip('"').strip()).upper()


def classify(names: list[str], where: str = "") -> Fields:
    """Tell what each column holds.

    Raises
    ------
    InputError
        When a column of a known kind occurs twice.

    Examples
    --------
    >>> found = classify(["SampleID", "CMYK_K", "CMYK_C", "CMYK_M", "CMYK_Y", "nm380", "nm390"])
    >>> list(found.inks), found.spectral
    (['CMYK_C', 'CMYK_M', 'CMYK_Y', 'CMYK_K'], {380.0: 5, 390.0: 6})
    """
    normal = [normal_name(name) for name in names]
    _refuse_twins(normal, where)
    found = Fields()
    at = {name: position for position, name in reversed(list(enumerate(normal)))}
    found.sample_id = next((at[name] for name in _IDS if name in at), None)
    found.averaged = at.get(AVERAGED)
    found.lab = _triple(normal, _LAB, "LAB", where, found.faults)
    found.xyz = _triple(normal, _XYZ, "XYZ", where, found.faults)
    _spectral_columns(normal, found)
    _ink_columns(normal, found, where)
    return found


def _triple(
    normal: list[str], names: dict[str, int], group: str, where: str, faults: dict[str, InputError]
) -> tuple[int, int, int] | None:
    places: dict[int, int] = {}
    for position, name in enumerate(normal):
        if name in names:
            places.setdefault(names[name], position)
    if not places and all(name in normal for name in _BARE[group]):
        places = {i: normal.index(name) for i, name in enumerate(_BARE[group])}
    if not places:
        return None
    if len(places) < 3:
        lacking = ", ".join(f"{group}_{group[i]}" for i in range(3) if i not in places)
        raise InputError(
            f"{group} columns are not complete",
            where=where or None,
            found=", ".join(name for name in normal if name in names),
            expected=f"{lacking} too",
            advice=f"Export all three {group} columns",
        )
    return places[0], places[1], places[2]


def _spectral_columns(normal: list[str], found: Fields) -> None:
    scales: set[str] = set()
    pending: int | None = None
    unread: list[str] = []
    for position, name in enumerate(normal):
        if _PAIR_NM.match(name):
            pending = position
            continue
        pair = _PAIR_VALUE.match(name)
        if pair and pending is not None:
            found.pairs.append((pending, position))
            scales.add(pair.group(1))
            pending = None
            continue
        match = _SPECTRAL.match(name)
        if match:
            wavelength = float(match.group("nm").replace(",", "."))
            if 200 <= wavelength <= 2500:
                found.spectral.setdefault(wavelength, position)
                if match.group("scale"):
                    scales.add(match.group("scale"))
                continue
        if _SPECTRAL_LIKE.match(name):
            unread.append(name)
    found.spectral = dict(sorted(found.spectral.items()))
    if len(found.spectral) < 2:
        found.spectral = {}
    else:
        found.unread_spectral = tuple(unread)
    if len(scales) == 1:
        found.spectral_scale = scales.pop()


def _ink_columns(normal: list[str], found: Fields, where: str) -> None:
    groups: dict[str, dict[str, int]] = {}
    for position, name in enumerate(normal):
        letters, colours = _LETTERS.match(name), _COLOURS.match(name)
        if letters and letters.group(2) in letters.group(1):
            groups.setdefault(letters.group(1), {}).setdefault(name, position)
        elif colours:
            groups.setdefault(name.rsplit("_", 1)[0], {}).setdefault(name, position)
    if not groups and all(name in normal for name in _BARE["CMYK"]):
        groups["CMYK"] = {name: normal.index(name) for name in _BARE["CMYK"]}
    if not groups:
        return
    # Screen RGB beside ink columns is a preview, not what was printed.
    chosen = next((prefix for prefix in groups if prefix != "RGB"), "RGB")
    inks = groups.pop(chosen)
    wanted = _declared_count(chosen, next(iter(inks)))
    if len(inks) != wanted:
        found.faults["inks"] = InputError(
            "ink columns are not complete",
            where=where or None,
            found=", ".join(inks),
            expected=f"{wanted} columns {chosen}_...",
            advice="Add the missing ink column to the readings",
        )
        return
    found.inks = dict(sorted(inks.items(), key=lambda item: _ink_order(item[0])))
    found.other_inks = tuple(groups)


def _declared_count(prefix: str, name: str) -> int:
    colours = _COLOURS.match(name)
    if colours is None:
        return len(prefix)
    digits = colours.group(1) or colours.group(2)
    return int(digits, 16) if digits.isalpha() else int(digits)


def _ink_order(name: str) -> tuple[int, str]:
    ending = name.rsplit("_", 1)[-1]
    if ending.isdigit():
        return int(ending), ending
    return (_LETTER_ORDER.find(ending) if "CLR" not in name else int(ending, 16)), ending


def _refuse_twins(normal: list[str], where: str) -> None:
    bare = {name for group in _BARE.values() if all(name in normal for name in group) for name in group}
    twins = [
        name
        for name, count in Counter(normal).items()
        if count > 1
        and (name in _LAB or name in _XYZ or name in bare or _LETTERS.match(name) or _COLOURS.match(name))
    ]
    wavelengths = Counter(match.group("nm") for name in normal if (match := _SPECTRAL.match(name)))
    twins += [f"{nm} nm" for nm, count in wavelengths.items() if count > 1]
    if twins:
        raise InputError(
            "column occurs more than once",
            where=where or None,
            found=", ".join(twins[:10]),
            expected="each column once",
            advice="Remove or rename one of them",
        )
