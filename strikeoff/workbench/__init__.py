"""Use cases: the public Python API.

Every function takes plain values and paths and returns a :class:`Result`; the command line does
nothing else. All else in the package can be imported but is not promised.
"""

from strikeoff.workbench.artwork import separate
from strikeoff.workbench.charts import make_chart
from strikeoff.workbench.conditions import build_condition, show_condition, write_profile
from strikeoff.workbench.control import verify
from strikeoff.workbench.demo import run_demo
from strikeoff.workbench.readings import check_readings
from strikeoff.workbench.readings_files import convert_readings, merge_readings
from strikeoff.workbench.recipes import match, predict
from strikeoff.workbench.result import Result
from strikeoff.workbench.rolls import compose_roll, screen_roll

__all__ = [
    "Result",
    "build_condition",
    "check_readings",
    "compose_roll",
    "convert_readings",
    "make_chart",
    "match",
    "merge_readings",
    "predict",
    "run_demo",
    "screen_roll",
    "separate",
    "show_condition",
    "verify",
    "write_profile",
]
