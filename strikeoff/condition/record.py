"""The printing condition: everything that follows from the readings."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.problems import Problem
from strikeoff.colour.weights import (
    canonical_illuminant,
    canonical_observer,
    weighting_factors,
    white_point,
)
from strikeoff.condition.greys import GreyShift
from strikeoff.condition.ink_space import inks_by_name_only, without_named
from strikeoff.condition.kept_nodes import KeptNodes, nodes_key
from strikeoff.condition.pcs import Connection
from strikeoff.condition.recipe_rules import RECIPE_RULES
from strikeoff.inks.goods import NO_GOODS, Goods
from strikeoff.inks.roles import names_of_columns
from strikeoff.inks.spaces import InkSpaces
from strikeoff.measurement.records import Setup
from strikeoff.model.black import BlackPolicy
from strikeoff.model.forward import ForwardModel, LabModel, View
from strikeoff.model.gamut import GamutBoundary
from strikeoff.model.inverse import make_inverse
from strikeoff.model.limits import InkLimits
from strikeoff.model.solved_nodes import SolvedNodes
from strikeoff.model.table import TabulatedModel
from strikeoff.model.validation import Validation
from strikeoff.model.ways import Inverse

FloatArray = NDArray[np.float64]

SCHEMA = 4
#: That of conditions whose white is no bare cloth; older versions would not know what they are relative to.
WHITE_SCHEMA = 5
#: That of conditions whose model counts its experts unevenly, or mixes inks in one layer.
MIXED_SCHEMA = 6

#: How much lighter than the cloth an ink counts as lighter; fluorescent inks and noise stay below. [L*]
LIGHTER = 3.0
_SHOWN = 5e-4


@dataclass(frozen=True)
class Condition:
    """A printing condition.

    Attributes
    ----------
    name : str
        What people call it.
    ink_columns : tuple of str
        Ink columns as in the readings, for example ``CMYK_C``.
    setup : Setup
        How the readings were taken; its illuminant and observer are the condition's own light.
    wavelengths_nm : ndarray or None
        Of the spectra. [nm]
    limits : InkLimits
        In calibrated ink; see also ``recipe_limits``.
    policy : BlackPolicy
        Black policy.
    spaces : InkSpaces
        From calibrated to laid-down ink: physical inks, screen, tone curves, split, drop curves, total;
        straight lines for readings printed elsewhere.
    forward : ForwardModel
        What was learnt from the readings.
    native : LabModel
        The same under the condition's own light.
    table : TabulatedModel or None
        ``native`` on a grid of the inks that recipes use, up to four.
    boundary : GamutBoundary
        Media-relative gamut, with ``greys`` on its axis.
    black_lab : ndarray, shape (3,)
        What black is scaled to, media-relative Lab: the darkest neutral that can be reached, or as the
        policy says.
    validation : Validation or None
        Held-out error figures; None when the readings are no measurements of their own, as those
        taken out of a profile.
    readings : bytes
        The readings file, as it was.
    readings_name, readings_digest : str
        Its name and digest.
    label : str
        What the figures rest on: measured, smoothed data, simulated or reference engine.
    problems : tuple of Problem
        What was noticed while building.
    profiles : dict
        ICC profiles by version, 2 and 4.
    process_inks : tuple of str
        White, clear, fluorescent or metallic inks that recipes may use nevertheless.
    white_recipe : ndarray, shape (n_inks,), or None
        What white is printed with where inks are lighter than the cloth; None where it is the bare cloth.
    recipe_rules : int
        By which rules recipes were sought when it was built; see `strikeoff.condition.recipe_rules`.
    goods : Goods
        Press, inks, cloth and finishing that it holds for, and until when, as far as anybody recorded it.
    kept_nodes : KeptNodes or None
        Solved nodes of the field of recipes, which take long with many inks; used where they still fit.
    over_white : bool or None
        Whether limits and tones were judged over white ink, where the file of limits or curves says so.
    """

    name: str
    ink_columns: tuple[str, ...]
    setup: Setup
    wavelengths_nm: FloatArray | None
    limits: InkLimits
    policy: BlackPolicy
    spaces: InkSpaces
    forward: ForwardModel
    native: LabModel
    table: TabulatedModel | None
    boundary: GamutBoundary
    black_lab: FloatArray
    validation: Validation | None
    readings: bytes
    readings_name: str
    readings_digest: str
    label: str
    problems: tuple[Problem, ...] = ()
    profiles: dict[int, bytes] = field(default_factory=dict)
    process_inks: tuple[str, ...] = ()
    white_recipe: FloatArray | None = None
    recipe_rules: int = RECIPE_RULES
    goods: Goods = NO_GOODS
    kept_nodes: KeptNodes | None = None
    over_white: bool | None = None

    @property
    def inks(self) -> tuple[str, ...]:
        """Ink names: by their columns, numbered ones as the curves name them."""
        return names_of_columns(self.ink_columns, self.spaces.channels)

    @property
    def n_inks(self) -> int:
        """Number of inks."""
        return len(self.ink_columns)

    @property
    def has_spectra(self) -> bool:
        """Whether other lights can be answered."""
        return self.wavelengths_nm is not None

    @cached_property
    def by_name_only(self) -> tuple[str, ...]:
        """Inks that no colour is separated into: only artwork that names them prints with them."""
        return inks_by_name_only(self.spaces, self.process_inks)

    @cached_property
    def recipe_limits(self) -> InkLimits:
        """Limits of recipes for colours: none of the inks that are reached by name only."""
        return without_named(self.limits, self.spaces, self.process_inks)

    @property
    def connection(self) -> Connection:
        """Media-relative connection space; see `media_lab` for its white."""
        return Connection(self.native.view.white, self.media_lab)

    @cached_property
    def greys(self) -> GreyShift:
        """Between media-relative greys and what the policy calls neutral."""
        link = self.connection
        black_l = float(link.from_relative(self.black_lab[None])[0, 0])
        return GreyShift(self.policy, link, black_l)

    @cached_property
    def cloth_lab(self) -> FloatArray:
        """Predicted Lab of the bare cloth under the condition's own light, shape (3,)."""
        return np.asarray(self.native.lab(np.zeros((1, self.n_inks)))[0])

    @cached_property
    def media_lab(self) -> FloatArray:
        """Predicted Lab of what counts as white, shape (3,): ``white_recipe``, or the bare cloth."""
        if self.white_recipe is None:
            return self.cloth_lab
        return np.asarray(self.native.lab(self.white_recipe[None])[0])

    @property
    def white_name(self) -> str:
        """What colours are relative to: ``the cloth``, or ``white`` where that is printed."""
        return "the cloth" if self.white_recipe is None else "white"

    @property
    def white_words(self) -> str:
        """What white is printed with: ``bare cloth``, or a recipe such as ``W 100 % + Y 2.5 %``."""
        if self.white_recipe is None:
            return "bare cloth"
        recipe = self.white_recipe
        order = [k for k in np.argsort(-recipe, kind="stable") if recipe[k] >= _SHOWN]
        return " + ".join(f"{self.spaces.channels[k]} {100 * recipe[k]:.3g} %" for k in order)

    @cached_property
    def reaches_beyond_cloth(self) -> bool:
        """Whether recipes reach colours lighter than the bare cloth, as with white on dark cloth."""
        return lightens(self.native, self.recipe_limits)

    @cached_property
    def inverse(self) -> Inverse:
        """Inverse under the condition's own light."""
        names, limits = self.spaces.channels, self.recipe_limits
        kept, printed = self.fitting_nodes, self.forward.recipes
        nodes = None if kept is None else kept.nodes
        return make_inverse(self.native, names, limits, self.policy, self.table, printed=printed, nodes=nodes)

    @property
    def fitting_nodes(self) -> KeptNodes | None:
        """The kept nodes, unless model, limits or policy are no longer those that they were solved for."""
        kept = self.kept_nodes
        return kept if kept is not None and kept.key == self._nodes_key else None

    def keeping(self, nodes: SolvedNodes) -> Condition:
        """Return the same condition with nodes that were solved for its model, limits and policy."""
        return replace(self, kept_nodes=KeptNodes(nodes, self._nodes_key))

    @property
    def _nodes_key(self) -> str:
        return nodes_key(self.native, self.spaces.channels, self.recipe_limits, self.policy)

    def light(self, illuminant: str | None = None, observer: str | None = None) -> tuple[str, str]:
        """Return illuminant and observer by their proper names; the condition's own by default."""
        own = self.setup
        light = own.illuminant if illuminant in (None, own.illuminant) else canonical_illuminant(illuminant)
        return light, own.observer if observer in (None, own.observer) else canonical_observer(observer)

    def under(self, illuminant: str | None = None, observer: str | None = None) -> LabModel:
        """Return the forward model under a light and observer; the condition's own by default.

        Raises
        ------
        UsageError
            For another light when there are no spectra, or an unknown light.
        """
        light, eye = self.light(illuminant, observer)
        if (light, eye) == (self.setup.illuminant, self.setup.observer):
            return self.native
        if self.wavelengths_nm is None:
            raise UsageError(
                "this condition was made from readings without spectra and knows one light only",
                found=f"{light}/{eye}",
                expected=f"{self.setup.illuminant}/{self.setup.observer}",
                advice="Measure the chart with a spectral instrument, or leave the light out",
            )
        return self.forward.under(make_view(light, eye, self.wavelengths_nm))

    def inverse_under(self, illuminant: str | None = None, observer: str | None = None) -> Inverse:
        """Return the inverse under a light and observer; the condition's own by default."""
        model = self.under(illuminant, observer)
        if model is self.native:
            return self.inverse
        printed = self.forward.recipes
        return make_inverse(model, self.spaces.channels, self.recipe_limits, self.policy, printed=printed)


def lightens(native: LabModel, limits: InkLimits) -> bool:
    """Return whether full inks that recipes use are lighter than the bare cloth by more than 3 L*."""
    lightness = native.lab(np.vstack([np.zeros(len(limits.per_ink)), np.diag(limits.per_ink)]))[:, 0]
    return bool(lightness.max() > lightness[0] + LIGHTER)


def make_view(illuminant: str, observer: str, wavelengths_nm: FloatArray | None) -> View:
    """Return how bands become XYZ: spectra of the given wavelengths, or XYZ over white without them."""
    white = white_point(illuminant, observer)
    if wavelengths_nm is None:
        return View(np.diag(white), white)
    return View(weighting_factors(illuminant, observer, wavelengths_nm), white)
