"""Lines that are not a table turned into one: JSON, name=number, numbers with units, one measurement a line.

Every form is read as names, numbers and units, whatever the punctuation, and put below titles such as "u
[V]". What those titles mean is then decided as for any other table.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import partial
from random import Random
from statistics import median_low

from estimator.importer.clock.stamps import style_of
from estimator.importer.layout.layout import DELIMITERS, split
from estimator.importer.table.json_text import Rows, below_titles, from_document, from_json
from estimator.importer.table.markup import from_html, from_print, tagged, with_dates
from estimator.importer.table.numbers import Cell, number
from estimator.importer.table.quantities import OTHER, unit_of
from estimator.importer.table.titles import meaning

_LONGEST_LINE = 4000
"""Letters; bounds the work of the patterns."""
_SAMPLE = 60
"""Lines from which the form of all is known."""
_MOST_LYING = 60  # no table with one quantity a row has more rows; bounds the work
_NUMBER = r"[-+]?(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:e[-+]?\d+)?"
_PAIR = re.compile(
    r"(?P<name>[^\W\d][\w./-]*(?: [^\W\d][\w./-]*)?)[\"']?\s*[=:]\s*[\"']?"
    rf"(?P<value>{_NUMBER})(?![-:/.]?\d)\s*(?P<unit>(?:[^\W\d_][\w.]{{0,3}}|°[CF]|%)(?![\w/]|\s*[=:]))?",
    re.IGNORECASE,
)
_UNITS = re.compile(
    rf"(?P<name>)(?P<value>{_NUMBER}|[O0]\.?L|-{{2,}})\s*(?P<unit>m?Ah|m?Wh|k?W|[mkµu]?[AVW]|°[CF]|[CF]|%|m?s|min|h)(?![\w/])"
)
_ALONE = re.compile(
    r"(?P<before>.*?)(?P<name>[^\W\d][\w./-]*(?: [^\W\d][\w./-]*){0,2})\s*[=:]\s*(?P<value>[-+\w.,°%/: ]+?)"
)
_ARROWS = re.compile(r"[\s>|,;\]\[-]*(?:->|=>|:|>)?[\s>|,;\]\[-]*$")


_JOINED = "One measurement per line: lines of one instant are joined."


def loosened(lines: Sequence[str]) -> Iterator[tuple[str, Rows]]:
    """The lines as tables with titles, one for every form that fits: a sentence on the form, and the rows.

    >>> [(said, rows[:2]) for said, rows in loosened(["t=0s u=53.6V i=0.5A", "t=1s u=53.5V i=4.0A"] * 3)][0]
    ('Lines of names and numbers.', [['t [s]', 'u [V]', 'i [A]'], ['0', '53.6', '0.5']])
    """
    sample = [line for line in lines[:2000] if line.strip()][-_SAMPLE:]
    for said, whole in (
        ("The file is one JSON document.", from_document),
        ("The table lies on its side: turned.", _turned),
        ("The file is a page of HTML: its longest table is read.", from_html),
        ("The table is printed: columns are known by their places.", from_print),
        ("Dates hold a comma like that between the cells.", with_dates),
        ("Each line is in quotes.", _from_quoted),
    ):
        yield from _as_is_and_joined(said, whole(lines))
    for said, reading_in in (
        ("Lines of JSON.", from_json),
        ("Lines of XML.", tagged),
        ("Lines of names and numbers.", partial(_from_entries, _PAIR)),
        ("No titles: numbers are known by their units.", partial(_from_entries, _UNITS)),
    ):
        if sum(bool(reading_in(line)) for line in sample) < 0.7 * len(sample):
            continue
        found = [reading_in(line) for line in lines]
        lost = sum(not row and bool(line.strip()) for row, line in zip(found, lines, strict=True))
        said += f" {lost} lines hold no reading: left out." * (lost > 0)
        yield from _as_is_and_joined(said, below_titles(found))
    for delimiter in DELIMITERS:
        if rows := _pivoted([split(line, delimiter) for line in lines]):
            yield _JOINED, rows


def _as_is_and_joined(said: str, rows: Rows) -> Iterator[tuple[str, Rows]]:
    if rows:
        yield said, rows
        if joined := _pivoted(rows):
            yield f"{said} {_JOINED}", joined


def _is_quoted(line: str) -> bool:
    line = line.strip()
    return len(line) > 2 and line[0] == line[-1] == '"' and '"' not in line[1:-1]


def _turned(lines: Sequence[str]) -> Rows:
    """A table that has each quantity with its readings in one line, turned."""
    filled = [line for line in lines[: _MOST_LYING + 1] if line.strip()]
    if not 2 <= len(filled) <= _MOST_LYING or len(filled) < sum(bool(x.strip()) for x in lines):
        return []
    for delimiter in DELIMITERS[:4]:
        rows = [[c.strip() for c in split(line, delimiter)] for line in filled]
        long = [row for row in rows if len(row) > 10]
        if len(long) < 2 or len({len(row) for row in long}) > 1:
            continue
        if all(meaning(row[0]) is not None and number(row[0]).kind is not Cell.NUMBER for row in long):
            return [list(row) for row in zip(*long, strict=True)]
    return []


def _from_quoted(lines: Sequence[str]) -> Rows:
    inside = [line.strip()[1:-1] if _is_quoted(line) else "" for line in lines]
    filled = [line for line in inside if line]
    if not filled or len(filled) < 0.7 * sum(bool(line.strip()) for line in lines):
        return []
    usual, delimiter = max((median_low([x.count(d) for x in filled]), d) for d in ",;\t")
    return [split(line, delimiter) for line in inside] if usual >= 2 else []


def _from_entries(pattern: re.Pattern[str], line: str) -> dict[str, str]:
    """The reading in a line that holds two entries or more; values without a name are known by their unit."""
    entries = list(pattern.finditer(line)) if len(line) < _LONGEST_LINE else []
    row: dict[str, str] = {}
    if not entries:
        return row
    if stamp := _stamp_in(line[: entries[0].start()]) or _stamp_in(line[entries[-1].end() :]):
        row["time"] = stamp
    if len(entries) < 2 and style_of([stamp]) in (None, "number"):
        return {}
    for entry in entries:
        name, value, unit = entry.group("name", "value", "unit")
        if name:
            title = f"{name.strip()} [{unit}]" if unit and unit_of(unit) else name.strip()
        else:
            measures = unit_of(unit)
            title = unit if measures is None or measures.quantity == OTHER else measures.quantity
            title += " again" * (title in row)
            value = value if value.startswith("--") else f"{value} {unit}"
        row.setdefault(title, value)
    return row


def stacked(lines: Sequence[str]) -> Rows:
    """A table of lines with one name and value each: a new reading begins where a name comes again.

    Empty where the lines are not like that. Of the stamps in a reading the first counts.

    >>> stacked(["10:00:00 -> U: 52.1 V", "10:00:00 -> I: 9 A", "10:00:05 -> U: 52 V", "10:00:05 -> I: 8 A"])
    [['time', 'U', 'I'], ['10:00:00', '52.1 V', '9 A'], ['10:00:05', '52 V', '8 A']]
    """
    sample = [line for line in lines[:2000] if line.strip(" \t>-")][-_SAMPLE:]
    if sum(_alone(line) is not None for line in sample) < 0.6 * max(1, len(sample)):
        return []
    found: list[dict[str, str]] = [{}]
    for stamp, name, value in filter(None, map(_alone, lines)):
        if name in found[-1]:
            found.append({})
        if stamp:
            found[-1].setdefault("time", stamp)
        found[-1][name] = value
    return below_titles(found)


def _alone(line: str) -> tuple[str, str, str] | None:
    """Stamp, name and value of a line that holds nothing else."""
    found = _ALONE.fullmatch(line.strip()) if len(line) < 200 else None
    if found is None:
        return None
    stamp, value = _ARROWS.sub("", found.group("before")).strip("[]() "), found.group("value").strip()
    is_number = min(number(value, mark).kind for mark in ".,") is Cell.NUMBER
    told = is_number or re.fullmatch(r"[^\W\d][\w -]*", value) or style_of([value]) is not None
    if not told or (stamp and style_of([stamp]) in (None, "number")):
        return None
    return stamp, found.group("name").strip(), value


def _stamp_in(text: str) -> str:
    """The stamp at the beginning of a part of a line, before or after its numbers; the number of the line may
    stand before it."""
    words = re.sub(r"^\W*\w+=", "", _ARROWS.sub("", text)).replace(";", " ").split()
    shorter = (
        " ".join(words[first:n]).strip('[](),;|" ')
        for first in (0, 1)
        for n in (len(words), *range(min(len(words) - 1, 5), first, -1))
    )
    number = ""
    for stamp in filter(None, shorter):
        style = style_of([stamp])
        if style not in (None, "number"):
            return stamp
        number = number or (stamp if style else "")
    return number


def _pivoted(rows: Rows) -> Rows:
    """A table of rows with a stamp, a name and a value, in any order, joined by their stamps."""
    rows = [[c.strip() for c in cells] for cells in rows if cells and not cells[0].startswith("#")]
    # Some exports hold one name after the other, so only the whole file shows all names; where names take
    # turns, an even stride could meet the same name each time.
    spread = sorted({0, *Random(0).sample(range(len(rows)), min(400, len(rows)))})
    sample = [rows[k] for k in spread if k < len(rows) and len(rows[k]) > 1]
    if len(sample) < 6:
        return []
    width = Counter(len(row) for row in sample).most_common(1)[0][0]
    body = [row for row in sample[1:] if len(row) == width]
    if not 3 <= width <= 8 or len(body) < 5:
        return []
    columns = list(zip(*body, strict=True))
    stamps = [k for k, c in enumerate(columns) if style_of(c) not in (None, "number")]
    names = [
        k for k, c in enumerate(columns) if _numbers(c) < 0.1 and 1 < len(set(c)) <= 30 and k not in stamps
    ]
    of = [tuple(row[k] for k in names) for row in body]
    stamps += [k for k, c in enumerate(columns) if style_of(c) == "number" and _rises(c, of)]
    values = [k for k, c in enumerate(columns) if _numbers(c) > 0.6 and k not in stamps]
    if not stamps or not values or not names:
        return []
    at, name = stamps[0], max(names, key=lambda k: len(set(columns[k])))
    value = max(values, key=lambda k: len(set(columns[k])))
    units = [k for k in names if k != name and all(unit_of(c) is not None or not c for c in columns[k])]
    changes = sum(a != b for a, b in itertools.pairwise(columns[name]))
    in_blocks = changes < 2 * len(set(columns[name]))
    found: list[dict[str, str]] = []
    of_stamp: dict[str, dict[str, str]] = {}
    for cells in rows:
        if len(cells) < width or min(number(cells[value], m).kind for m in ".,") is Cell.TEXT:
            continue
        title = f"{cells[name]} [{cells[units[0]]}]" if units and cells[units[0]] else cells[name]
        row = of_stamp.get(cells[at]) if in_blocks else found[-1] if found else None
        if row is None or row["time"] != cells[at] or title in row:
            row = {"time": cells[at]}
            found.append(row)
            of_stamp[cells[at]] = row
        row[title] = cells[value]
    if in_blocks and style_of(columns[at]) == "year first":
        found.sort(key=lambda row: row["time"])
    return below_titles(found)


def _rises(cells: Sequence[str], of: Sequence[tuple[str, ...]]) -> bool:
    """Whether numbers rise throughout among the rows of each name."""
    told: dict[tuple[str, ...], list[float]] = {}
    for name, cell in zip(of, cells, strict=True):
        told.setdefault(name, []).append(number(cell).value)
    return all(x[-1] > x[0] and all(b >= a for a, b in itertools.pairwise(x)) for x in told.values())


def _numbers(cells: Sequence[str]) -> float:
    return sum(number(c, ".").kind is Cell.NUMBER or number(c, ",").kind is Cell.NUMBER for c in cells) / len(
        cells
    )
