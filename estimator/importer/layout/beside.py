"""What lines around a table say about it: the time between rows, the length of a tick, its channels."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from estimator.importer.clock.stamps import parts
from estimator.importer.layout.layout import Layout, cells_of
from estimator.importer.table import quantities as q
from estimator.importer.table.quantities import Unit, plain, unit_of
from estimator.importer.table.titles import Meaning, meaning

_INTERVAL = re.compile(
    r"(?:interval\w*|sample time|sampling(?: time| period)?|period|every|each|rate|takt|alle|toutes les|cada)"
    r"\D{0,24}?(\d+:\d\d:\d\d|\d+(?:[.,]\d+)?(?:e[-+]?\d+)?)[\s,;]*(ms|msec|s|secs?|seconds?|sek\w*|min|minutes?|hz)?\b",
    re.IGNORECASE,
)


def told_interval_s(lines: Sequence[str | list[str]]) -> float | None:
    """The time between rows [s] by the lines around the table; None where none says it, or they differ.

    >>> told_interval_s(["# one reading every 60 s", "volts;amps"]), told_interval_s(["volts;amps"])
    (60.0, None)
    >>> told_interval_s(["# rate 10 Hz"]), told_interval_s(["Sample Time: 0.2", "Sample Time: 0.5"])
    (0.1, None)
    """
    found: set[float] = set()
    for line in lines:
        text = line if isinstance(line, str) else " ".join(line)
        if len(text) > 300 or text[:1].isdigit():
            continue
        for hit in _INTERVAL.finditer(text):
            clock, unit = parts(hit.group(1), "clock"), (hit.group(2) or "s").lower()
            value = clock.seconds if clock is not None else float(hit.group(1).replace(",", "."))
            unit = "s" if clock is not None else unit
            if value > 0:
                scale = 1e-3 if unit.startswith("ms") else 60.0 if unit.startswith("min") else 1.0
                found.add(1 / value if unit == "hz" else value * scale)
    return found.pop() if len(found) == 1 else None


TICKS = re.compile(r"\bticks?\b")
"""A unit of time that only the logger's maker knows."""
_TICK = re.compile(
    r"\btick\w*\W{0,4}(?:is |are |every |of )?(\d+(?:[.,]\d+)?)\s*(ms|us|µs|s)\b", re.IGNORECASE
)


def with_told_ticks(layout: Layout, lines: Sequence[str | list[str]]) -> Layout:
    """The layout with the length of a tick, where a line says it."""
    texts = (line if isinstance(line, str) else " ".join(line) for line in lines[: layout.first_row])
    hit = next((hit for text in texts if (hit := _TICK.search(text))), None)
    if hit is None or (unit := unit_of(hit.group(2))) is None:
        return layout
    tick = Unit(q.TIME, float(hit.group(1).replace(",", ".")) * unit.scale)
    said = f"A tick is {tick.scale:g} s, as a line of the file says."
    return replace(layout, time=replace(layout.time, unit=tick), notes=(*layout.notes, said))


_LEGEND = re.compile(
    r"\W*((?:channel|kanal|canal|column|spalte|ch)\s*([\w.-]{1,12}))\s*[:=\t ,;]\s*(.+)", re.IGNORECASE
)


def with_legend(
    meanings: list[Meaning | None],
    titles: Sequence[str],
    above: Sequence[str | list[str]],
    delimiter: str | None,
) -> list[Meaning | None]:
    """The meanings, with what lines above say: "Channel A: DC V", or units in the places of the titles."""
    legend: dict[str, Meaning] = {}
    for line in above[-100:]:
        below = zip(titles, map(unit_of, cells_of(line, delimiter)), strict=False)
        measured = {plain(t): u for t, u in below if u and u.quantity in q.MEASURED}
        if len(measured) > 1:
            legend |= {t: Meaning(u.quantity, u) for t, u in measured.items()}
        found = _LEGEND.fullmatch((line if isinstance(line, str) else " ".join(line)).strip())
        if not found:
            continue
        units = (unit_of(word.strip(",;")) for word in found.group(3).split())
        unit = next((u for u in units if u is not None and u.quantity in q.MEASURED), None)
        told = Meaning(unit.quantity, unit) if unit is not None else meaning(found.group(3))
        if told is not None and told.quantity in q.MEASURED:
            legend |= dict.fromkeys((plain(found.group(1)), plain(found.group(2))), told)
    return [legend.get(plain(t), m) for t, m in zip(titles, meanings, strict=True)]
