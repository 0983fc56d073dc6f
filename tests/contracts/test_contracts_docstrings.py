"""Docstrings say what signatures say."""

import ast
import re
from pathlib import Path

import pytest

import strikeoff

ROOT = Path(strikeoff.__file__).parent
MODULES = sorted(ROOT.rglob("*.py"))
NAMES = [str(path.relative_to(ROOT)) for path in MODULES]
SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}\n", re.MULTILINE)
PROMISED = set(re.findall(r'"(\w+)",', (ROOT / "workbench" / "__init__.py").read_text(encoding="utf-8")))
Function = ast.FunctionDef | ast.AsyncFunctionDef


def sections(docstring):
    """Sections of a numpydoc docstring by name."""
    parts = SECTION.split(docstring)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def documented_names(section):
    """Names before the colon of each entry that starts in the first column.

    >>> documented_names("a, b : int\\n    Two.\\nc : str, optional\\n    One.\\nd, e\\n")
    ['a', 'b', 'c', 'd', 'e']
    """
    entries = [line for line in section.splitlines() if line and not line[0].isspace()]
    return [name.strip().lstrip("*") for line in entries for name in line.split(" : ")[0].split(",")]


def signature_names(function):
    arguments = function.args
    names = [a.arg for a in [*arguments.posonlyargs, *arguments.args]]
    names += [arguments.vararg.arg] if arguments.vararg else []
    names += [a.arg for a in arguments.kwonlyargs]
    names += [arguments.kwarg.arg] if arguments.kwarg else []
    return [name for name in names if name not in ("self", "cls")]


def public(body):
    return [node for node in body if isinstance(node, Function | ast.ClassDef) and node.name[0] != "_"]


def initialiser(node):
    return next((n for n in node.body if isinstance(n, ast.FunctionDef) and n.name == "__init__"), None)


def field_names(node):
    """Public fields of a dataclass: its signature."""
    return [n.target.id for n in node.body if isinstance(n, ast.AnnAssign) and n.target.id[0] != "_"]


def faults(node, place, need_parameters=False):
    docstring = ast.get_docstring(node)
    if not docstring:
        yield f"{place}: no docstring"
        return
    found = sections(docstring)
    function = node if isinstance(node, Function) else initialiser(node)
    expected = signature_names(function) if function else field_names(node)
    if "Parameters" in found:
        listed = documented_names(found["Parameters"])
        if sorted(listed) != sorted(expected):
            yield f"{place}: docstring has {listed}, signature has {expected}"
    elif need_parameters and expected:
        yield f"{place}: parameters {expected} are not documented"
    if isinstance(node, ast.ClassDef) and "Attributes" in found:
        fields = set(field_names(node))
        fields |= {n.name for n in node.body if isinstance(n, Function)}
        fields |= set(re.findall(r"self\.(\w+)", ast.unparse(function))) if function else set()
        unknown = set(documented_names(found["Attributes"])) - fields
        if unknown:
            yield f"{place}: attributes {sorted(unknown)} do not exist"


@pytest.mark.parametrize("name", NAMES)
def test_docstrings_match_signatures(name):
    tree = ast.parse((ROOT / name).read_text(encoding="utf-8"))
    found = [] if ast.get_docstring(tree) else [f"{name}: no docstring"]
    for node in public(tree.body):
        promised = name.startswith("workbench") and isinstance(node, Function) and node.name in PROMISED
        found += faults(node, node.name, need_parameters=promised)
        if isinstance(node, ast.ClassDef):
            for method in public(node.body):
                found += faults(method, f"{node.name}.{method.name}")
    assert not found


def test_the_check_can_fail():
    assert "build_condition" in PROMISED
    code = (
        'def f(width_mm, *, dpi):\n    """Do.\n\n    Parameters\n    ----------\n    width : float\n    """'
    )
    (fault,) = faults(ast.parse(code).body[0], "f")
    assert "['width']" in fault
    assert "['width_mm', 'dpi']" in fault
