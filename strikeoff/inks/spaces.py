"""The two ink spaces: calibrated ink, and what the heads lay down for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.canonical import digest_bytes, digest_value
from strikeoff.base.errors import InputError
from strikeoff.inks.laydown import laydown_ml_m2
from strikeoff.inks.records import Ink, Screen, ink_from_record, plain_inks
from strikeoff.inks.tables import FULL, Codes, checked_curves, full_table, look_up, straight_curves

FloatArray = NDArray[np.float64]

#: Digest of curves that lay every ink down as it is.
IDENTITY = "identity"

_DAMAGE = (AttributeError, IndexError, KeyError, OverflowError, TypeError, ValueError)


@dataclass(frozen=True)
class InkSpaces:
    """From calibrated ink to laid-down ink: tone curves, light-ink split, drop curves, total.

    Attributes
    ----------
    channels : tuple of str
        Calibrated inks in column order.
    inks : tuple of Ink
        Physical inks; each serves the channel of its name, or a light ink that of its dark one.
    tone : ndarray of uint16, shape (n_channels, NODES)
        Calibrated ink to amount of the colour; ends at the ink limit.
    split : ndarray of uint16, shape (n_inks, NODES)
        Amount of the colour to laid-down amount of each physical ink.
    drops : ndarray of uint16, shape (n_inks, levels, NODES)
        Laid-down amount to share of the pixels with at least that level.
    screen : Screen, optional
        What the curves were made for.
    total : float
        Most of all inks in one place, laid down: volumes times weights, 1 = the full tone of the
        heaviest ink. [-]
    aim : str
        Tone aim of the curves.
    stale : tuple of str
        What changed since the tone curves were made; empty while they hold.
    """

    channels: tuple[str, ...]
    inks: tuple[Ink, ...]
    tone: Codes
    split: Codes
    drops: Codes
    screen: Screen | None = None
    total: float = field(kw_only=True)
    aim: str = "identity"
    stale: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "tone", checked_curves(self.tone, "tone curves"))
        object.__setattr__(self, "split", checked_curves(self.split, "light-ink split", rising=False))
        object.__setattr__(self, "drops", checked_curves(self.drops, "drop curves"))
        names = [ink.name for ink in self.inks]
        if len(set(names)) != len(names) or len(set(self.channels)) != len(self.channels):
            raise InputError("ink names must differ", found=", ".join(names))
        if not set(self.channels) <= set(names) or {ink.channel for ink in self.inks} != set(self.channels):
            raise InputError(
                "inks do not fit the calibrated inks",
                found=", ".join(names),
                expected=f"one for each of {', '.join(self.channels)}, and light inks of these",
            )
        shapes = (len(self.tone), len(self.split), len(self.drops), self.drops.ndim)
        if shapes != (len(self.channels), len(names), len(names), 3):
            raise InputError("one curve for each ink is needed", found=shapes)
        if self.drops.shape[1] < max(ink.levels for ink in self.inks):
            raise InputError("drop curves lack a level", found=self.drops.shape[1])
        if not (np.isfinite(self.total) and self.total > 0):
            raise InputError("total ink limit must be above 0", found=self.total)
        if not any(ink.weight for ink in self.inks):
            raise InputError("no ink counts in the total: all weights are 0")

    @property
    def is_plain(self) -> bool:
        """Whether nothing is known beyond the names of the inks and the total."""
        return self.is_identity and self.inks == plain_inks(self.channels) and self.screen is None

    @property
    def source(self) -> tuple[int, ...]:
        """Channel of each physical ink."""
        return tuple(self.channels.index(ink.channel) for ink in self.inks)

    @cached_property
    def is_straight(self) -> bool:
        """Whether every calibrated ink is laid down in the amount that was asked for."""
        straight = straight_curves(1)[0]
        in_order = self.source == tuple(range(len(self.inks)))
        return in_order and bool((self.tone == straight).all() and (self.split == straight).all())

    @property
    def is_identity(self) -> bool:
        """Whether that is so, in drops of one size."""
        one_size = bool((self.drops[:, 0] == straight_curves(1)[0]).all()) and self.drops.shape[1] == 1
        return self.is_straight and one_size

    @property
    def curves_digest(self) -> str:
        """Digest of all curves with their inks and screen; ``identity`` for straight ones."""
        if self.is_identity:
            return IDENTITY
        tables = [digest_bytes(a.astype("<u2").tobytes()) for a in (self.tone, self.split, self.drops)]
        inks = [[i.name, i.role, i.light_of, list(i.drop_pl)] for i in self.inks]
        screen = None if self.screen is None else asdict(self.screen)
        return digest_value([list(self.channels), inks, screen, tables])

    @property
    def loads(self) -> FloatArray:
        """Share of each physical ink's full tone in the total, shape (n_inks,); the heaviest has 1."""
        weight = np.array([ink.weight for ink in self.inks])
        if self._has_volumes:
            weight = weight * [ink.drop_pl[-1] for ink in self.inks]
        return np.asarray(weight / weight.max())

    @property
    def total_is_set(self) -> bool:
        """Whether the total can bind: it is below all inks at full tone."""
        return self.total < float(self.loads.sum()) - 1e-9

    @property
    def _has_volumes(self) -> bool:
        return all(ink.drop_pl for ink in self.inks)

    @property
    def total_ml_m2(self) -> float | None:
        """Total ink limit [ml/m2], weights included; None where volumes or addressability are not known."""
        if self.screen is None or not self._has_volumes:
            return None
        heaviest = max(ink.weight * ink.drop_pl[-1] for ink in self.inks)
        full = laydown_ml_m2(1.0, self.screen.dpi_x, self.screen.dpi_y, heaviest)
        return self.total * float(full)

    @cached_property
    def tables(self) -> Codes:
        """Laid-down amount of each physical ink for each code of its channel, shape (n_inks, 65536)."""
        toned = [full_table(curve) for curve in self.tone]
        found = np.stack([look_up(split, toned[c]) for split, c in zip(self.split, self.source, strict=True)])
        found.setflags(write=False)
        return found

    def to_laid_down(self, calibrated: NDArray[np.uint16]) -> Codes:
        """Return laid-down amounts, shape (..., n_inks), of calibrated ink, shape (..., n_channels)."""
        planes = np.asarray(calibrated)
        if planes.dtype != np.uint16 or planes.shape[-1] != len(self.channels):
            raise InputError(
                "planes do not fit the ink spaces",
                found=f"{planes.dtype} with {planes.shape[-1]} inks",
                expected=f"uint16 with {len(self.channels)}",
            )
        return np.stack([self.tables[j][planes[..., c]] for j, c in enumerate(self.source)], axis=-1)

    def level_shares(self, laid_down: NDArray[np.uint16]) -> Codes:
        """Return the share of pixels with at least each level, shape (..., n_inks, levels)."""
        return np.stack(
            [
                np.stack([look_up(curve, laid_down[..., j]) for curve in self.drops[j]], axis=-1)
                for j in range(len(self.inks))
            ],
            axis=-2,
        )

    def load(self, laid_down: ArrayLike) -> FloatArray:
        """Return the weighted total, shape (...), of laid-down amounts as codes, shape (..., n_inks)."""
        return np.asarray(np.asarray(laid_down, np.float64) @ self.loads / FULL)

    def ml_m2(self, laid_down: NDArray[np.uint16]) -> FloatArray:
        """Return the ink on the cloth [ml/m2], shape (..., n_inks), without weights.

        Raises
        ------
        InputError
            Where drop volumes or the addressability are not known.
        """
        if self.screen is None or not self._has_volumes:
            raise InputError(
                "laydown needs drop volumes and the addressability",
                expected="drop_pl of each ink, and a screen",
            )
        volumes = [ink.drop_pl[-1] for ink in self.inks]
        return laydown_ml_m2(laid_down / np.float64(FULL), self.screen.dpi_x, self.screen.dpi_y, volumes)

    def straight(self) -> InkSpaces:
        """Return the same inks, screen, split and drop curves without tone curves."""
        return replace(self, tone=straight_curves(len(self.channels)), aim="identity", stale=())

    def with_tone(self, tone: ArrayLike, aim: str) -> InkSpaces:
        """Return the same with new tone curves, which hold again."""
        return replace(self, tone=checked_curves(tone, "tone curves"), aim=aim, stale=())

    def with_press(self, other: InkSpaces) -> InkSpaces:
        """Take screen, physical inks, split and drop curves over from another and keep the tone curves.

        What differs makes the tone curves stale: they must be made again before the next roll. A lower total
        of the other is taken over, and told with what else differs; alone it leaves the curves as good as
        they were. A higher one is not taken, for nothing was learnt beyond.
        """
        if other.channels != self.channels:
            raise InputError(
                "inks are not those of the condition",
                found=", ".join(other.channels),
                expected=", ".join(self.channels),
            )
        if other.screen is None:
            raise InputError(
                "the new press does not say its screen", expected="[screen] with dpi_x and dpi_y"
            )
        changes = [] if self.screen is None else list(other.screen.changes(self.screen))
        if other.split.shape != self.split.shape or (other.split != self.split).any():
            changes.append("light-ink split changed")
        if other.drops.shape != self.drops.shape or (other.drops != self.drops).any():
            changes.append("drop curves changed")
        moved = replace(
            self,
            inks=other.inks,
            split=other.split,
            drops=other.drops,
            screen=other.screen,
            stale=(*self.stale, *changes),
        )
        before, after = self.total_ml_m2, moved.total_ml_m2
        # The cloth holds as much ink as before, however the drops that bring it are sized.
        kept = self.total if before is None or after is None else self.total * before / after
        if not other.total_is_set or other.total > kept - 1e-9:
            return replace(moved, total=kept)
        lower = f"total ink limit {100 * other.total:.4g} %, was {100 * kept:.4g} %"
        return replace(moved, total=other.total, stale=(*moved.stale, lower) if moved.stale else ())

    def as_record(self) -> dict[str, Any]:
        """Return all as plain values for JSON."""
        return {
            "channels": list(self.channels),
            "inks": [asdict(ink) for ink in self.inks],
            "screen": None if self.screen is None else asdict(self.screen),
            "total": self.total,
            "aim": self.aim,
            "stale": list(self.stale),
            "tone": self.tone.tolist(),
            "split": self.split.tolist(),
            "drops": self.drops.tolist(),
            "curves_digest": self.curves_digest,
        }


