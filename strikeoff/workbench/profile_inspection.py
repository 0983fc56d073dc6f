"""What is in an ICC profile; loads nothing that computes conditions."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes
from strikeoff.icc.inspect import inspect
from strikeoff.workbench.result import Result

_PROFILE_BYTES = 64 << 20


def inspect_profile(profile: str | Path) -> Result:
    """Say what is in an ICC profile and what is wrong with it.

    Parameters
    ----------
    profile : str or Path
        ICC profile.

    Returns
    -------
    Result
    """
    data = read_bytes(profile, _PROFILE_BYTES)
    try:
        found, problems = inspect(data)
    except InputError as error:
        error.path = error.path or str(profile)
        raise
    results = found | {"digest": digest_bytes(data)}
    return Result(results, tuple(problems), (), "done", _inspection_lines(results))


def _inspection_lines(found: dict[str, Any]) -> tuple[str, ...]:
    lines = [
        f"{found['description']}",
        f"version {found['version']}, {found['device_class']}, {found['colour_space']} to {found['pcs']}, "
        f"{found['bytes']} bytes",
    ]
    if found["viewing"]:
        lines.append(f"viewing: {found['viewing']}")
    if found["media_white_lab"] is not None:
        lines.append("media white L* {:.1f}  a* {:.1f}  b* {:.1f}".format(*found["media_white_lab"]))
    for table in found["tables"]:
        grid = "x".join(map(str, table["grid"])) or "no grid"
        lines.append(f"  {table['tag']}  {table['kind'].strip()}  {grid}  {table['bits']} bit")
    if found["round_trips"]:
        lines.append("to colour and back, CIEDE2000; perceptual and saturation move colours on purpose")
    for trip in found["round_trips"]:
        lines.append(
            f"  round trip {trip['intent']:<11} mean {trip['mean_de00']:.2f}  95 % {trip['p95_de00']:.2f}  "
            f"largest {trip['max_de00']:.2f}"
        )
    if found["ink_limit_percent"] is not None:
        lines.append(f"most ink in the tables {found['ink_limit_percent']:.0f} %")
    if found["black_point_lab"] is not None:
        lines.append("black point L* {:.1f}  a* {:.1f}  b* {:.1f}".format(*found["black_point_lab"]))
    return tuple(lines)
