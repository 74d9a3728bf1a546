"""Everything that the user has described."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from estimator import logbook as kept
from estimator.answers.figures.mow_figures import with_care
from estimator.descriptions import Lawn, Machine, Pack
from estimator.logbook import Logbook


@dataclass(frozen=True)
class Described:
    """Lawns, packs, machines (with every known day of blade care) and meters of a logbook."""

    lawns: tuple[Lawn, ...]
    packs: tuple[Pack, ...]
    machines: tuple[Machine, ...]
    meters: Mapping[str, Mapping[str, Any]]


def all_described(logbook: Logbook) -> Described:
    """What has been described so far."""
    return Described(
        lawns=kept.lawns(logbook),
        packs=kept.packs(logbook),
        machines=tuple(with_care(each, logbook) for each in kept.machines(logbook)),
        meters=kept.meters(logbook),
    )
