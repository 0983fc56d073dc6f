"""Commands in the README and the guides are commands of the program: names, options, values, arguments."""

import re
import shlex
from pathlib import Path

import click
import pytest

from strikeoff.cli.program import program

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]


def commands():
    for page in PAGES:
        for block in re.findall(r"^```\n(.*?)^```", page.read_text(), re.M | re.S):
            for line in block.replace("\\\n", " ").splitlines():
                if line.startswith("strikeoff "):
                    yield pytest.param(line, id=f"{page.stem}: {line[:60]}")


@pytest.mark.parametrize("line", list(commands()))
def test_command_is_one_of_the_program(line):
    words = shlex.split(line, comments=True)[1:]
    command, parent = program, None
    while isinstance(command, click.Group):
        parent = click.Context(command, parent=parent, info_name=command.name)
        name = words.pop(0)
        found = command.get_command(parent, name)
        assert found is not None, f"no command {name}"
        command = found
    command.make_context(command.name, words, parent=parent)
