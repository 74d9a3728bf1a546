"""The kinds of grass as text."""

from __future__ import annotations

from estimator.answers.grass import GrassAnswer
from estimator.report.text import paragraph, table


def grass_text(answer: GrassAnswer, width: int) -> str:
    """Each kind with its energy beside dry grass, and how to tell it."""
    rows = [
        [line.name, f"{line.times:.2f}", f"{line.low:.2f} to {line.high:.2f}", line.how_to_tell]
        for line in answer.lines
    ]
    mows = "1 mow" if answer.mows == 1 else f"{answer.mows} mows"
    head = (
        f"Energy per area beside dry grass 25 mm above the cut, from {mows}; the band holds 90 % of the time."
    )
    return "\n".join(
        [
            paragraph(head, width),
            table(["grass", "times", "band", "how to tell"], rows, width),
            paragraph(answer.growth, width),
        ]
    )
