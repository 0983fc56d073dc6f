"""Where artwork leaves the cloth bare, for conditions that print its white."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.opening import bare_codes
from strikeoff.artwork.records import Artwork
from strikeoff.condition.record import Condition
from strikeoff.raster.bands import BandSource


def printed_cover(record: Condition, artwork: Artwork) -> BandSource | None:
    """Return the coverage by which inks are laid; None where white is the cloth, or all is covered."""
    return None if record.white_recipe is None else artwork.cover


def white_codes(artwork: Artwork, source: BandSource) -> tuple[int, ...]:
    """Return the process samples of white, over which transparent artwork lies."""
    return bare_codes(artwork.kind, int(np.iinfo(source.dtype).max))


def opaque_samples(
    artwork: Artwork, samples: NDArray[np.float64], cover: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return samples 0-1 of a small picture, shape (h, w, channels), as if it were opaque throughout.

    ``cover``, shape (h, w, 1), is its mean over the same pixels.
    """
    white = np.array(white_codes(artwork, artwork.planes)) / np.iinfo(artwork.planes.dtype).max
    count = len(white)
    share = np.where(cover > 0, cover, 1.0)
    out = samples.copy()
    out[..., :count] = np.clip(white + (samples[..., :count] - white) / share, 0.0, 1.0)
    return out
