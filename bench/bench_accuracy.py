"""Held-out accuracy against radial-basis interpolation; what comes back from inks and profiles."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from threadpoolctl import threadpool_limits

from bench.data import Case
from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.inverse import solve
from strikeoff.model.validation import interpolation_errors, patch_groups, split_recipes


def held_out(case: Case) -> list[dict[str, Any]]:
    """Return mean and 95th percentile by split and group, model and baseline on the same splits."""
    condition = case.condition
    lab = condition.native.view.lab(condition.forward.bands)
    splits = list(split_recipes(len(case.recipes)))
    cuts = np.cumsum([len(test) for _, test in splits])[:-1]
    mine = np.split(condition.validation.errors, cuts)
    with threadpool_limits(1, user_api="blas"):
        plain = [interpolation_errors(case.recipes, lab, train, test) for train, test in splits]
    rows = [
        _row(case.name, f"all, split {number + 1}", mine[number], plain[number])
        for number in range(len(splits))
    ]
    index = np.concatenate([test for _, test in splits])
    every, base = np.concatenate(mine), np.concatenate(plain)
    for name, mask in patch_groups(case.recipes, lab).items():
        rows.append(_row(case.name, name, every[mask[index]], base[mask[index]]))
    return rows


def round_trips(case: Case) -> list[dict[str, Any]]:
    """Return colour differences of in-gamut colours through the inverse and through the profile."""
    import imagecodecs
    from PIL import ImageCms

    condition = case.condition
    inks = condition.limits.random(5000, np.random.default_rng(1))
    lab = condition.native.lab(inks)
    solve(condition.inverse, lab[:10])
    start = time.perf_counter()
    found = solve(condition.inverse, lab)
    rate = len(lab) / (time.perf_counter() - start)
    relative = condition.connection.to_relative(lab)
    profile = condition.profiles[4]
    space = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    codes = imagecodecs.cms_transform(
        relative[None], space, profile, colorspace="lab", outcolorspace="cmyk", outdtype="uint16", intent=1
    )
    back = imagecodecs.cms_transform(
        codes, profile, space, colorspace="cmyk", outcolorspace="lab", outdtype="float64", intent=1
    )[0]
    return [
        _figures(case.name, "inverse, exact model", found.de00) | {"note": f"{rate:.0f} colours/s"},
        _figures(case.name, "B2A1 then A2B1, 16 bit, lcms2", delta_e_2000(relative, back)) | {"note": ""},
    ]


def _row(data: str, group: str, mine: np.ndarray, plain: np.ndarray) -> dict[str, Any]:
    return {
        "data": data,
        "group": group,
        "patches": len(mine),
        "model mean": f"{mine.mean():.3f}",
        "model 95 %": f"{np.percentile(mine, 95):.3f}",
        "baseline mean": f"{plain.mean():.3f}",
        "baseline 95 %": f"{np.percentile(plain, 95):.3f}",
    }


def _figures(data: str, path: str, error: np.ndarray) -> dict[str, Any]:
    return {
        "data": data,
        "path": path,
        "mean": f"{error.mean():.3f}",
        "95 %": f"{np.percentile(error, 95):.3f}",
        "max": f"{error.max():.3f}",
    }
