"""What a profile holds and what is wrong with it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, StrikeoffError
from strikeoff.base.problems import Problem
from strikeoff.colour.difference import delta_e_2000
from strikeoff.icc.curves import evaluate_curve
from strikeoff.icc.encoding import D50_XYZ, lab_from_xyz
from strikeoff.icc.evaluate import Intent, device_to_lab, lab_to_device, media_white
from strikeoff.icc.header import channels
from strikeoff.icc.luts import Clut, CurveLut, Curves, TableLut, stages
from strikeoff.icc.profile import Profile, profile_id, read_profile

FloatArray = NDArray[np.float64]

_TRIPS = 500
_INTENTS: tuple[Intent, ...] = ("perceptual", "relative", "saturation")
_ALWAYS = ("desc", "cprt")
_NEEDED = {
    "prtr": ("wtpt", "A2B0", "B2A0", "gamt"),
    "link": ("A2B0", "pseq"),
    "spac": ("wtpt", "A2B0", "B2A0"),
}


def inspect(data: bytes) -> tuple[dict[str, Any], list[Problem]]:
    """Return what is in a profile, as values that JSON can hold, and its problems.

    Parameters
    ----------
    data : bytes
        The profile.

    Raises
    ------
    InputError
        When the data are no profile, or cut off.
    """
    profile = read_profile(data)
    header = profile.header
    problems: list[Problem] = []
    results: dict[str, Any] = {
        "bytes": len(data),
        "version": f"{header.major}.{header.version >> 20 & 15}.{header.version >> 16 & 15}",
        "device_class": header.device_class.strip(),
        "colour_space": header.colour_space.strip(),
        "pcs": header.pcs.strip(),
        "date": "{:04d}-{:02d}-{:02d}T{:02d}:{:02d}:{:02d}".format(*header.date),
        "intent": header.intent,
        "description": _words(profile, "desc"),
        "copyright": _words(profile, "cprt"),
        "viewing": _words(profile, "vued"),
        "viewing_illuminant_xyz": _viewing(profile),
        "measured_white_xyz": _measured_white(profile),
        "tags": [{"name": n, "type": _kind(t), "bytes": len(t)} for n, t in profile.tags.items()],
        "tables": [],
        "media_white_xyz": None,
        "media_white_lab": None,
        "round_trips": [],
        "ink_limit_percent": None,
        "black_point_lab": None,
        "black_point_absolute_lab": None,
    }
    _check_structure(profile, data, problems)
    for name, tag in profile.tags.items():
        if _kind(tag).strip() in ("mft1", "mft2", "mAB", "mBA"):
            table = _attempt(lambda n=name: profile.decode(n), name, problems)
            if table is not None:
                results["tables"].append(_table(name, table))
    if header.device_class == "link":
        return results, problems
    white = _attempt(lambda: media_white(profile), "wtpt", problems)
    if white is not None:
        results["media_white_xyz"] = _rounded(white, 5)
        results["media_white_lab"] = _rounded(lab_from_xyz(white), 3)
    for intent in _INTENTS if "B2A0" in profile.tags else ("relative",):
        trip = _attempt(lambda i=intent: _round_trip(profile, i), intent, problems)
        if trip is not None:
            results["round_trips"].append(trip)
    if "B2A0" in profile.tags and header.colour_space not in ("RGB ", "GRAY"):
        results["ink_limit_percent"] = _attempt(lambda: _ink_limit(profile), "B2A", problems)
    black = _attempt(lambda: _black_points(profile), "black point", problems)
    if black is not None:
        results["black_point_lab"], results["black_point_absolute_lab"] = black
    return results, problems


def _check_structure(profile: Profile, data: bytes, problems: list[Problem]) -> None:
    header = profile.header
    needed = _ALWAYS + _NEEDED.get(header.device_class, ("wtpt",))
    missing = [name for name in needed if name not in profile.tags]
    if missing:
        problems.append(Problem("warning", "tags", "required tags are missing", expected=", ".join(missing)))
    size = int.from_bytes(data[:4], "big")
    if size != len(data):
        problems.append(Problem("warning", "header", "size is not the file's", str(size), str(len(data))))
    if header.major >= 4 and any(header.profile_id) and header.profile_id != profile_id(data[:size]):
        problems.append(
            Problem("warning", "header", "profile ID does not fit the content", advice="It was changed later")
        )
    if header.colour_space.endswith("CLR") and "clrt" not in profile.tags and header.device_class == "prtr":
        problems.append(Problem("warning", "tags", "the inks have no names", expected="clrt"))


def _attempt(work: Any, where: str, problems: list[Problem]) -> Any:
    """Return what some work gives, or None and a problem when the profile's data do not allow it."""
    try:
        return work()
    except StrikeoffError as error:
        problems.append(
            Problem("warning", error.where or where, error.message, error.found, error.expected, error.advice)
        )
        return None


