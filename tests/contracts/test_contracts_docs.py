"""The page of contracts and the program say the same, both ways."""

import re

import click
import pytest
from contracts_page import PAGE, commands, names, rows, sections

from strikeoff.base import errors
from strikeoff.base.errors import EXIT_CODES, EXIT_FAIL, EXIT_OK, EXIT_UNDECIDED, StrikeoffError
from strikeoff.cli.program import program
from strikeoff.cli.run import OUTCOMES


def leaves(command, words=()):
    """Every command of the program with its words."""
    if isinstance(command, click.Group):
        for name, child in command.commands.items():
            yield from leaves(child, (*words, name))
    else:
        yield " ".join(words), command


COMMANDS = dict(leaves(program))
COMMON = {"--json", "--quiet", "--traceback", "--help"}


def test_every_command_is_on_the_page_and_no_other():
    assert sorted(commands()) == sorted(COMMANDS)


@pytest.mark.parametrize("words", COMMANDS)
def test_every_option_is_on_the_page_and_no_other(words):
    options = {row[0].strip("`").split(" ")[0]: row for row in rows(commands()[words], "Option")}
    expected = {p.human_readable_name if isinstance(p, click.Argument) else p.opts[0]: p
                for p in COMMANDS[words].params if p.opts[0] not in COMMON}  # fmt: skip
    assert sorted(options) == sorted(expected)
    for name, parameter in expected.items():
        title, meaning = options[name]
        if isinstance(parameter, click.Option):
            bare = parameter.is_flag or isinstance(parameter.type, click.Choice)
            metavar = "" if bare else f" {parameter.metavar}"
            assert title == f"`{name}{metavar}`"
            assert meaning.endswith("Required.") == parameter.required, name
        if isinstance(parameter.type, click.Choice):
            assert set(parameter.type.choices) <= set(names(meaning)), name
        assert parameter.default in (None, *names(meaning)) or not isinstance(parameter.default, str), name


def test_common_options():
    listed = {
        row[0].strip("`").split(" ")[0] for row in rows(sections()["Options of every command"], "Option")
    }
    assert listed == COMMON
    for command in COMMANDS.values():
        context = click.Context(command)
        has = {option for p in command.get_params(context) for option in p.opts}
        assert has >= COMMON


def test_every_command_and_option_has_help():
    for words, command in COMMANDS.items():
        assert command.help, words
        assert command.help.endswith("."), words
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, (words, parameter.name)


def test_exit_codes():
    table = {int(row[0]): row for row in rows(sections()["Exit codes"], "Code")}
    assert set(table) == {EXIT_OK, EXIT_FAIL, EXIT_UNDECIDED, *EXIT_CODES.values()}
    for status, code in OUTCOMES.values():
        assert names(table[code][2]) == [status]
    kinds = [c for c in vars(errors).values() if isinstance(c, type) and issubclass(c, StrikeoffError)]
    for kind in kinds:
        assert kind.kind in names(table[errors.exit_code(kind("x"))][3]), kind
    assert sum(len(names(row[3])) for row in table.values()) == len({kind.kind for kind in kinds})


def test_links_on_the_page_lead_somewhere():
    text = PAGE.read_text(encoding="utf-8")
    headings = re.findall(r"^#+ (.+)$", text, flags=re.MULTILINE)
    anchors = {re.sub(r"[^\w\- ]", "", heading).strip().lower().replace(" ", "-") for heading in headings}
    assert set(re.findall(r"\]\(#([^)]+)\)", text)) <= anchors
    for target in re.findall(r"\]\(([^#)]+)\)", text):
        assert (PAGE.parent / target).is_file(), target
