"""Why a table is not understood, in one line with its row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from estimator.errors import InputError, TooFewReadings
from estimator.importer.layout.layout import DELIMITERS, cells_of
from estimator.importer.table import quantities as q
from estimator.importer.table.titles import may_be_titles, meaning
from estimator.mends import Give, Mend


def unrecognised(lines: Sequence[str | list[str]], columns: Mapping[str, str | int] | None) -> InputError:
    """The fault that best explains why no readings were found in these lines, with its row."""
    if columns:
        told = ", ".join(f"{k} in {v!r}" for k, v in columns.items())
        return InputError(
            f"no readings with these columns ({told})",
            mend="check their titles or numbers, and name time, current and voltage where titles do not",
        )
    for k, line in enumerate(lines[:2000]):
        for delimiter in DELIMITERS:
            cells = cells_of(line, delimiter)
            if not may_be_titles(cells):
                continue
            found = {m.quantity for m in (meaning(c) for c in cells) if m}
            if len(found & {q.TIME, q.DATE, q.CURRENT, q.VOLTAGE, q.POWER, q.VALUE}) >= 2:
                if not any("".join(x).strip() for x in lines[k + 1 :]):
                    return TooFewReadings("has titles but no readings", row=k + 1, mend="export it again")
                mend: Mend = ("say which it is, such as ", Give.column("current", "TITLE"))
                if not found & {q.TIME, q.DATE}:
                    mend = (*mend, ", or the time between rows with ", Give("interval_s", "SECONDS"))
                    return InputError("no column for time", row=k + 1, mend=mend)
                if not found & {q.CURRENT, q.VOLTAGE, q.POWER, q.VALUE}:
                    return InputError("no column for current or voltage", row=k + 1, mend=mend)
                row, why = _first_misfit(lines, k, delimiter)
                return InputError(why, row=row, mend="correct the row, or export with another separator")
    filled = (k for k, x in enumerate(lines, start=1) if "".join(x).strip())
    return InputError(
        "no columns for time, current and voltage",
        row=next(filled, 1),
        mend=(
            "give them titles such as time_s, current_a, voltage_v, or say ",
            Give.column("current", "2"),
            " and so on",
        ),
    )


def _first_misfit(lines: Sequence[str | list[str]], k: int, delimiter: str) -> tuple[int, str]:
    titles = cells_of(lines[k], delimiter)
    for j in range(k + 1, len(lines)):
        cells = cells_of(lines[j], delimiter)
        if any(c.strip() for c in cells):
            if len([c for c in cells if c.strip()]) > len(titles):
                return j + 1, f"{len(cells)} fields stand under {len(titles)} titles"
            return j + 1, f"readings such as {', '.join(c.strip() for c in cells)[:60]!r} are not understood"
    return k + 1, "has titles but no readings"