def _kind(tag: bytes) -> str:
    return tag[:4].decode("latin-1")


def _words(profile: Profile, name: str) -> str | None:
    if name not in profile.tags:
        return None
    try:
        record = profile.decode(name)
    except InputError:
        return None
    text = getattr(record, "unicode_text", "") or getattr(record, "text", "")
    return str(text)


def _viewing(profile: Profile) -> list[float] | None:
    if "view" not in profile.tags:
        return None
    xyz = profile.decode("view").illuminant_xyz
    return _rounded(100.0 * xyz / xyz[1], 2) if xyz[1] > 0 else None


def _measured_white(profile: Profile) -> list[float] | None:
    """Return the white of the light under which the profile was measured, Y 100, from the adaptation tag."""
    if "chad" not in profile.tags:
        return None
    matrix = np.asarray(profile.decode("chad").values, float)
    if matrix.size != 9 or abs(np.linalg.det(matrix.reshape(3, 3))) < 1e-9:
        return None
    white = np.linalg.solve(matrix.reshape(3, 3), D50_XYZ)
    return _rounded(100.0 * white / white[1], 2)


def _table(name: str, table: TableLut | CurveLut) -> dict[str, Any]:
    codes = None if table.clut is None else table.clut.codes
    return {
        "tag": name,
        "kind": table.kind.strip(),
        "channels_in": table.n_in,
        "channels_out": table.n_out,
        "grid": [] if codes is None else list(codes.shape[:-1]),
        "bits": 16 if codes is None else 8 * codes.dtype.itemsize,
        "bytes": 0 if codes is None else int(codes.nbytes),
    }


def _round_trip(profile: Profile, intent: Intent) -> dict[str, Any]:
    """Return device to colour to device to colour, for random device values."""
    count = channels(profile.header.colour_space)
    device = np.random.default_rng(9).random((_TRIPS, count))
    # The tables to inks keep a total ink limit: only what their own inks give can come back.
    device = lab_to_device(profile, device_to_lab(profile, device, intent), intent)
    lab = device_to_lab(profile, device, intent)
    again = device_to_lab(profile, lab_to_device(profile, lab, intent), intent)
    error = delta_e_2000(lab, again)
    return {
        "intent": intent,
        "mean_de00": round(float(error.mean()), 3),
        "p95_de00": round(float(np.quantile(error, 0.95)), 3),
        "max_de00": round(float(error.max()), 3),
    }


def _ink_limit(profile: Profile) -> float | None:
    """Return the largest sum of inks that any table from colour gives at a node, in percent."""
    largest = [float(inks.sum(axis=-1).max()) for inks in table_inks(profile).values()]
    return round(100.0 * max(largest), 2) if largest else None


def table_inks(profile: Profile) -> dict[str, FloatArray]:
    """Return the inks at the nodes of each table from colour, by its tag: 0-1, shape (m, n_inks).

    Curves after the nodes are counted. A table of curves alone has no nodes and is left out.
    """
    found = {}
    for name in ("B2A0", "B2A1", "B2A2"):
        if name not in profile.tags:
            continue
        table = profile.decode(name)
        after = stages(table)
        at = next((k for k, stage in enumerate(after) if isinstance(stage, Clut)), None)
        if at is not None:
            codes = table.clut.codes
            inks = codes.reshape(-1, codes.shape[-1]) / float(np.iinfo(codes.dtype).max)
            for stage in after[at + 1 :]:
                if isinstance(stage, Curves):
                    columns = [evaluate_curve(curve, inks[:, k]) for k, curve in enumerate(stage.curves)]
                    inks = np.stack(columns, axis=1)
            found[name] = inks
    return found


def _black_points(profile: Profile) -> tuple[list[float], list[float]]:
    """Return relative and absolute Lab of what the profile makes of L* 0, or of its darkest device value."""
    if "B2A0" in profile.tags:
        device = lab_to_device(profile, [[0.0, 0.0, 0.0]], "relative")
    else:
        device = np.zeros((1, channels(profile.header.colour_space)))
    relative, absolute = (device_to_lab(profile, device, intent)[0] for intent in ("relative", "absolute"))
    return _rounded(relative, 3), _rounded(absolute, 3)


def _rounded(values: Any, digits: int) -> list[float]:
    return [round(float(v), digits) for v in np.ravel(values)]
