"""Build commands that ask one question or make one change; expand groups of options into single ones."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import update_wrapper
from typing import Any, get_type_hints

import typer

from estimator.cli.books import asked_book, kept_book
from estimator.cli.command_table import ANSWERS, named
from estimator.cli.options import Json, LogbookPath, Picture, Why
from estimator.cli.output import busy, show

Command = Callable[..., Any]


def draw(where: str, answer: Any, picture: str | None) -> None:
    """Draw an answer with a function of `report.pictures`, given as module:name, if a picture is wanted."""
    if picture is not None:
        from estimator.report.pictures.style import write_picture

        write_picture(named(f"report.pictures.{where}")(answer), picture)


def asks(doing: str, text: str, *, draws: str = "", with_why: bool = True) -> Callable[[Command], Command]:
    """A command that asks the logbook one question, with the options that all such commands have.

    The decorated function returns the question, or a dict of arguments; where it returns None, the options
    that were given are passed on by name. Modules are loaded when the command is called.

    doing : shown on a terminal meanwhile; text, draws : the functions of `report` that word and draw the
        answer, as module:name; with_why : whether the answer can say what it is based on
    """

    def asking(command: Command) -> Command:
        ask = ANSWERS[command.__name__.replace("_", "-")]

        def run(
            *, logbook: str | None, as_json: bool, why: bool = False, picture: str | None = None, **said: Any
        ) -> None:

            question: Any = command(**said)
            if question is None:
                question = {name: value for name, value in said.items() if value is not None}
            with asked_book(logbook) as book, busy(doing):
                by_name = isinstance(question, dict)
                answer = named(ask)(book, **question) if by_name else named(ask)(book, question)
            draw(draws, answer, picture)
            show(answer, named(f"report.words.{text}"), as_json=as_json, why=why, book=book)

        options = _options_of(command)
        if draws:
            options["picture"] = (Picture, None)
        options |= {"logbook": (LogbookPath, None), "as_json": (Json, False)}
        if with_why:
            options["why"] = (Why, False)
        return _taking(run, command, options)

    return asking


def changes(where: str, words: str, doing: str) -> Callable[[Command], Command]:
    """A command that makes one change to the logbook and says so.

    where : the function that makes the change, as module:name; takes the logbook, then the options in order
    words : what is said afterwards, with options by their names and the function's result as {done}, where an
        integer is a count of mows; doing : shown on a terminal meanwhile
    """

    def changing(command: Command) -> Command:
        def run(*, logbook: str | None, **said: Any) -> None:
            from estimator.report.words.text import counted

            change = named(where)
            with kept_book(logbook) as book, busy(doing) as progress:
                more = {"progress": progress} if "progress" in inspect.signature(change).parameters else {}
                done = change(book, *said.values(), **more)
            typer.echo(words.format(done=counted(done) if isinstance(done, int) else done, **said))

        return _taking(run, command, {**_options_of(command), "logbook": (LogbookPath, None)})

    return changing


def laid_out(command: Command) -> Command:
    """A command with its groups of options expanded into single options, as the option parser needs them.

    A group is a parameter without a default whose type is a dataclass: its fields become the options.
    """
    own = _options_of(command)
    groups: dict[str, Any] = {name: kind for name, (kind, _) in own.items() if is_dataclass(kind)}
    options: dict[str, tuple[Any, Any]] = {}
    for name, option in own.items():
        options |= _options_of(groups[name]) if name in groups else {name: option}

    def run(**said: Any) -> Any:
        for name, kind in groups.items():
            said[name] = kind(**{each.name: said.pop(each.name) for each in fields(kind)})
        return command(**said)

    return _taking(run, command, options)


def _options_of(command: Callable[..., Any]) -> dict[str, tuple[Any, Any]]:
    """The type and default of each option of a command, or of a group of options, by its name."""
    hints, own = get_type_hints(command, include_extras=True), inspect.signature(command).parameters
    return {name: (hints[name], own[name].default) for name in own}


def _taking(
    run: Callable[..., Any], command: Callable[..., Any], options: dict[str, tuple[Any, Any]]
) -> Callable[..., Any]:
    """`run` in place of a command; `options` gives the type and default of each option by its name."""
    update_wrapper(run, command)
    run.__annotations__ = {name: kind for name, (kind, _) in options.items()}
    run.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
        [
            inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=usual, annotation=kind)
            for name, (kind, usual) in options.items()
        ]
    )
    return run
