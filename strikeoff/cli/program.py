"""The whole command line: every noun, and the translation of what click refuses."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from strikeoff import __version__
from strikeoff.base.errors import UsageError
from strikeoff.cli import artwork, chart, condition, control, demo, finishing, profile, readings, roll
from strikeoff.cli.call import Call
from strikeoff.cli.command import Group, command_words

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


def _show_version(context: click.Context, parameter: click.Parameter, wanted: bool) -> None:
    if wanted and not context.resilient_parsing:
        click.echo(f"strikeoff {__version__}")
        context.exit()


program = Group(
    "strikeoff",
    help="From measured cloth to press-ready drop planes, and the proof that the goods came out right.",
    params=[
        click.Option(
            ["--version"],
            is_flag=True,
            is_eager=True,
            expose_value=False,
            callback=_show_version,
            help="Show the version and stop.",
        )
    ],
)
for noun in (chart, readings, condition, profile, artwork, finishing, roll, control):
    program.add_command(noun.group)
program.add_command(demo.demo)


def invoke(call: Call) -> Result | None:
    """Run the command of a call; None when only help or the version was printed.

    Raises
    ------
    UsageError
        When the words are no command.
    """
    try:
        # Not `program.main`: that one turns Ctrl-C into an exception of its own.
        with program.make_context("strikeoff", list(call.words), obj=call) as context:
            result: Result = program.invoke(context)
            return result
    except click.exceptions.Exit:
        return None
    except click.UsageError as error:
        where = error.ctx
        call.command = command_words(where) if where else ""
        help_for = where.command_path if where else "strikeoff"
        message = error.format_message().rstrip(".")
        raise UsageError(message, advice=f"See '{help_for} --help'") from error
