"""Commands that ask one question: what is given becomes the question, and its answer is drawn and shown."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import update_wrapper
from importlib import import_module
from typing import Any, get_type_hints

from estimator.cli.command_table import ANSWERS
from estimator.cli.options import Json, LogbookPath, Picture, Why


def named(where: str) -> Any:
    """What is named as module:name, imported from below `estimator`."""
    module, _, name = where.partition(":")
    return getattr(import_module(f"estimator.{module}"), name)


def asks(
    doing: str, text: str, *, draws: str = "", with_why: bool = True
) -> Callable[[Callable[..., object]], Callable[..., None]]:
    """A command whose answer is asked of the logbook, with the options that all such commands have.

    The command returns the question, or what to ask with by name; where it returns nothing, the options that
    were said are handed on by their names. Modules are loaded when the command is called.

    doing : said on a terminal while it is worked out; text, draws : the functions of `report` that word and
        draw the answer, as module:name; with_why : whether the answer can say what it is based on
    """

    def asking(command: Callable[..., object]) -> Callable[..., None]:
        ask = ANSWERS[command.__name__.replace("_", "-")]

        def run(
            *, logbook: str | None, as_json: bool, why: bool = False, picture: str | None = None, **said: Any
        ) -> None:
            from estimator.cli.named_files import asked_book
            from estimator.cli.output import busy, show

            question: Any = command(**said)
            if question is None:
                question = {name: value for name, value in said.items() if value is not None}
            with asked_book(logbook) as book, busy(doing):
                by_name = isinstance(question, dict)
                answer = named(ask)(book, **question) if by_name else named(ask)(book, question)
            if picture is not None:
                from estimator.report.pictures.style import write_picture

                write_picture(named(f"report.pictures.{draws}")(answer), picture)
            show(answer, named(f"report.words.{text}"), as_json=as_json, why=why, book=book)

        common: dict[str, tuple[Any, Any]] = {
            **({"picture": (Picture, None)} if draws else {}),
            "logbook": (LogbookPath, None),
            "as_json": (Json, False),
            **({"why": (Why, False)} if with_why else {}),
        }
        own = inspect.signature(command).parameters
        usual = {name: param.default for name, param in own.items()} | {n: d for n, (_, d) in common.items()}
        kinds = get_type_hints(command, include_extras=True) | {n: kind for n, (kind, _) in common.items()}
        update_wrapper(run, command)
        run.__annotations__ = kinds
        run.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
            [
                inspect.Parameter(
                    name, inspect.Parameter.KEYWORD_ONLY, default=usual[name], annotation=kinds[name]
                )
                for name in usual
            ]
        )
        return run

    return asking
