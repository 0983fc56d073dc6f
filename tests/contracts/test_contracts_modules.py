"""Sizes, words and imports of the source."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

import strikeoff
from strikeoff import workbench

ROOT = Path(strikeoff.__file__).parent
PROJECT = ROOT.parent
HEAVY = {
    "numpy", "scipy", "numba", "llvmlite", "matplotlib", "colour", "PIL", "tifffile", "imagecodecs", "jinja2",
    "colour_cxf", "xsdata",
}  # fmt: skip
# Spelled in pieces, so that this file passes its own check.
UNWANTED = [r"\bTO" + r"DO\b", r"\bFIX" + r"ME\b", r"\bXX" + r"X\b", r"\bHA" + r"CK\b", r"/wo" + r"rk/"]
UNWANTED += [r"\bissue" + r" #?\d", r"\bthe br" + r"ief\b", r"\bAI ag" + r"ent", r"\bcowo" + r"rker"]


def sources(*folders):
    endings = {".py", ".md", ".toml", ".html", ".css", ".txt", ".yml"}
    for folder in folders:
        for path in sorted((PROJECT / folder).rglob("*")):
            if path.suffix in endings and "__pycache__" not in path.parts:
                yield path


def test_modules_stay_below_500_lines():
    long = {
        str(path.relative_to(PROJECT)): lines
        for path in sources("strikeoff", "tests", "bench")
        if path.suffix == ".py" and (lines := len(path.read_text(encoding="utf-8").splitlines())) > 500
    }
    assert not long


@pytest.mark.parametrize("pattern", UNWANTED)
def test_no_word_that_does_not_belong_here(pattern):
    hits = [
        f"{path.relative_to(PROJECT)}:{number}"
        for path in sources("strikeoff", "tests", "docs", "bench")
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if re.search(pattern, line)
    ]
    assert not hits


def loaded(code):
    code += "\nimport sys; print(' '.join(sorted({name.split('.')[0] for name in sys.modules})))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=240, check=True
    )
    return set(done.stdout.splitlines()[-1].split())


def test_importing_the_package_loads_nothing_heavy():
    assert not loaded("import strikeoff") & (HEAVY | {"click"})


@pytest.mark.parametrize("words", [["--help"], ["condition", "build", "--help"], ["--version"], ["frob"]])
def test_help_loads_nothing_heavy(words):
    code = f"""
import sys
sys.argv = {["strikeoff", *words]!r}
from strikeoff.cli.main import main
try:
    main()
except SystemExit:
    pass
"""
    modules = loaded(code)
    assert "click" in modules
    assert not modules & HEAVY


def test_the_public_interface_loads_nothing_that_draws():
    """Reading a verdict must not wait for a plotting library or a colour library's tables."""
    everything = loaded("from strikeoff.workbench import *")
    assert "scipy" in everything
    assert not everything & {"matplotlib", "colour", "colour_cxf", "xsdata"}


def test_the_public_interface_loads_what_is_asked_for():
    assert not loaded("import strikeoff.workbench") & (HEAVY)
    assert not loaded("from strikeoff.workbench import inspect_profile") & HEAVY - {"numpy"}


def test_the_public_interface_is_complete():
    assert set(workbench._HOMES) == set(workbench.__all__) <= set(dir(workbench))
    for name in workbench.__all__:
        assert callable(getattr(workbench, name))
    with pytest.raises(AttributeError, match="frobnicate"):
        workbench.frobnicate
