"""What a question about the conversion is answered with, each figure as exact as its band lets it be."""

from __future__ import annotations

from dataclasses import dataclass

from estimator.answers.why import Why
from estimator.page.showing.words import amount, decimals, number


@dataclass(frozen=True)
class Row:
    """One figure of a result with its band, where it has one."""

    name: str
    value: float
    unit: str
    low: float | None = None
    high: float | None = None
    note: str = ""

    @property
    def plain(self) -> str:
        """The figure without its unit, as exact as its band lets it be."""
        if self.low is None or self.high is None or self.low == self.high:
            return amount(self.value)
        return number(self.value, decimals(self.value, self.low, self.high))

    @property
    def shown(self) -> str:
        """The figure with its unit."""
        return f"{self.plain} {self.unit}".rstrip()

    @property
    def between(self) -> str:
        """The ends of the band, blank where there is none."""
        if self.low is None or self.high is None or self.low == self.high:
            return ""
        digits = decimals(self.value, self.low, self.high)
        return f"{number(self.low, digits)} to {number(self.high, digits)}"


@dataclass(frozen=True)
class Beside:
    """One line of a table that sets several things beside each other: its name, and a figure a column."""

    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Result:
    """What a question about the conversion is answered with: a sentence, figures, further sentences."""

    sentence: str
    rows: tuple[Row, ...]
    more: tuple[str, ...]
    mows: int
    why: Why
    beside: tuple[Beside, ...] = ()
