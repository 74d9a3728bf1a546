"""Plain text for the terminal: wrapped paragraphs, aligned tables, figures with their bands."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from textwrap import wrap
from typing import Any

from estimator.answers.cautions import DueCautions
from estimator.answers.why import Why

NARROWEST = 40
"""The least width [characters] that text is laid out for; a narrower terminal wraps it by itself."""
UNIT = r"(?:%|°C|A|Ah|V|W|Wh|kW|kWh|Wh/m²|h|min|s|mm|mm²|cm|m|m²|m²/min|ohm|mohm|hp)(?!\w)"
"""The units that are kept on one line with their figure."""
INSIDE_A_FIGURE = re.compile(rf"(?<=\d) (?={UNIT})|(?<=±) ")


HALF_UP = 1e-9
"""Added before rounding, so that 14.5 min typed by hand are 15 and not 14."""


def figure(value: float | None, unit: str = "", digits: int = 0) -> str:
    """A figure with its unit, or "unknown".

    >>> figure(14.5, "min"), figure(None, "min"), figure(float("inf"), "min")
    ('15 min', 'unknown', 'no end in sight')
    """
    if value is None or value != value:
        return "unknown"
    if value in (float("inf"), float("-inf")):
        return "no end in sight"
    return f"{value + HALF_UP:.{digits}f} {unit}".rstrip()


def counted(count: int, word: str = "mow") -> str:
    """A count with the word for what is counted.

    >>> counted(1), counted(2, "file")
    ('1 mow', '2 files')
    """
    return f"{count} {word}{'' if count == 1 else 's'}"


def band(value: float, low: float, high: float, unit: str, digits: int = 0) -> str:
    """A figure with its band.

    >>> band(31.2, 25.6, 38.4, "min")
    '31 min (26 to 38)'
    """
    ends = [
        "no end in sight" if each == float("inf") else f"{each + HALF_UP:.{digits}f}" for each in (low, high)
    ]
    return f"{figure(value, unit, digits)} ({ends[0]} to {ends[1]})"


def paragraph(text: str, width: int = 72, indent: str = "") -> str:
    """A sentence or two, wrapped; later lines are indented as far as the first."""
    return "\n".join(
        wrapped(text, max(width, NARROWEST), initial_indent=indent, subsequent_indent=" " * len(indent))
    )


def wrapped(text: str, width: int, **indents: Any) -> list[str]:
    """A text in lines, none of which breaks between a figure and its unit.

    >>> wrapped("the band holds 90 % of the time", 18)
    ['the band holds', '90 % of the time']
    """
    together = INSIDE_A_FIGURE.sub("\u00a0", text)
    return [line.replace("\u00a0", " ") for line in wrap(together, width, break_on_hyphens=False, **indents)]


def bullets(sentences: Iterable[str], width: int) -> list[str]:
    """A list, one item for each sentence."""
    return [paragraph(each, width, "  - ") for each in sentences]


def table(headings: Sequence[str], rows: Sequence[Sequence[str]], width: int = 72) -> str:
    """Aligned columns: words to the left, figures to the right; the last column wraps.

    >>> print(table(["lawn", "min"], [["orchard", "31"], ["verge", "9"]]))
    lawn     min
    orchard   31
    verge      9
    """
    if not rows:
        return ""
    columns = list(zip(headings, *rows, strict=True))
    rights = [all(_is_figure(cell) for cell in column[1:]) for column in columns]
    widths = [max(len(cell) for cell in column) for column in columns]
    room = max(width, NARROWEST) - sum(widths[:-1]) - 2 * (len(widths) - 1)
    last = max(min(widths[-1], room), 12)
    lines: list[str] = []
    for row in (headings, *rows):
        cells = [
            cell.rjust(size) if right else cell.ljust(size)
            for cell, size, right in zip(row[:-1], widths[:-1], rights[:-1], strict=True)
        ]
        ends = [row[-1].rjust(widths[-1])] if rights[-1] else wrapped(row[-1], last) or [""]
        start = "  ".join([*cells, ""])
        lines.append((start + ends[0]).rstrip())
        lines.extend((" " * len(start) + more).rstrip() for more in ends[1:])
    return "\n".join(lines)


def _is_figure(cell: str) -> bool:
    return not cell or cell[0].isdigit() or cell[0] in "-+<>" or cell in ("unknown", "over 99 %", "under 1 %")


def pairs(rows: Sequence[tuple[str, str]], width: int = 72) -> str:
    """Names and figures in two columns.

    >>> print(pairs([("capacity", "9.4 Ah"), ("resistance", "0.081 ohm")]))
    capacity    9.4 Ah
    resistance  0.081 ohm
    """
    size = max((len(name) for name, _ in rows), default=0) + 2
    lines: list[str] = []
    for name, text in rows:
        first, *more = wrapped(text, max(width - size, 16)) or [""]
        lines.append(f"{name.ljust(size)}{first}".rstrip())
        lines.extend(" " * size + line for line in more)
    return "\n".join(lines)


def cautions_text(due: DueCautions, width: int = 72) -> str:
    """The cautions that are due, a marked paragraph for each, and one line for those that were shown before.

    >>> print(cautions_text(DueCautions(("Keep it dry.",), ("blades", "lithium cells"))))
    ! Keep it dry.
    Cautions: blades, lithium cells - `mowcharge cautions` shows them.
    """
    shown_before = f"Cautions: {', '.join(due.topics)} - `mowcharge cautions` shows them."
    lines = [*(paragraph(text, width, "! ") for text in due.whole)]
    return "\n".join([*lines, *([paragraph(shown_before, width)] if due.topics else [])])


def why_text(why: Why, width: int = 72) -> str:
    """Everything that stands behind an answer."""
    blocks: list[str] = []
    if why.parts:
        blocks.append("Made from")
        blocks.extend(bullets((part.line() for part in why.parts), width))
    for title, sentences in (("Assumed", why.assumptions), ("Sources", why.sources)):
        if sentences:
            blocks.append(title)
            blocks.extend(bullets(sentences, width))
    return "\n".join(blocks)
