"""How repeats stand beside each other: offset by any fraction, mirrored, turned, in one direction only.

Column ``i`` and row ``j`` count from the first tile, which is never mirrored or turned. In a drop the
cells of column ``i`` stand ``i * offset`` heights lower than those of column 0; in a brick the cells of
row ``j`` stand ``j * offset`` widths further right than those of row 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from strikeoff.base.errors import UsageError

MOST_PARTS = 50

OFFSETS = ("none", "drop", "brick")
MIRRORS = ("none", "across", "along", "both")
DIRECTIONS = ("both", "across", "along", "none")


@dataclass(frozen=True)
class Lattice:
    """The rule by which one tile covers the plane.

    Attributes
    ----------
    offset : {"none", "drop", "brick"}
        What is moved: nothing, each column further down, or each row further right.
    share : Fraction
        Of the height (drop) or the width (brick), above 0 and below 1; 0 without an offset. [-]
    mirror : {"none", "across", "along", "both"}
        Every other column is mirrored left to right, every other row top to bottom, or both.
    turned : bool
        Every other tile, as on a chequerboard, is turned by 180 degrees.
    repeats : {"both", "across", "along", "none"}
        Where the tile repeats; in the other direction it stands once.
    """

    offset: str = "none"
    share: Fraction = Fraction(0)
    mirror: str = "none"
    turned: bool = False
    repeats: str = "both"

    def __post_init__(self) -> None:
        for what, value, known in (
            ("offset", self.offset, OFFSETS),
            ("mirror", self.mirror, MIRRORS),
            ("direction of a repeat", self.repeats, DIRECTIONS),
        ):
            if value not in known:
                raise UsageError(f"unknown {what}", found=value, expected=", ".join(known))
        if self.offset == "none" and self.share != 0:
            raise UsageError("only a drop or a brick has an offset", found=self.share)
        if self.offset != "none" and not (0 < self.share < 1 and self.share.denominator <= MOST_PARTS):
            raise UsageError(
                "offset of a repeat cannot be",
                found=self.share,
                expected=f"a fraction between 0 and 1 with at most {MOST_PARTS} parts, such as 1/3",
            )
        self._check_together()

    def _check_together(self) -> None:
        if self.mirror != "none" and self.turned:
            raise UsageError("tiles are mirrored or turned, not both", advice="Leave one of them out")
        half = {"across": "drop", "along": "brick"}.get(self.mirror)
        if (
            self.mirror != "none"
            and self.offset != "none"
            and (self.offset != half or self.share != Fraction(1, 2))
        ):
            # With any other offset a tile and its mirror image have different neighbours.
            raise UsageError(
                "mirrored tiles do not meet with this offset",
                found=self.name,
                expected="no offset; or a half-drop mirrored across; or half a brick mirrored along",
            )
        if self.repeats == "none" and (self.offset, self.mirror, self.turned) != ("none", "none", False):
            raise UsageError("artwork that stands once has no offset, mirror or turn", found=self.mirror)
        if self.repeats != "both" and (self.offset != "none" or self.mirror not in ("none", self.repeats)):
            raise UsageError(
                f"a repeat that only runs {self.repeats} has no neighbours in the other direction",
                found=self.name,
                expected="no offset, mirrored in the direction that it runs or not at all",
            )

    @property
    def name(self) -> str:
        """What people call it.

        Examples
        --------
        >>> Lattice("drop", Fraction(1, 3)).name, Lattice("drop", Fraction(1, 2), "across").name
        ('drop 1/3', 'half-drop, mirrored across')
        """
        if self.offset == "none":
            first = "straight"
        elif self.share == Fraction(1, 2):
            first = "half-drop" if self.offset == "drop" else "brick"
        else:
            first = f"{self.offset} {self.share}"
        words = [first]
        if self.mirror != "none":
            words.append("mirrored both ways" if self.mirror == "both" else f"mirrored {self.mirror}")
        if self.turned:
            words.append("turned")
        if self.repeats != "both":
            words.append("once" if self.repeats == "none" else f"{self.repeats} only")
        return ", ".join(words)

    @property
    def width_parts(self) -> int:
        """What the width in whole pixels must be divisible by."""
        return self.share.denominator if self.offset == "brick" else 1

    @property
    def height_parts(self) -> int:
        """What the height in whole pixels must be divisible by."""
        return self.share.denominator if self.offset == "drop" else 1

    def flips(self, column: int, row: int) -> tuple[bool, bool]:
        """Return whether the tile of a cell is mirrored (left to right, top to bottom); turned is both.

        Examples
        --------
        >>> Lattice(mirror="across").flips(1, 0), Lattice(turned=True).flips(1, 0)
        ((True, False), (True, True))
        """
        if self.turned:
            odd = (column + row) % 2 == 1
            return odd, odd
        return (
            self.mirror in ("across", "both") and column % 2 == 1,
            self.mirror in ("along", "both") and row % 2 == 1,
        )

    @property
    def period_heights(self) -> int:
        """Heights of the tile after which every row comes again.

        Examples
        --------
        >>> Lattice("brick", Fraction(2, 5)).period_heights, Lattice(mirror="along").period_heights
        (5, 2)
        """
        return self._period("brick", "along")

    @property
    def period_widths(self) -> int:
        """Widths of the tile after which every column comes again."""
        return self._period("drop", "across")

    def _period(self, offset: str, direction: str) -> int:
        steps = self.share.denominator if self.offset == offset else 1
        # A chequerboard of offset rows: after so many steps the cells stand a whole number of cells aside.
        aside = int(steps * self.share) if self.offset == offset else 0
        if self.turned and (steps + aside) % 2:
            return 2 * steps
        return lcm(steps, 2) if self.mirror in (direction, "both") else steps

    def shown(self, column: int, row: int) -> bool:
        """Return whether a cell holds a tile: always, but for repeats that run in one direction only."""
        once_across, once_along = self.repeats in ("along", "none"), self.repeats in ("across", "none")
        return not (once_across and column != 0) and not (once_along and row != 0)


STRAIGHT = Lattice()
HALF_DROP = Lattice("drop", Fraction(1, 2))
HALF_BRICK = Lattice("brick", Fraction(1, 2))
#: Artwork that does not repeat: beyond its edges its last samples go on.
ONCE = Lattice(repeats="none")

#: Lattices with a name of their own.
NAMED = {"straight": STRAIGHT, "half-drop": HALF_DROP, "brick": HALF_BRICK}


def as_lattice(kind: str | Lattice) -> Lattice:
    """Return the lattice of a name, or the one that is given.

    Raises
    ------
    UsageError
        Unknown name.
    """
    if isinstance(kind, Lattice):
        return kind
    if kind not in NAMED:
        raise UsageError("unknown kind of repeat", found=kind, expected=", ".join(NAMED))
    return NAMED[kind]
