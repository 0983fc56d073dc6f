"""Names and colours of a profile's inks.

Version 4 writes the Lab of colorantTable in its own 16-bit encoding (only mft2 and ncl2 keep the legacy one,
ICC.1:2022 clause 6.3.4.2). In version 2, which knows no other, it is the legacy one; measured CMYK profiles
bear that out: only so do the colours equal those that A2B1 gives for the solids.
"""

from __future__ import annotations

from collections.abc import Sequence

from strikeoff.base.errors import InputError, RangeError
from strikeoff.icc.encoding import LabEncoding, codes16, lab_from_unit, unit_from_lab
from strikeoff.icc.profile import Profile
from strikeoff.icc.tags.clrt import Colorants

Colorant = tuple[str, tuple[float, float, float]]


def read_colorants(profile: Profile) -> tuple[Colorant, ...]:
    """Return name and media-relative Lab of each ink, in channel order.

    Raises
    ------
    InputError
        When the profile has no usable colorant table, or its PCS is not Lab.
    """
    record = profile.decode("clrt")
    if not isinstance(record, Colorants) or profile.header.pcs != "Lab ":
        raise InputError("no colorant table in Lab", where="clrt")
    colorants = []
    for name, codes in record.colorants:
        lab = lab_from_unit([code / 65535 for code in codes], _encoding(profile.header.major))
        colorants.append((name, (float(lab[0]), float(lab[1]), float(lab[2]))))
    return tuple(colorants)


def colorants_record(colorants: Sequence[Colorant], major_version: int) -> Colorants:
    """Return the record of name and media-relative Lab of inks, for a profile of a major version.

    Raises
    ------
    RangeError
        When a colour cannot be encoded.
    """
    rows = []
    for name, lab in colorants:
        try:
            first, second, third = (int(c) for c in codes16(unit_from_lab(lab, _encoding(major_version))))
        except RangeError:
            raise RangeError("colour cannot be encoded", where=f"clrt {name}", found=lab) from None
        rows.append((name, (first, second, third)))
    return Colorants(tuple(rows))


def _encoding(major_version: int) -> LabEncoding:
    return "legacy" if major_version < 4 else "v4"
