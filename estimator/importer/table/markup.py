"""Tables in the form of other programs: pages of HTML, XML, dumps of a database, print."""

from __future__ import annotations

import csv
import html
import itertools
import re
from collections.abc import Sequence

from estimator.importer.layout.layout import split
from estimator.importer.table.json_text import Rows

_ROW = re.compile(r"<tr\b.*?>(.*?)(?=</?tr\b|</table|$)", re.IGNORECASE | re.DOTALL)
_CELL = re.compile(r"<t[dh]\b.*?>(.*?)(?=</?t[dhr]\b|$)", re.IGNORECASE | re.DOTALL)
_INSERT = re.compile(r"\binsert into\s+(\S+?)\s*(?:\(([^()]*)\))?\s*values\b", re.IGNORECASE)
_COPY = re.compile(r"^copy\s+(\S+?)\s*\(([^()]*)\)\s*from stdin.*\n", re.IGNORECASE | re.MULTILINE)
_TUPLE = re.compile(r"\(((?:'[^']*'|[^()'])*)\)\s*(?=[,;]|$)", re.MULTILINE)


def from_html(lines: Sequence[str]) -> Rows:
    """The longest table of an HTML page.

    >>> from_html(["<table><tr><th>t</th><th>u</th></tr>", "<tr><td>0<td>52,1 &deg;</tr></table>"])
    [['t', 'u'], ['0', '52,1 °']]
    """
    if not any("<t" in line.lower() for line in lines[:2000]):
        return []
    tables = re.split(r"<table\b", "\n".join(lines), flags=re.IGNORECASE)[1:]
    found = [[_CELL.findall(row) for row in _ROW.findall(table)] for table in tables]
    longest = max(found, key=len, default=[])
    return [[html.unescape(re.sub(r"<[^>]*>", " ", cell)).strip() for cell in row] for row in longest]


_TAGGED = re.compile(r"([\w.-]+)=\"([^\"]*)\"|<([\w.-]+)>([^<>]*)</")


def tagged(line: str) -> dict[str, str]:
    """The attributes and elements in a line of XML.

    >>> tagged('<r t="0"><u>52.1</u></r>')
    {'t': '0', 'u': '52.1'}
    """
    found = _TAGGED.findall(line) if line.lstrip().startswith("<") else []
    return {a or b: x or y for a, x, b, y in found}


_MOST_PRINTED, _MOST_COLUMNS = 200_000, 500
"""Lines, and columns in each; bound the work."""


def from_print(lines: Sequence[str]) -> Rows:
    """A table whose columns are at fixed places, with blanks where a reading is missing.

    >>> page = ["   t     u    i", *(f"  {k}  {52.1}  {'' if k == 7 else k:3}" for k in range(1, 9))]
    >>> from_print(page)[::7]
    [['t', 'u', 'i'], ['7', '52.1', '']]
    """
    body = [line for line in lines if line.strip()[:1].isdigit()]
    if len(body) < 0.5 * len(lines) or len(lines) > _MOST_PRINTED or any("\t" in line for line in body[:50]):
        return []
    inked = {k for line in body for k, letter in enumerate(line) if letter != " "}
    places = {k for k in range(max(inked, default=0) + 1) if k in inked or {k - 1, k + 1} <= inked}
    starts = sorted(k for k in places if k - 1 not in places) if len(body) > 4 else []
    if not 3 <= len(starts) <= _MOST_COLUMNS:
        return []
    ends = sorted(k for k in places if k + 1 not in places)
    middles = [(a + b) / 2 for a, b in zip(starts, ends, strict=True)]
    rows = []
    for line in lines:
        cells = [""] * len(starts)
        if line.strip()[:1].isdigit():
            cells = [line[a:b].strip() for a, b in itertools.pairwise([*starts, len(line) + 1])]
        else:
            for word in re.finditer(r"\S+(?: \S+)*", line):
                middle = (word.start() + word.end() - 1) / 2
                cells[min(range(len(starts)), key=lambda k: abs(middles[k] - middle))] = word.group()
        rows.append(cells)
    return rows


_DATE_WITH_COMMA = re.compile(
    r"(?:[^\W\d]{2,9}, )?([^\W\d]{3,10}\.? \d{1,2}|\d{1,2}\.? [^\W\d]{3,10}\.?), (\d{4})"
)


def with_dates(lines: Sequence[str]) -> Rows:
    """A table of cells separated by commas, with dates such as May 30, 2026 among them."""
    held = [_DATE_WITH_COMMA.sub(r"\1 \2", line) for line in lines]
    changed = sum(a != b for a, b in zip(held, lines, strict=True))
    return [split(line, ",") for line in held] if changed > 0.7 * len(lines) else []


def from_dump(lines: Sequence[str]) -> Rows:
    """The longest table of an SQL dump, with its titles from INSERT, COPY or CREATE TABLE.

    >>> from_dump(["CREATE TABLE a (t int, u decimal(5,2));", "INSERT INTO a VALUES (0, 52.1), (1, 52.0);"])
    [['t', 'u'], ['0', '52.1'], ['1', '52.0']]
    """
    text = "\n".join(lines)
    if copied := _COPY.search(text):
        body = text[copied.end() :].partition("\\.")[0]
        return [_names(copied.group(2)), *(line.split("\t") for line in body.split("\n"))]
    inserts = list(_INSERT.finditer(text))
    tables: dict[str, list[str]] = {}
    for k, insert in enumerate(inserts):
        end = inserts[k + 1].start() if k + 1 < len(inserts) else len(text)
        tables.setdefault(insert.group(1), []).extend(_TUPLE.findall(text, insert.end(), end))
    if not tables:
        return []
    longest = max(tables, key=lambda name: len(tables[name]))
    named = next((x.group(2) for x in inserts if x.group(1) == longest and x.group(2)), None)
    if named is None:
        made = re.search(
            rf"create table[^;(]*{re.escape(longest)}\s*\((.*?);", text, re.IGNORECASE | re.DOTALL
        )
        named = re.sub(r"\([^()]*\)", "", made.group(1)) if made else ""
    rows = csv.reader(tables[longest], quotechar="'", skipinitialspace=True)
    typed = re.compile(r"\w+ '(.*)'")  # as in TIMESTAMP '2026-07-05 10:00:00'
    return [_names(named), *([typed.sub(r"\1", cell.strip()) for cell in row] for row in rows)]


def _names(listed: str) -> list[str]:
    """The names in a list of columns, each without its type."""
    return [words[0].strip('`"[]') for part in listed.split(",") if (words := part.split())]
