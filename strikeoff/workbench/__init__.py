"""Use cases: the public Python API.

Every function takes plain values and paths and returns a :class:`Result`; the command line does
nothing else. All else in the package can be imported but is not promised.
"""

from strikeoff.workbench.artwork import separate
from strikeoff.workbench.charts import make_chart
from strikeoff.workbench.condition_report import report_condition
from strikeoff.workbench.conditions import build_condition, show_condition
from strikeoff.workbench.control import verify
from strikeoff.workbench.demo import run_demo
from strikeoff.workbench.gamut import measure_gamut
from strikeoff.workbench.imported import import_condition
from strikeoff.workbench.ink_limits import find_ink_limits, split_light_inks
from strikeoff.workbench.lights import compare_lights
from strikeoff.workbench.linearisation import change_press, make_tone_curves, relinearise
from strikeoff.workbench.next_charts import next_chart
from strikeoff.workbench.profiles import design_rgb, inspect_profile, link_profile, write_profile
from strikeoff.workbench.readings import check_readings
from strikeoff.workbench.readings_files import convert_readings, merge_readings
from strikeoff.workbench.recipes import match, predict
from strikeoff.workbench.result import Result
from strikeoff.workbench.rolls import compose_roll, screen_roll

__all__ = [
    "Result",
    "build_condition",
    "change_press",
    "check_readings",
    "compare_lights",
    "compose_roll",
    "convert_readings",
    "design_rgb",
    "find_ink_limits",
    "import_condition",
    "inspect_profile",
    "link_profile",
    "make_chart",
    "make_tone_curves",
    "match",
    "measure_gamut",
    "merge_readings",
    "next_chart",
    "predict",
    "relinearise",
    "report_condition",
    "run_demo",
    "screen_roll",
    "separate",
    "show_condition",
    "split_light_inks",
    "verify",
    "write_profile",
]
