"""Why an answer says what it says: its parts, assumptions, sources and cautions in plain words.

`as_plain` turns any answer into dictionaries and lists, ready for JSON, with the same names and units.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from estimator.importer.log import HALF_90

if TYPE_CHECKING:
    from collections.abc import Sequence

    from estimator.predictor.narrowing import Doubt


@dataclass(frozen=True)
class Part:
    """One named figure that went into an answer; `note` says where it comes from.

    >>> Part("energy of the lawn", 61.0, "Wh", "mean of 4 mows").line()
    'energy of the lawn: 61 Wh (mean of 4 mows)'
    """

    name: str
    value: float | str
    unit: str = ""
    note: str = ""

    def line(self) -> str:
        """The part in one line, with figures to three digits."""
        value = self.value if isinstance(self.value, str) else three_digits(self.value)
        text = f"{self.name}: {value} {self.unit}".rstrip()
        return f"{text} ({self.note})" if self.note else text


def doubt_parts(doubts: Sequence[Doubt]) -> tuple[Part, ...]:
    """What makes an answer uncertain; together with what no single cause explains, the shares make 100 %.

    >>> from estimator.predictor.narrowing import Doubt
    >>> for part in doubt_parts([Doubt("grass", 0.75, "Look at it."), Doubt("load", 0.001, "")]):
    ...     print(part.line())
    why uncertain: grass: 75 % (Look at it.)
    why uncertain: several causes together: 25 % (of the variance)
    """
    named = [(one.cause, round(100 * one.share), one.measure or "of the variance") for one in doubts]
    named = [each for each in named if each[1]]  # nobody acts on less than half a percent
    together = 100 - sum(share for _, share, _ in named)
    named += [("several causes together", together, "of the variance")] if together > 0 else []
    return tuple(Part(f"why uncertain: {cause}", share, "%", note) for cause, share, note in named)


@dataclass(frozen=True)
class Why:
    """What stands behind an answer.

    parts : the figures it was made from
    assumptions : what was taken for granted where the logbook does not say
    sources : where a formula or a table comes from
    cautions : what to take care of before acting on it, where blades, cells, fuses or charging are involved
    """

    parts: tuple[Part, ...] = ()
    assumptions: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def within(std: float, unit: str = "") -> str:
    """A standard uncertainty as the half width of the 90 % band; in our texts ± always means that.

    std : standard uncertainty, in `unit`. 1.645 is the normal quantile of 95 % (NIST/SEMATECH e-Handbook
    of Statistical Methods, 1.3.6.7.1).

    >>> within(0.1, "Ah"), within(26.6, "Wh")
    ('within ± 0.16 Ah, 90 % band', 'within ± 44 Wh, 90 % band')
    """
    half = HALF_90 * std
    return f"within ± {f'{half:.0f}' if half >= 10 else f'{half:.2g}'} {unit}".rstrip() + ", 90 % band"


def three_digits(value: float) -> str:
    """A figure to three significant digits, without exponent or trailing dot.

    >>> three_digits(61.0), three_digits(0.15234), three_digits(1234.5), three_digits(0.0)
    ('61', '0.152', '1234', '0')
    """
    if value != value:
        return "unknown"
    if abs(value) >= 100:
        return f"{value:.0f}"
    return f"{value:.3g}"


def as_plain(value: Any) -> Any:
    """Turn an answer into what JSON can hold; figures that are not finite become None.

    Nine digits are kept: more than any meter has, and few enough to drop rounding errors of binary fractions.

    >>> from estimator.answers.why import Part
    >>> as_plain(Part("start charge", float("nan")))
    {'name': 'start charge', 'value': None, 'unit': '', 'note': ''}
    >>> as_plain([31.900000000000002, 0.1 + 0.2])
    [31.9, 0.3]
    """
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, float):
        return float(f"{value:.9g}") if math.isfinite(value) else None
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    if isinstance(value, PurePath):
        return str(value)
    if isinstance(value, Enum):
        return as_plain(value.value)
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: as_plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict):
        return {str(key): as_plain(each) for key, each in value.items()}
    if hasattr(value, "columns") and hasattr(value, "to_dict"):
        return {str(key): as_plain(each) for key, each in value.to_dict("list").items()}
    if hasattr(value, "tolist"):
        return as_plain(value.tolist())
    if isinstance(value, (list, tuple, set, frozenset)):
        return [as_plain(each) for each in value]
    raise TypeError(f"{type(value).__name__} has no plain form")
