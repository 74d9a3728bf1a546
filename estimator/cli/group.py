"""The top of the command line: each command loads only when it is called, so that help is instant."""

from __future__ import annotations

import json
import os
from copy import copy
from difflib import get_close_matches
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from estimator import __version__
from estimator.cli.command_table import ANSWERS, COMMANDS, named
from estimator.cli.options import LogbookPath
from estimator.cli.typing_habits import take_all_at_once, take_at_once
from estimator.errors import InputError

UsageTrouble: type[Exception] = typer.BadParameter.__mro__[2]
"""The option parser's exception for anything that it cannot take."""


class NearGroup(TyperGroup):
    """A group that shows its help when called alone, and names the command nearest to an unknown one."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        for param in self.get_params(ctx):
            take_at_once(param, {str})
        return super().parse_args(ctx, args or ["--help"])

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        known = self.list_commands(ctx)
        if args and args[0] not in known and not args[0].startswith("-"):
            near = get_close_matches(args[0], known, n=1)
            ctx.fail(f"there is no command {args[0]!r}" + (f"; did you mean {near[0]!r}?" if near else ""))
        return super().resolve_command(ctx, args)


def several(words: str) -> typer.Typer:
    """A command that has commands of its own."""
    return typer.Typer(cls=NearGroup, rich_markup_mode=None, add_completion=False, help=words)


class LazyGroup(NearGroup):
    """A group that imports a command's module only when that command is called."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        from estimator.cli.asking import laid_out

        entry = COMMANDS.get(cmd_name)
        if entry is None:
            return None
        found = named(f"cli.commands.{entry.where}")
        if isinstance(found, typer.Typer):
            made: Any = typer.main.get_command(found)
        else:
            single = typer.Typer(rich_markup_mode=None, add_completion=False)
            single.command(cmd_name, no_args_is_help=False)(laid_out(found))
            made = typer.main.get_command(single)
        for command in getattr(made, "commands", {cmd_name: made}).values():
            take_all_at_once(command)
            _refuse_more_words(command)
            _offer_schema(command)
            _name_what_is_given(command)
        return made

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        for heading in dict.fromkeys(entry.heading for entry in COMMANDS.values()):
            rows = [(name, entry.line) for name, entry in COMMANDS.items() if entry.heading == heading]
            with formatter.section(heading):
                formatter.write_dl(rows)


def _offer_schema(command: Any) -> None:
    """Give a command that has `--json` also `--json-schema`, made from the type of its answer."""
    place = next((k for k, param in enumerate(command.params) if param.name == "as_json"), None)
    if place is None:
        return

    def tell(context: Any, option: Any, wanted: bool) -> None:
        if wanted:
            from estimator.schema import schema_of_answer

            answer = schema_of_answer(named(ANSWERS[command.name]))
            typer.echo(json.dumps(answer, ensure_ascii=False, indent=2))
            context.exit()

    option = copy(command.params[place])
    option.name, option.opts, option.secondary_opts = "json_schema", ["--json-schema"], []
    option.help, option.callback = "Print the schema of that object and stop.", tell
    option.is_eager, option.expose_value = True, False
    command.params.insert(place + 1, option)


def _name_what_is_given(command: Any) -> None:
    """Make the help say PACK instead of <str>: Python's types mean nothing to its readers."""
    for param in command.params:
        if param.param_type_name == "argument":
            param.metavar = param.metavar or param.name.upper()
            param.display_type_rich = lambda ctx: ""
            shown = param.metavar if param.required else f"[{param.metavar}]"
            param.get_usage_pieces = lambda ctx, shown=shown: [shown]
        elif param.metavar is None and not param.is_flag:
            param.metavar = param.opts[0].lstrip("-").upper()


def _refuse_more_words(command: Any) -> None:
    """Make a command say which words are left over: most often a name or a file with a space in it."""
    invoke, command.allow_extra_args = command.invoke, True

    def checked(context: Any) -> Any:
        if context.args:
            raise InputError(
                f"{' '.join(map(repr, context.args))} is more than this command takes",
                mend="give one number at a time"
                if all(word.isdecimal() for word in context.args)
                else "put what has a space in it between quotation marks",
            )
        return invoke(context)

    command.invoke = checked


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"mowcharge {__version__}")
        raise typer.Exit


def _top(
    logbook: LogbookPath = None,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Minutes, lawns and packs from the readings of a clamp meter and a voltmeter.

    Start with `mowcharge demo`, or describe a lawn and a pack and add a mow.
    """
    if logbook:
        os.environ["MOWCHARGE_LOGBOOK"] = logbook


def build() -> Any:
    """The whole command line as one command object."""
    app = typer.Typer(cls=LazyGroup, rich_markup_mode=None)
    app.callback()(_top)
    return typer.main.get_command(app)
