"""What goes wrong in a way the user can mend, said in one line."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePath


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
    """What stands in a file that was refused, and the options that would read it."""

    sheets: tuple[ShownSheet, ...]
    options: str


class MowchargeError(Exception):
    """Anything that mowcharge tells its user in one line instead of a traceback.

    The line names the culprit, shows the value and suggests the mend; `table` shows the columns of a file
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
        mend: str | None = None,
        table: ShownTable | None = None,
    ) -> None:
        self.problem, self.row, self.mend = problem, row, mend
        self.table = table
        self.file = PurePath(file).name if file is not None else None
        super().__init__(self._line())

    def _line(self) -> str:
        place = ", ".join(
            part for part in (self.file, f"row {self.row}" if self.row is not None else None) if part
        )
        line = f"{place}: {self.problem}" if place else self.problem
        line = f"{line}; {self.mend}" if self.mend else line
        return " ".join(line.split())


class InputError(MowchargeError):
    """A file, a description or an option that cannot be taken as it is (exit code 2)."""

    exit_code = 2


class TooFewReadings(InputError):
    """A file that is sound so far but holds too little: worth waiting for where it is still being written."""


class LogbookError(MowchargeError):
    """The logbook cannot be opened, read or written (exit code 3)."""

    exit_code = 3
