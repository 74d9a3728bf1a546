"""Numbers with a decimal comma, taken wherever a number is asked for."""

from __future__ import annotations

import re
from copy import copy
from typing import Any

from estimator.errors import InputError

_COMMA = re.compile(r"\s*[-+]?\d*,\d+\s*")
_THOUSANDS = re.compile(r"\s*[-+]?[1-9]\d{0,2}(,\d{3})+\s*")


def with_point(text: str, what: str = "number") -> str:
    """A number with its decimal comma as a point; other words as they are.

    Raises InputError for one whose comma may as well part thousands.

    >>> with_point("10,5"), with_point("-0,05"), with_point("0,125"), with_point("dry")
    ('10.5', '-0.05', '0.125', 'dry')
    >>> with_point("1,200", "ah")
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: ah is '1,200': the comma may be a decimal or a thousands mark; leave it out
    """
    if _THOUSANDS.fullmatch(text):
        raise InputError(
            f"{what} is {text!r}: the comma may be a decimal or a thousands mark", mend="leave it out"
        )
    return text.replace(",", ".") if _COMMA.fullmatch(text) else text


def take_decimal_commas(command: Any) -> Any:
    """A command whose every number, also those of its subcommands, may have a decimal comma."""
    for each in getattr(command, "commands", {}).values():
        take_decimal_commas(each)
    for param in getattr(command, "params", ()):
        if getattr(param.type, "name", "").startswith("float"):
            param.type = _taking_commas(param.type)
    return command


def _taking_commas(kind: Any) -> Any:
    plain, taking = kind.convert, copy(kind)

    def convert(value: Any, param: Any, context: Any) -> Any:
        if isinstance(value, str):
            value = with_point(value, param.opts[0] if param is not None else "number")
        return plain(value, param, context)

    taking.convert = convert
    return taking
