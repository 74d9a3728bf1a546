"""What people type: numbers with a decimal comma or a unit, parsed without the option parser's validators.

Also completion in bash, which needs backslashes before the blanks of a name.
"""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable
from contextlib import redirect_stdout
from typing import Any, get_args, get_type_hints

from estimator.amounts import AMOUNTS
from estimator.errors import InputError
from estimator.written import number


def take_all_at_once(command: Any) -> None:
    """Let all parameters of a command take texts and numbers as `take_at_once` says."""
    kinds = {name: {hint, *get_args(hint)} for name, hint in get_type_hints(command.callback).items()}
    parse = command.parse_args

    def parse_args(context: Any, words: list[str]) -> Any:
        for param in command.get_params(context):  # includes `--help`
            take_at_once(param, kinds.get(param.name, set()))
            check_once(param, words)
        return parse(context, words)

    command.parse_args = parse_args


def check_once(param: Any, words: list[str]) -> None:
    """Raise InputError where an option of one value is given several: the parser would keep the last."""
    if param.param_type_name != "option" or param.multiple or param.is_flag:
        return
    given = [word.partition("=")[0] for word in words if word.partition("=")[0] in param.opts]
    if len(given) > 1:
        raise InputError(f"{given[0]} is given {len(given)} times", mend="give it once")


def take_at_once(param: Any, kinds: set[Any]) -> None:
    """Let a parameter take texts and numbers without the option parser's validator.

    The parser builds a validator for every parameter, even for those that were not given, and loads pydantic
    for them: together this takes a quarter of the time that loading numpy, pandas and scipy takes.
    """
    process = param.process_value

    def taken(context: Any, value: Any) -> Any:
        if value is None and not param.required:
            value = () if param.multiple or param.nargs == -1 else None
        elif list[str] in kinds and isinstance(value, list | tuple):
            value = list(value)
        elif float in kinds and isinstance(value, str):
            value = _number(param, value)
        elif list[float] in kinds and isinstance(value, list | tuple):
            value = [_number(param, each) for each in value]
        elif int in kinds and isinstance(value, str) and not re.fullmatch(r"\s*[-+]?\d+\s*", value):
            given = param.opts[0] if param.param_type_name == "option" else param.metavar
            raise InputError(f"{given} is {value!r}", mend="give a whole number")
        elif not (str in kinds and isinstance(value, str)) and not isinstance(value, bool | int | float):
            return process(context, value)
        found = value if param.callback is None else param.callback(context, param, value)
        return () if found is None and param.multiple else found  # older parsers need this for a list

    param.process_value = taken


def _number(param: Any, text: str) -> float:
    """The number that was given for an option, with or without its unit; InputError where it is no number."""
    known = AMOUNTS.get(param.opts[0].lstrip("-").replace("-", "_"))
    unit = "" if known is None else "%" if known.share else known.unit
    return number(text, param.opts[0], unit)


def asked_by_bash() -> bool:
    """Whether bash runs this command to complete what is being typed."""
    return os.environ.get("_MOWCHARGE_COMPLETE") == "complete_bash"


def complete_in_bash(complete: Callable[[], object]) -> None:
    """Print what `complete` prints, each line as bash needs it on the command line."""
    said = io.StringIO()
    try:
        with redirect_stdout(said):
            complete()
    finally:
        words, at = os.environ.get("COMP_WORDS", "").split("\n"), int(os.environ.get("COMP_CWORD") or 0)
        typed = words[at] if at < len(words) else ""
        print("\n".join(on_the_line(name, typed) for name in said.getvalue().splitlines()))


def on_the_line(name: str, typed: str = "") -> str:
    r"""A name as bash needs it on the command line, given how much of it has been typed.

    >>> print(on_the_line("apple rows", "ap"), on_the_line("apple rows", '"ap'))
    apple\ rows apple rows
    """
    return name if typed[:1] in ("'", '"') else re.sub(r"([^\w@%+=:,./-])", r"\\\1", name)