def spaces_from_record(record: Mapping[str, Any]) -> InkSpaces:
    """Return what `InkSpaces.as_record` wrote.

    Raises
    ------
    InputError
        When it is damaged, or its curves do not match their digest.
    """
    try:
        spaces = InkSpaces(
            channels=tuple(map(str, record["channels"])),
            inks=tuple(ink_from_record(ink) for ink in record["inks"]),
            tone=checked_curves(record["tone"], "tone curves"),
            split=checked_curves(record["split"], "light-ink split", rising=False),
            drops=checked_curves(record["drops"], "drop curves"),
            screen=None if record["screen"] is None else Screen(**record["screen"]),
            total=float(record["total"]),
            aim=str(record["aim"]),
            stale=tuple(map(str, record["stale"])),
        )
        digest = record["curves_digest"]
    except InputError:
        raise
    except _DAMAGE as error:
        raise InputError("ink spaces are damaged", found=str(error)[:120]) from error
    if spaces.curves_digest != digest:
        raise InputError("ink curves do not match their digest", found=spaces.curves_digest, expected=digest)
    return spaces


def identity_spaces(
    channels: Sequence[str], total: float, *, inks: Sequence[Ink] = (), screen: Screen | None = None
) -> InkSpaces:
    """Return spaces for readings from elsewhere: each ink is laid down as it is.

    Parameters
    ----------
    channels : sequence of str
        Calibrated inks.
    total : float
        Total ink limit, 3.0 is 300 %. [-]
    inks : sequence of Ink, optional
        What is known about them; names only by default.
    screen : Screen, optional
        How they are put down.
    """
    known = tuple(inks) or plain_inks(channels)
    curves = straight_curves(len(known))
    return InkSpaces(
        tuple(channels), known, straight_curves(len(channels)), curves, curves[:, None], screen, total=total
    )
