"""Numbers as meters write them: decimal marks, thousands marks, units beside the value, overload markers."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache

from estimator.importer.table.quantities import Unit, unit_of


class Cell(IntEnum):
    """What a cell holds."""

    NUMBER = 0
    BLANK = 1
    OVERLOAD = 2
    TEXT = 3


@dataclass(frozen=True)
class Number:
    """One cell read: its value (nan without one), the unit beside it, and what kind of cell it is."""

    value: float
    unit: Unit | None
    kind: Cell


SCPI_OVER = 9.9e37
"""SCPI-1999 instruments send 9.9e37 for infinity, 9.91e37 for "not a number" (7.2.1, from memory)."""
_NAN = float("nan")
_BLANK = Number(_NAN, None, Cell.BLANK)
_OVERLOAD = Number(_NAN, None, Cell.OVERLOAD)
_TEXT = Number(_NAN, None, Cell.TEXT)
_OVER = re.compile(
    r"^[+-]?\s*(1\.?#inf\w*|o\.?\s?l\.?|0\.?l|\.ol|over ?load|over ?range|over|ovl|ovr|ovrng|inf|infinity|∞|"
    r">+|ovf)$",
    re.IGNORECASE,
)
_NOTHING = re.compile(
    r"^([-–—_.*#?\s]*|[+-]?1\.?#(qnan|snan|ind)\w*|"
    r"n/?a|nan|null|none|#n/?a|#div/0!|err(or)?|no (data|reading))$",
    re.IGNORECASE,
)
_SHAPE = re.compile(
    r"^([+-]?)([\d.,' ]*\d[\d.,' ]*)(e[+-]?\d{1,2})?\s*([^\d\s.,'+-].{0,15})?$", re.IGNORECASE
)
_MARKS = str.maketrans({"−": "-", "–": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "’": "'", "＋": "+"})
_PLAIN = re.compile(r"[+-]?(\d{1,18}(\.\d{0,18})?|\.\d{1,18})(e[+-]?\d{1,2})?", re.IGNORECASE)


@lru_cache(maxsize=4096)
def number(text: str, decimal: str = ".") -> Number:
    """Read one cell.

    >>> number("1.234,5", ",").value, number("852,1 mA", ",").unit.scale, number("0L").kind.name
    (1234.5, 0.001, 'OVERLOAD')
    """
    text = text.strip()
    if decimal == "." and _PLAIN.fullmatch(text):
        return Number(value, None, Cell.NUMBER) if abs(value := float(text)) < SCPI_OVER else _OVERLOAD
    text = text.translate(_MARKS).strip().strip('";').strip()
    if len(text) > 48:
        return _TEXT
    if text[:1] == "(" and text[-1:] == ")" and text[1:2].isdigit():
        return number(f"-{text[1:-1]}", decimal)  # accountants write negative numbers in brackets
    if _NOTHING.match(text):
        return _BLANK
    if _OVER.match(text):
        return _OVERLOAD
    found = _SHAPE.match(text)
    if not found:
        head, _, tail = text.rpartition(" ")
        if head and unit_of(tail) and _OVER.match(head.strip()):
            return _OVERLOAD
        return _TEXT
    sign, digits, exponent, tail = found.groups()
    unit = unit_of(tail) if tail else None
    if tail and unit is None:
        return _TEXT
    digits = digits.strip()
    other = _OTHER[decimal]
    whole, _, fraction = digits.partition(decimal)
    if decimal in fraction or other in fraction or "'" in fraction or " " in fraction:
        return _TEXT
    if any(c in whole for c in (other, "'", " ")):
        groups = re.split(r"[.,' ]", whole)
        if any(len(g) != 3 for g in groups[1:]) or not 1 <= len(groups[0]) <= 3:
            return _TEXT
        whole = "".join(groups)
    value = float(f"{sign}{whole or '0'}.{fraction or '0'}{exponent or ''}")
    return Number(value, unit, Cell.NUMBER) if abs(value) < SCPI_OVER else _OVERLOAD


_OTHER = {".": ",", ",": "."}
_GROUPED = re.compile(r"^[+-]?\d{1,3}([.,])\d{3}(\1\d{3})*$")


def decimal_mark(cells: Iterable[str], default: str = ".", *, milli: bool = False) -> str:
    """The decimal mark that a sample of cells proves, else the default.

    Cells such as 8,125 prove nothing by themselves: they are read as 8.125 among amps and volts, and as 8125
    where all units are thousandths (`milli`), since no mower draws 8 mA.

    >>> [decimal_mark([x]) for x in ("53,21", "1,234.5", "1.234,5", "12")]
    [',', '.', ',', '.']
    >>> decimal_mark(["8,125"]), decimal_mark(["8,125"], milli=True)
    (',', '.')
    """
    proofs, hints = Counter[str](), Counter[str]()
    for cell in cells:
        found = _SHAPE.match(cell.translate(_MARKS).strip().strip('"').strip())
        if not found or (found.group(4) and unit_of(found.group(4)) is None):
            continue
        body = found.group(2).strip().replace(" ", "").replace("'", "")
        mark = max(".,", key=body.rfind)
        if mark not in body:
            continue
        if body.count(mark) > 1:
            proofs[_OTHER[mark]] += 1
        elif _GROUPED.match(body) and not body.startswith("0"):
            hints[mark] += 1
        else:
            proofs[mark] += 1
    if proofs["."] != proofs[","]:
        return max(".,", key=lambda mark: proofs[mark])
    if hints["."] != hints[","]:
        mark = max(".,", key=lambda mark: hints[mark])
        return _OTHER[mark] if milli else mark
    return default
