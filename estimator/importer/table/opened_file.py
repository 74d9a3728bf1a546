"""An opened file: its table as lines or cells, or spot notes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from estimator.errors import InputError
from estimator.importer.by_hand.spot_notes import spot_field, spot_from_pairs
from estimator.importer.choices import Choices
from estimator.importer.layout.layout import DELIMITERS, split
from estimator.importer.layout.search import find_layout
from estimator.importer.log import SpotNotes
from estimator.importer.table.decode import MAX_BYTES, as_utf8, spreadsheet_rows, unpack

HEAD_BYTES = 1 << 16
"""Enough to know the form of a file."""


@dataclass(frozen=True)
class Table:
    """The rows of a file, as UTF-8 text or as cells of a spreadsheet, with the notes so far.

    sheet : name of the sheet that is read; sheets : the first rows of every sheet, with its name
    doubt : why the user must say which sheet is meant, empty where that is clear
    """

    data: bytes
    cells: list[list[str]] | None
    notes: tuple[str, ...]
    sheet: str = ""
    sheets: tuple[tuple[str, list[list[str]]], ...] = ()
    doubt: str = ""

    def sheet_heads(self, lines: int) -> list[tuple[str, list[str | list[str]]]]:
        """The first lines of every sheet, with its name; a text has one sheet without a name."""
        if self.sheets:
            return [(name, list(rows[:lines])) for name, rows in self.sheets]
        return [("", self.head()[:lines])]

    def head(self, size: int = HEAD_BYTES) -> list[str | list[str]]:
        """The first lines, about `size` bytes of them."""
        if self.cells is not None:
            return list(self.cells)
        if len(self.data) <= size:
            return list(self.data.decode("utf-8", "replace").split("\n"))
        cut = self.data.rfind(b"\n", 0, size)
        return list(self.data[: cut if cut > 0 else size].decode("utf-8", "replace").split("\n"))

    def rows(self, delimiter: str | None) -> Iterator[list[str]]:
        """All rows as cells."""
        if self.cells is not None:
            yield from self.cells
            return
        at, size = 0, len(self.data)
        while at < size:
            end = self.data.find(b"\n", min(at + (1 << 17), size))
            end = size if end < 0 else end + 1
            for line in self.data[at:end].decode("utf-8", "replace").removesuffix("\n").split("\n"):
                yield split(line, delimiter or ",") or [""]
            at = end


def open_table(data: bytes, choices: Choices) -> Table:
    """The table in a file's content; raises InputError for anything that is not one."""
    limit = choices.get("max_bytes", MAX_BYTES)
    data = unpack(data, limit)
    if not data.lstrip(b" \t\r\n\x00\xef\xbb\xbf\xff\xfe"):
        raise InputError("is empty", mend="export it again from the meter")
    if data.startswith(b"PK\x03\x04"):  # a zip, as .xlsx files are
        return _sheet(data, limit, choices)
    text, encoding = as_utf8(data)
    said = () if encoding == "utf-8" else (f"Text is {encoding.upper()}.",)
    return Table(text, None, said)


_HEAD_ROWS = 2000
"""Enough to know the form of a sheet."""


def _sheet(data: bytes, limit: int, choices: Choices) -> Table:
    """The sheet that the user named, or the only one that holds readings.

    Where several hold readings, the user must name one, unless one is far larger than all others.
    """
    wanted = choices.get("sheet")
    sheets = [
        (title, cells)
        for title, cells in spreadsheet_rows(data, limit)
        if any(any(c.strip() for c in row) for row in cells)
    ]
    heads = tuple((title, cells[:_HEAD_ROWS]) for title, cells in sheets)
    if not sheets:
        raise InputError("is empty", mend="export it again from the meter")
    if wanted is not None:
        for title, cells in sheets:
            if title.strip().casefold() == wanted.strip().casefold():
                return Table(b"", cells, (f"Read from the sheet {title!r}.",), title, heads)
        titles = ", ".join(repr(title) for title, _ in sheets)
        raise InputError(f"has no sheet {wanted!r}", mend=f"choose one of {titles}")
    readable = []
    for title, cells in sheets:
        try:
            find_layout(list(cells[:_HEAD_ROWS]), choices)
        except InputError:
            continue
        readable.append((title, cells))
    titles = ", ".join(repr(title) for title, _ in readable)
    readable.sort(key=lambda sheet: -len(sheet[1]))
    if len(readable) > 1 and len(readable[1][1]) > max(20, 0.1 * len(readable[0][1])):
        doubt = f"holds readings on {len(readable)} sheets ({titles})"
        return Table(b"", readable[0][1], (), readable[0][0], heads, doubt)
    title, cells = (readable or sheets)[0]
    return Table(b"", cells, ("Read from a spreadsheet.",), title if readable else "", heads)


def spot_in(table: Table, name: str) -> SpotNotes | None:
    """Spot notes, if the table holds them: one label and value a line, or titles above one line of values."""
    if table.cells is None and len(table.data) > 8000:
        return None
    head = table.head()
    delimiters = (None,) if table.cells is not None else (*DELIMITERS[:4], ":", "=")
    for delimiter in delimiters:
        rows = [
            (k, [c.strip() for c in (line if isinstance(line, list) else split(line, delimiter or ","))])
            for k, line in enumerate(head, start=1)
        ]
        filled = [(k, cells) for k, cells in rows if any(cells) and not cells[0].startswith("#")]
        if not filled or len(filled) > 60:
            continue
        if sum(cells[0][:1].isdigit() for _, cells in filled) > len(filled) / 2:
            continue  # a short log; lines with "average" or "max" below it are its meter's summary
        upright = []
        for k, (label, *more) in filled:
            within = delimiter in (",", ":") and re.match(r"\d", "".join(more[1:2]))  # as in 3,2 or 0:38
            value = (delimiter if within and delimiter else " ").join(filter(None, more[:3]))
            upright += [(label, value, k)] * (len(more) > 0)
        if any(re.search(r"\d$", label) and spot_field(label) for label, _, _ in upright):
            continue  # a comma within numbers
        spot = spot_from_pairs(upright, name)
        if spot is None and len(filled) == 2:
            (_, titles), (k, values) = filled
            spot = spot_from_pairs([(t, v, k) for t, v in zip(titles, values, strict=False)], name)
        if spot is not None:
            return spot
    return None
