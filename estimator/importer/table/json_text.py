"""JSON as a table: one object a line, or one document that holds readings or columns of them."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence

Rows = list[list[str]]
_LARGEST_DOCUMENT = 1 << 24  # 16 MiB, three days at a reading a second; bounds the memory


def from_json(line: str) -> dict[str, str]:
    """The reading in a line that is a JSON object, alone or in a list; empty for another line.

    >>> from_json('{"t": 0, "bat": {"u": 52.1}},'), from_json("u=52.1")
    ({'t': '0', 'bat u': '52.1'}, {})
    """
    try:
        told = json.loads(line.strip().strip("[],"))
    except (ValueError, RecursionError):
        return {}
    return dict(_flat(told, "", 0)) if isinstance(told, dict) else {}


def _flat(told: dict[str, object], above: str, deep: int) -> Iterator[tuple[str, str]]:
    for name, value in told.items():
        title = f"{above} {name}".strip()
        if isinstance(value, dict) and deep < 4:
            yield from _flat(value, title, deep + 1)
        elif isinstance(value, str | int | float) and not isinstance(value, bool):
            yield title, str(value)


def from_document(lines: Sequence[str]) -> Rows:
    """A table from one JSON document: a list of readings, columns of equal length, or titles and rows.

    >>> from_document(['{"columns": ["t", "u"], "data": [[0, 52.1], [1, 52.0]]}'])
    [['t', 'u'], ['0', '52.1'], ['1', '52.0']]
    >>> from_document(['{"t": [0, 1],', '"u": [52.1, 52.0]}']), from_document(["t;u"])
    ([['t', 'u'], ['0', '52.1'], ['1', '52.0']], [])
    """
    first = "".join(lines[:2000]).lstrip()[:1]
    if first not in ("{", "[") or sum(map(len, lines)) > _LARGEST_DOCUMENT:
        return []
    try:
        told = json.loads("\n".join(lines))
    except (ValueError, RecursionError):
        return []
    return next(filter(None, _tables_in(told, 0)), [])


def _tables_in(told: object, deep: int) -> Iterator[Rows]:
    inner = list(told.values()) if isinstance(told, dict) else [told]
    lists = [x for x in inner if isinstance(x, list) and len(x) > 1]
    if isinstance(told, dict):
        names = next((x for x in lists if all(isinstance(n, str) for n in x)), [])
        for body in lists:
            if names and all(isinstance(row, list) and len(row) == len(names) for row in body):
                yield [names, *([str(c) for c in row] for row in body)]
        columns = {
            name: x
            for name, x in told.items()
            if isinstance(x, list) and x and not isinstance(x[0], dict | list)
        }
        if len(columns) > 1 and len({len(x) for x in columns.values()}) == 1:
            yield [list(columns), *([str(c) for c in row] for row in zip(*columns.values(), strict=True))]
    for body in lists:
        if all(isinstance(row, dict) for row in body):
            yield list(_points(body))
            yield below_titles([dict(_flat(row, "", 0)) for row in body])
    if deep < 4 and isinstance(told, dict):
        for value in inner:
            yield from _tables_in(value, deep + 1)


def _points(series: Sequence[dict[str, object]]) -> Iterator[list[str]]:
    """One measurement a row, from series that each hold their names and a list of pairs."""
    for one in series:
        words = [x for x in one.values() if isinstance(x, str)]
        pairs = [x for x in one.values() if isinstance(x, list) and all(isinstance(p, list) for p in x)]
        yield from ([*words, *map(str, point)] for points in pairs for point in points)


def below_titles(found: Sequence[dict[str, str]]) -> Rows:
    """A table of readings below the names that more than a few lines have; empty without two such names.

    >>> below_titles([{"t": "0", "u": "52.1"}, {}, {"t": "1", "u": "52.0"}])
    [['t', 'u'], ['0', '52.1'], [], ['1', '52.0']]
    """
    filled = [row for row in found if row]
    counts = Counter(name for row in filled for name in row)
    names = [name for name, times in counts.items() if times > 0.05 * len(filled)]
    if len(names) < 2 or len(filled) < 2:
        return []
    return [names, *([row.get(name, "") for name in names] if row else [] for row in found)]
