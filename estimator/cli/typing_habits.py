"""Numbers with a decimal comma, taken wherever a number is asked for.

Completion in bash, which puts a name with blanks on the line as it comes: there it needs backslashes.
"""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable, Sequence
from contextlib import redirect_stdout
from typing import Any, get_args, get_type_hints

from estimator.written import with_point


def take_decimal_commas(command: Any) -> Any:
    """A command whose every number, also those of its subcommands, may have a decimal comma."""
    several = getattr(command, "commands", {})
    for each in several.values():
        take_decimal_commas(each)
    if not several:
        numbers, parse = _numbers_of(command), command.parse_args
        command.parse_args = lambda context, words: parse(context, _with_points(words, numbers))
    return command


def _numbers_of(command: Any) -> frozenset[str]:
    """The options of a command that take a number, such as `--growth-mm`."""
    hints = get_type_hints(command.callback)
    kinds = {name: {hint, *get_args(hint)} for name, hint in hints.items()}
    taking = {name for name, kind in kinds.items() if kind & {float, list[float]}}
    return frozenset(option for param in command.params if param.name in taking for option in param.opts)


def _with_points(words: Sequence[str], numbers: frozenset[str]) -> list[str]:
    """The words of a command line, the numbers among them with a decimal point.

    >>> _with_points(["--x", "10,5", "--y=39,5", "--name", "1,5"], frozenset({"--x", "--y"}))
    ['--x', '10.5', '--y=39.5', '--name', '1,5']
    """
    found: list[str] = []
    for place, word in enumerate(words):
        option, mark, value = word.partition("=")
        if place and words[place - 1] in numbers:
            word = with_point(word, words[place - 1])
        elif mark and option in numbers:
            word = f"{option}={with_point(value, option)}"
        found.append(word)
    return found


def asked_by_bash() -> bool:
    """Whether it is bash that runs this command, to complete what is being typed."""
    return os.environ.get("_MOWCHARGE_COMPLETE") == "complete_bash"


def complete_in_bash(complete: Callable[[], object]) -> None:
    """Print what `complete` prints, each line as it must stand on bash's command line."""
    said = io.StringIO()
    try:
        with redirect_stdout(said):
            complete()
    finally:
        words, at = os.environ.get("COMP_WORDS", "").split("\n"), int(os.environ.get("COMP_CWORD") or 0)
        typed = words[at] if at < len(words) else ""
        print("\n".join(on_the_line(name, typed) for name in said.getvalue().splitlines()))


def on_the_line(name: str, typed: str = "") -> str:
    r"""A name as it stands on bash's command line, after what has been typed of it.

    >>> print(on_the_line("apple rows", "ap"), on_the_line("apple rows", '"ap'))
    apple\ rows apple rows
    """
    return name if typed[:1] in ("'", '"') else re.sub(r"([^\w@%+=:,./-])", r"\\\1", name)
