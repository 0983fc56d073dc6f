"""Commands and groups that know the options every command has."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from strikeoff.base.errors import UsageError
from strikeoff.base.files import keep_inputs
from strikeoff.cli.call import JSON, QUIET, TRACEBACK
from strikeoff.cli.params import file_path, written_path


def common_options() -> list[click.Parameter]:
    """Return the options of every command; `strikeoff.cli.call.read_call` gives them their meaning."""
    return [
        click.Option(
            [JSON], is_flag=True, expose_value=False, help="Print one JSON document instead of lines."
        ),
        click.Option([QUIET], is_flag=True, expose_value=False, help="No progress and no notes."),
        click.Option(
            [TRACEBACK],
            metavar="FILE",
            expose_value=False,
            hidden=True,
            help="Write the details of an internal error to FILE.",
        ),
    ]


def command_words(context: click.Context) -> str:
    """Return the command of a context without the program's name."""
    return " ".join(context.command_path.split(" ")[1:])


class Command(click.Command):
    """A command with the common options; it says in the call which one it is."""

    def __init__(self, *args: Any, **keywords: Any) -> None:
        super().__init__(*args, **keywords)
        self.params += common_options()

    def invoke(self, ctx: click.Context) -> Any:
        """Note the command's name, refuse outputs that are inputs or one another, then run it."""
        ctx.obj.command = command_words(ctx)
        outputs = self._paths(ctx, written_path)
        for out in outputs:
            keep_inputs(out, *self._paths(ctx, file_path))
        _keep_apart(outputs)
        return super().invoke(ctx)

    def _paths(self, ctx: click.Context, kind: Callable[[str], Path]) -> list[Path]:
        """Return the paths of one kind that were given."""
        given = [ctx.params.get(p.name or "") for p in self.params if getattr(p.type, "func", None) is kind]
        several = [value if isinstance(value, tuple) else (value,) for value in given]
        return [path for values in several for path in values if isinstance(path, Path)]


def _keep_apart(outputs: list[Path]) -> None:
    """Refuse to write two results to one file: the later would replace the earlier without a word."""
    known: set[Path] = set()
    for path in outputs:
        if path.resolve() in known:
            raise UsageError("two files to write have one name", found=path, advice="Give each its own")
        known.add(path.resolve())


class Group(click.Group):
    """A noun; its verbs are commands with the common options."""

    command_class = Command

    def __init__(self, name: str, *, help: str, params: list[click.Parameter] | None = None) -> None:  # noqa: A002
        super().__init__(
            name,
            help=help,
            params=[*(params or []), *common_options()],
            callback=_require_command,
            invoke_without_command=True,
            no_args_is_help=False,
            subcommand_metavar="COMMAND ...",
        )

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, or name those that there are."""
        if self.get_command(ctx, args[0]) is None and not args[0].startswith("-"):
            ctx.fail(f"no command {args[0]!r}; choose {', '.join(self.list_commands(ctx))}")
        return super().resolve_command(ctx, args)


def _require_command() -> None:
    context = click.get_current_context()
    if context.invoked_subcommand is None and isinstance(context.command, click.Group):
        context.fail(f"command is missing; choose {', '.join(context.command.list_commands(context))}")
