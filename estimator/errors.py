"""What goes wrong in a way the user can mend, said in one line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import PurePath
from typing import Self

from estimator.mends import Door, Give, Mend, worded


@dataclass(frozen=True)
class ShownColumn:
    """One column of a table as a refusal shows it: number from 1, title, values, what it was taken for."""

    number: int
    title: str
    values: tuple[str, ...]
    taken_for: str


@dataclass(frozen=True)
class ShownSheet:
    """One sheet of a file, or its only table (no name), as a refusal shows it."""

    name: str
    columns: tuple[ShownColumn, ...]


@dataclass(frozen=True)
class ShownTable:
    """What a refused file holds, and what must be given to read it."""

    sheets: tuple[ShownSheet, ...]
    read_with: tuple[Give, ...]


class MowchargeError(Exception):
    """Anything that mowcharge tells its user in one line instead of a traceback.

    The line names the culprit, shows the value and says how to mend it; `table` shows the columns of a file
    that could not be read.

    >>> print(MowchargeError("time goes back from 09:14:07 to 09:14:02", file="logs/spring.csv", row=412,
    ...                      mend="sort the file or split it in two"))
    spring.csv, row 412: time goes back from 09:14:07 to 09:14:02; sort the file or split it in two
    """

    exit_code = 1

    def __init__(
        self,
        problem: str,
        *,
        file: str | PurePath | None = None,
        row: int | None = None,
        mend: str | Mend | None = None,
        table: ShownTable | None = None,
    ) -> None:
        self.problem, self.row, self.mend = problem, row, mend
        self.table = table
        self.file = PurePath(file).name if file is not None else None
        super().__init__(self._line(self.problem, self.mend))

    def _line(self, problem: str, mend: str | Mend | None, door: Door = str) -> str:
        place = ", ".join(
            part for part in (self.file, f"row {self.row}" if self.row is not None else None) if part
        )
        line = f"{place}: {problem}" if place else problem
        return " ".join((f"{line}; {worded(mend, door)}" if mend else line).split())

    def in_file(self, file: str | PurePath) -> Self:
        """The same error about a file, unless it already names one.

        >>> print(MowchargeError("is empty").in_file("logs/spring.csv"))
        spring.csv: is empty
        """
        self.file = self.file or PurePath(file).name
        self.args = (self._line(self.problem, self.mend),)
        return self

    def said(self, door: Door = str, *, percent: bool = True) -> str:
        """The line as a door words it; people are shown shares as percentages."""
        return self._line(self.problem, self.mend, door)


class InputError(MowchargeError):
    """A file, a description or an option that cannot be used as it is (exit code 2)."""

    exit_code = 2


class OutOfRange(InputError):
    """An amount outside its range; it carries both, so that each door can state them in its own units.

    what : words for the amount; value, low, high : in the units of the library; unit : of all three
    share : whether it is a part of a whole, 0..1 in the library and a percentage for people

    >>> print(OutOfRange("start charge", 1.2, 0, 1, share=True))
    start charge is 1.2; give a share from 0 to 1
    >>> print(OutOfRange("start charge", 1.2, 0, 1, share=True).said())
    start charge is 120 %; give 0 to 100 %
    """

    def __init__(
        self,
        what: str,
        value: float,
        low: float,
        high: float,
        *,
        unit: str = "",
        share: bool = False,
        whose: str = "",
        such_as: str = "",
    ) -> None:
        self.what, self.value, self.low, self.high = what, value, low, high
        self.unit, self.share, self.whose, self.such_as = unit, share, whose, such_as
        kind = "a share from " if share else ""
        problem, mend = self._words(1.0, unit)
        if share and 2 <= value <= 100:
            mend += f", such as {value / 100:g} for {value:g} %"
        super().__init__(problem, mend=mend.replace("give ", f"give {kind}", 1))

    def _words(self, times: float, unit: str) -> tuple[str, str]:
        tail = f" {unit}" if unit else ""
        low, high = (f"{times * end:.10g}" for end in (self.low, self.high))
        problem = f"{self.what} is {times * self.value:.7g}{tail}"
        mend = f"give {low} to {high}{tail}" + (f", such as {self.such_as}" if self.such_as else "")
        return (f"{self.whose}: {problem}" if self.whose else problem), mend

    def said(self, door: Door = str, *, percent: bool = True) -> str:
        """The same line, in percent where the amount is a share."""
        return "; ".join(self._words(100.0, "%")) if self.share and percent else super().said(door)


class NotFound(InputError):
    """Something named that the logbook does not hold.

    what : its kind, such as "mow" or "lawn"; which : the number or name that was given

    >>> print(NotFound("mow", 7, mend="list the mows"))
    mow 7 is not in the logbook; list the mows
    """

    def __init__(self, what: str, which: int | str, *, mend: str) -> None:
        self.what, self.which = what, which
        super().__init__(f"{what} {which!r} is not in the logbook", mend=mend)


class NotYet(InputError):
    """What is in the logbook is not enough to answer yet; nothing that was given is wrong.

    >>> print(NotYet("0 mows cannot make a track record", mend="add at least 2"))
    0 mows cannot make a track record; add at least 2
    """


class AlreadyKept(InputError):
    """A file whose bytes the logbook has already.

    mow : the number of the mow they belong to; removed : whether that mow was removed

    >>> print(AlreadyKept("b.csv", 4, kept_as="a.csv", removed=False))
    b.csv: is already in the logbook as mow 4 (there a.csv); edit mow 4 instead
    """

    def __init__(self, file: str, mow: int, *, kept_as: str, removed: bool) -> None:
        self.mow, self.removed = mow, removed
        under = f" (there {kept_as})" if kept_as != file else ""
        mend = f"restore mow {mow}, or purge it first" if removed else f"edit mow {mow} instead"
        was = ", which was removed" if removed else ""
        super().__init__(f"is already in the logbook as mow {mow}{under}{was}", file=file, mend=mend)


class TooFewReadings(InputError):
    """A file that is sound so far but holds too little: worth waiting for while it is still being written."""


class LogbookError(MowchargeError):
    """The logbook cannot be opened, read or written (exit code 3)."""

    exit_code = 3


def check_kind(what: str, value: object, kind: type, *, of: str = "") -> None:
    """Raise InputError unless a value is of the kind that the library expects.

    >>> check_kind("lawn", "orchard", float, of="mow")
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: lawn of a mow is 'orchard'; give a float
    """
    if not isinstance(value, kind):
        said = repr(value)
        said = said if len(said) <= 40 and "\n" not in said else f"a {type(value).__name__}"
        whose = f"{what} of a {of}" if of else what
        raise InputError(f"{whose} is {said}", mend=f"give a {kind.__name__}")


def check_several(what: str, values: object, kind: type) -> None:
    """Raise InputError where a single thing is given instead of several of a kind.

    >>> check_several("lawns", "orchard", float)
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: lawns are 'orchard'; give a list of float
    """
    if isinstance(values, str) or not isinstance(values, Iterable):
        held = repr(values) if isinstance(values, str) else f"one {type(values).__name__}"
        raise InputError(f"{what} are {held}", mend=f"give a list of {kind.__name__}")


def check_each(what: str, values: Iterable[object], kind: type) -> None:
    """Raise InputError unless each of several values is of the kind; `what` is their name in the plural.

    >>> check_each("lawns", [1.0, "orchard"], float)
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: lawn is 'orchard'; give a float
    """
    check_several(what, values, kind)
    for each in values:
        check_kind(what.removesuffix("s"), each, kind)
