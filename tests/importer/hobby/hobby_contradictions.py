"""Twenty recordings that contradict a described pack, a lawn, the calendar or themselves."""

from __future__ import annotations

from pathlib import Path

from hobby_against_itself import against_itself
from hobby_against_others import against_others
from hobby_contradiction import LAWN, PACK, Contradiction

__all__ = ["LAWN", "PACK", "Contradiction", "contradictions"]


def contradictions(folder: Path) -> list[Contradiction]:
    """Write all into the folder, each with the expected result where `PACK` and `LAWN` are known."""
    return [*against_itself(folder), *against_others(folder)]
