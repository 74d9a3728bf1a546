"""Whether the lines below a title line fit what its titles mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from estimator.importer.choices import Choices
from estimator.importer.clock.stamps import parts
from estimator.importer.layout.columns import choose
from estimator.importer.layout.layout import Layout, cells_of
from estimator.importer.table.numbers import Cell, number
from estimator.importer.table.titles import Meaning


@dataclass(frozen=True)
class Found:
    """A layout, and how well the lines fit it."""

    score: float
    layout: Layout


def checked(
    lines: Sequence[str | list[str]],
    after: int,
    header_row: int,
    titles: list[str],
    meanings: Sequence[Meaning | None],
    delimiter: str | None,
    choices: Choices,
) -> Found | None:
    """The layout that these meanings give the lines from `after` on, None where those lines do not fit it."""
    sample: list[list[str]] = []
    first_row = 0
    for k in range(after, min(len(lines), after + 400)):
        cells = [c.strip() for c in cells_of(lines[k], delimiter)]
        if any(cells) and not cells[0].startswith(("#", "//")):
            first_row = first_row or k + 1
            sample.append(cells)
            if len(sample) >= 40:
                break
    if not sample:
        return None
    widths = sorted(len(s) for s in sample)
    width = widths[len(widths) // 2]
    filled = sum(any(k < len(s) and s[k] for s in sample) for k in range(len(titles), width))
    if width > len(titles) and filled and delimiter == ",":
        return None
    layout = choose(titles, meanings, sample, delimiter, choices)
    if layout is None:
        return None
    layout = replace(layout, header_row=header_row, first_row=first_row)
    fits = _fits(layout, sample)
    if fits == 0 or (fits < 0.5 * len(sample) and len(sample) > 3):
        return None
    kinds = {c.quantity for c in layout.measured}
    return Found(
        fits / len(sample) + 0.1 * len(kinds) + (0.05 if delimiter not in (",", " ") else 0.0), layout
    )


def _fits(layout: Layout, sample: Sequence[Sequence[str]]) -> int:
    fits = 0
    for cells in sample:
        if layout.every_s is None and parts(layout.stamp(cells), layout.style, layout.decimal) is None:
            continue
        read = [number(cells[c.index], layout.decimal).kind for c in layout.measured if c.index < len(cells)]
        fits += Cell.NUMBER in read and Cell.TEXT not in read
    return fits
