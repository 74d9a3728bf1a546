"""How a result looks at a prompt and in a notebook: three lines at most, a table where there is room."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass
from html import escape
from typing import Any, TypeVar, dataclass_transform

T = TypeVar("T")
Kind = TypeVar("Kind", bound=type)

WIDTH, LINES = 100, 3  # characters and lines of a result's text: what a notebook shows at a glance


def shown(kind: Kind) -> Kind:
    """Give a dataclass a short `repr`, a table in notebooks, and `==` by value, arrays and tables too."""
    ways = {"__repr__": _repr, "_repr_html_": _html, "__eq__": _same_kind_and_values, "__hash__": None}
    for name, way in ways.items():
        setattr(kind, name, way)
    return kind


@dataclass_transform(frozen_default=True)
def result(kind: type[T]) -> type[T]:
    """A frozen dataclass that is `shown`."""
    return shown(dataclass(frozen=True)(kind))


def odds(chance: float, sure: float = 0.0) -> str:
    """A chance in whole percent that never claims certainty, nor reaches `sure` [0..1] by rounding alone.

    >>> odds(0.953), odds(1.0), odds(0.0)
    ('95 %', 'over 99 %', 'under 1 %')
    >>> odds(0.946), odds(0.946, sure=0.95), odds(0.951, sure=0.95), odds(0.938, sure=0.95)
    ('95 %', '94.6 %', '95 %', '94 %')
    """
    if round(chance, 2) >= sure > chance:
        return f"{math.floor(1000 * chance) / 10:.1f} %"
    if chance > 0.99:
        return "over 99 %"
    return "under 1 %" if chance < 0.01 else f"{chance:.0%}".replace("%", " %")


def _repr(self: Any) -> str:
    """The fields in a few words each, cut off after `LINES` lines."""
    lines, line = [], f"{type(self).__name__}("
    parts = [f"{each.name}={brief(getattr(self, each.name))}" for each in fields(self) if each.repr]
    for number, part in enumerate(parts):
        piece = part + (")" if number + 1 == len(parts) else ", ")
        if len(line) + len(piece) > WIDTH and line.strip():
            lines.append(line.rstrip())
            line = "    "
        line += piece
    lines.append(line.rstrip())
    if len(lines) <= LINES:
        return "\n".join(lines)
    return "\n".join([*lines[: LINES - 1], lines[LINES - 1][: WIDTH - 6] + " ...)"])


def _html(self: Any) -> str:
    rows = "".join(
        f"<tr><th style='text-align:left'>{escape(each.name)}</th>"
        f"<td style='text-align:left'>{escape(brief(getattr(self, each.name), longest=300))}</td></tr>"
        for each in fields(self)
        if each.repr
    )
    return f"<table><caption>{escape(type(self).__name__)}</caption>{rows}</table>"


def brief(value: Any, longest: int = 48) -> str:
    """A value in a few words.

    >>> brief(3.14159), brief([1, 2, 3]), brief("x" * 60)[-4:], brief(("damp", "wet"))
    ('3.142', '3 numbers', "...'", "('damp', 'wet')")
    """
    if isinstance(value, float):
        return f"{value:.4g}"
    if isinstance(value, str):
        return repr(value if len(value) <= longest else value[: longest - 3] + "...")
    if hasattr(value, "columns") and hasattr(value, "iloc"):
        return f"{len(value)} rows of {', '.join(map(str, value.columns))}"
    if hasattr(value, "shape") and hasattr(value, "dtype"):
        return f"{value:.4g}" if not value.shape else f"array {'x'.join(map(str, value.shape))}"
    if is_dataclass(value) and not isinstance(value, type):
        named = getattr(value, "name", getattr(value, "lawn", None))
        return f"{type(value).__name__}({named!r})" if isinstance(named, str) else type(value).__name__
    if isinstance(value, (tuple, list)):
        whole = f"({', '.join(brief(each) for each in value)})" if len(value) <= 8 else ""
        if whole and len(whole) <= longest and not all(isinstance(each, (int, float)) for each in value):
            return whole
        return _count(value)
    text = repr(value)
    return text if len(text) <= longest else f"{type(value).__name__} of {len(text)} characters"


def _count(values: Any) -> str:
    kinds = {type(each).__name__ for each in values}
    if kinds <= {"float", "int"}:
        return f"{len(values)} numbers" if values else "none"
    if kinds == {"str"}:
        return f"{len(values)} sentences" if len(values) > 1 else "1 sentence"
    return f"{len(values)} {kinds.pop() if len(kinds) == 1 else 'values'}"


def _same_kind_and_values(self: Any, other: Any) -> Any:
    if type(self) is not type(other):
        return NotImplemented
    return all(same(getattr(self, each.name), getattr(other, each.name)) for each in fields(self))


def same(one: Any, two: Any) -> bool:
    """Whether two values are equal; arrays and tables are compared by what they hold.

    >>> same((1.0, [2]), (1.0, [2])), same(float("nan"), float("nan"))
    (True, True)
    """
    if hasattr(one, "equals"):
        return bool(type(one) is type(two) and one.equals(two))
    if hasattr(one, "shape") and hasattr(two, "shape"):
        alike: Callable[[Any, Any], Any] = lambda a, b: (a == b) | ((a != a) & (b != b))  # noqa: E731
        return bool(one.shape == two.shape and alike(one, two).all())
    if isinstance(one, (tuple, list)) and isinstance(two, (tuple, list)):
        return len(one) == len(two) and all(map(same, one, two))
    if is_dataclass(one) and not isinstance(one, type):
        return _same_kind_and_values(one, two) is True
    return bool(one == two or (one != one and two != two))
