"""placeholder"""
from pathlib import Path
from strikeoff.base.progress import Progress, silent
from strikeoff.workbench.result import Result
def run_demo(out: str | Path, *, progress: Progress = silent) -> Result:
    """Run."""
    return Result()
