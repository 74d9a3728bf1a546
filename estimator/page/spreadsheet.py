"""Tables for spreadsheets, in which no text can turn into a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

STARTS_OF_FORMULAS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What makes a spreadsheet read a cell as a formula: OWASP, "CSV Injection"."""


def csv_text(headings: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows as CSV; a text that a spreadsheet would take for a formula gets an apostrophe before it.

    >>> csv_text(("lawn", "wh"), [("=1+1", -2.5), ("orchard", None)])
    "lawn,wh\\r\\n'=1+1,-2.5\\r\\norchard,\\r\\n"
    """
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(headings)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return text.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, str) and value.startswith(STARTS_OF_FORMULAS):
        return f"'{value}"
    return "" if value is None else value
