"""Use cases: the public Python API.

Every function takes plain values and paths and returns a :class:`Result`; the command line does
nothing else. All else in the package can be imported but is not promised.

The modules behind the functions load when a function is first asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from strikeoff.workbench.artwork import separate
    from strikeoff.workbench.artwork_check import check_artwork
    from strikeoff.workbench.artwork_proof import proof_artwork
    from strikeoff.workbench.artwork_repeat import artwork_repeat
    from strikeoff.workbench.changed_press import change_press
    from strikeoff.workbench.charts import make_chart
    from strikeoff.workbench.colourways import artwork_palette
    from strikeoff.workbench.condition_report import report_condition
    from strikeoff.workbench.conditions import build_condition, show_condition
    from strikeoff.workbench.control import verify
    from strikeoff.workbench.demo import run_demo
    from strikeoff.workbench.finishing import finishing_risk, measure_finishing
    from strikeoff.workbench.gamut import measure_gamut
    from strikeoff.workbench.imported import import_condition
    from strikeoff.workbench.ink_limits import find_ink_limits
    from strikeoff.workbench.light_split import split_light_inks
    from strikeoff.workbench.lights import compare_lights
    from strikeoff.workbench.linearisation import make_tone_curves
    from strikeoff.workbench.next_charts import next_chart
    from strikeoff.workbench.profile_inspection import inspect_profile
    from strikeoff.workbench.profiles import design_rgb, link_profile, write_profile
    from strikeoff.workbench.readings import check_readings
    from strikeoff.workbench.readings_assign import assign_readings
    from strikeoff.workbench.readings_files import convert_readings, merge_readings
    from strikeoff.workbench.recipes import match, predict
    from strikeoff.workbench.recolouring import recolour_artwork
    from strikeoff.workbench.relinearising import relinearise
    from strikeoff.workbench.result import Result
    from strikeoff.workbench.roll_copies import roll_copies
    from strikeoff.workbench.roll_cut import cut_roll
    from strikeoff.workbench.roll_lay import lay_out_roll
    from strikeoff.workbench.roll_marks import roll_marks
    from strikeoff.workbench.roll_nest import roll_nest
    from strikeoff.workbench.roll_options import roll_options
    from strikeoff.workbench.roll_panels import roll_panels
    from strikeoff.workbench.roll_screen import screen_roll
    from strikeoff.workbench.roll_shapes import nest_roll_shapes
    from strikeoff.workbench.rolls import compose_roll
    from strikeoff.workbench.spots import match_spots
    from strikeoff.workbench.total_ink import find_total_ink

__all__ = [
    "Result",
    "artwork_palette",
    "artwork_repeat",
    "assign_readings",
    "build_condition",
    "change_press",
    "check_artwork",
    "check_readings",
    "compare_lights",
    "compose_roll",
    "convert_readings",
    "cut_roll",
    "design_rgb",
    "find_ink_limits",
    "find_total_ink",
    "finishing_risk",
    "import_condition",
    "inspect_profile",
    "lay_out_roll",
    "link_profile",
    "make_chart",
    "make_tone_curves",
    "match",
    "match_spots",
    "measure_finishing",
    "measure_gamut",
    "merge_readings",
    "nest_roll_shapes",
    "next_chart",
    "predict",
    "proof_artwork",
    "recolour_artwork",
    "relinearise",
    "report_condition",
    "roll_copies",
    "roll_marks",
    "roll_nest",
    "roll_options",
    "roll_panels",
    "run_demo",
    "screen_roll",
    "separate",
    "show_condition",
    "split_light_inks",
    "verify",
    "write_profile",
]

#: Which module of this package holds what.
_HOMES = {
    "Result": "result",
    "artwork_palette": "colourways",
    "artwork_repeat": "artwork_repeat",
    "assign_readings": "readings_assign",
    "build_condition": "conditions",
    "change_press": "changed_press",
    "check_artwork": "artwork_check",
    "check_readings": "readings",
    "compare_lights": "lights",
    "compose_roll": "rolls",
    "convert_readings": "readings_files",
    "cut_roll": "roll_cut",
    "design_rgb": "profiles",
    "find_ink_limits": "ink_limits",
    "find_total_ink": "total_ink",
    "finishing_risk": "finishing",
    "import_condition": "imported",
    "inspect_profile": "profile_inspection",
    "lay_out_roll": "roll_lay",
    "link_profile": "profiles",
    "make_chart": "charts",
    "make_tone_curves": "linearisation",
    "match": "recipes",
    "match_spots": "spots",
    "measure_finishing": "finishing",
    "measure_gamut": "gamut",
    "merge_readings": "readings_files",
    "nest_roll_shapes": "roll_shapes",
    "next_chart": "next_charts",
    "predict": "recipes",
    "proof_artwork": "artwork_proof",
    "recolour_artwork": "recolouring",
    "relinearise": "relinearising",
    "report_condition": "condition_report",
    "roll_copies": "roll_copies",
    "roll_marks": "roll_marks",
    "roll_nest": "roll_nest",
    "roll_options": "roll_options",
    "roll_panels": "roll_panels",
    "run_demo": "demo",
    "screen_roll": "roll_screen",
    "separate": "artwork",
    "show_condition": "conditions",
    "split_light_inks": "light_split",
    "verify": "control",
    "write_profile": "profiles",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted(globals().keys() | set(__all__))
