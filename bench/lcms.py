"""lcms2 with more than four inks, which no Python package reaches: the library itself, by ctypes."""

from __future__ import annotations

import ctypes
import ctypes.util
from collections.abc import Callable
from typing import Any

import numpy as np

_LINK, _RGB, _A2B0 = 0x6C696E6B, 0x52474220, 0x41324230
_PIXEL_RGB, _PIXEL_INKS = 4 << 16 | 3 << 3, {5: 19, 6: 20, 7: 21, 8: 22}
_NO_CACHE = 0x0040


def rgb_to_inks(nodes: np.ndarray, sample: type) -> Callable[[np.ndarray], np.ndarray] | None:
    """Return lcms2's transform of RGB through a table (g, g, g, inks); None where lcms2 is absent."""
    name = ctypes.util.find_library("lcms2")
    if name is None:
        return None
    lib = ctypes.CDLL(name)
    for function in (
        "cmsPipelineAlloc", "cmsStageAllocCLut16bit", "cmsCreateProfilePlaceholder", "cmsCreateTransform"
    ):  # fmt: skip
        getattr(lib, function).restype = ctypes.c_void_p

    def pointer(value: Any) -> ctypes.c_void_p:
        return ctypes.c_void_p(value)

    grid, inks = nodes.shape[0], nodes.shape[-1]
    flat = np.ascontiguousarray(nodes).reshape(-1)
    pipeline = lib.cmsPipelineAlloc(None, 3, inks)
    stage = lib.cmsStageAllocCLut16bit(
        None, grid, 3, inks, flat.ctypes.data_as(ctypes.POINTER(ctypes.c_uint16))
    )
    lib.cmsPipelineInsertStage(pointer(pipeline), 1, pointer(stage))
    link = lib.cmsCreateProfilePlaceholder(None)
    lib.cmsSetProfileVersion(pointer(link), ctypes.c_double(4.3))
    lib.cmsSetDeviceClass(pointer(link), _LINK)
    lib.cmsSetColorSpace(pointer(link), _RGB)
    lib.cmsSetPCS(pointer(link), int.from_bytes(b"%dCLR" % inks, "big"))
    lib.cmsWriteTag(pointer(link), _A2B0, pointer(pipeline))
    size = np.dtype(sample).itemsize
    out_format = _PIXEL_INKS[inks] << 16 | inks << 3 | 2
    transform = lib.cmsCreateTransform(pointer(link), _PIXEL_RGB | size, None, out_format, 1, _NO_CACHE)
    if not transform:
        return None

    def run(pixels: np.ndarray) -> np.ndarray:
        out = np.empty((*pixels.shape[:2], inks), np.uint16)
        count = ctypes.c_uint32(pixels.shape[0] * pixels.shape[1])
        data = (array.ctypes.data_as(ctypes.c_void_p) for array in (pixels, out))
        lib.cmsDoTransform(pointer(transform), *data, count)
        return out

    return run
