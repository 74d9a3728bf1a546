"""What limits an answer: how much of its spread over the draws comes from each thing that is poorly known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array
from estimator.descriptions import Grass

_MEASURE = {
    "clamp zero": "Zero the clamp with the motor off, jaws closed and empty, just before the log.",
    "mean current": "Note the Wh that the charger puts back, or the meter's AVG over a whole mow.",
    "capacity": "Log one mow from full until the cut-off stops the motor.",
    "charge": "Start a log straight from the charger, or note the voltage after half an hour of rest.",
    "open-circuit curve": "Log one slow discharge from full to the cut-off.",
    "resistance": "Read volts and amps once at full load, ideally near the end of a charge.",
    "sag of a pack that is nearly empty": "Log one mow until the cut-off stops the motor.",
    "rise of the resistance in the cold": "Log one mow on a cold day, with its temperature.",
    "warming of the pack": "Log the pack's own temperature throughout one mow.",
    "load": "Log more of this mowing, or name the lawn that you go on with.",
    "temperature": "Say how warm the day is.",
    "few mows": "Log the next mow of these lawns.",
    "lawn never mown": "Log one mow of the lawn that was never mown.",
    "what a new pack holds over its label": "Run the new pack once from full to the cut-off.",
    "peaks": "Log a mow of the hardest grass, one reading a second.",
}
"""What narrows each cause of doubt; nothing does where days and mows simply differ."""

_BY_HAND = {
    "capacity": "Note volts at rest before and after a mow, and the Ah that the charger puts back.",
    "charge": "Start straight from the charger, or note the volts after half an hour of rest.",
    "open-circuit curve": "",
    "sag of a pack that is nearly empty": "",
    "rise of the resistance in the cold": "",
    "warming of the pack": "",
    "load": "Look at the amps again after some more minutes of this mowing.",
    "few mows": "Note the next mow of these lawns.",
    "lawn never mown": "Note one mow of the lawn that was never mown.",
    "peaks": "Note the MAX hold of a mow in the hardest grass.",
}
"""The same for people who do not log: with a clamp, a voltmeter and a charger; "" where these cannot."""

_UNDER_WAY = {
    "clamp zero": "Switch the motor off for half a minute: the clamp's zero is taken there.",
    "charge": "Say how full the pack was at the start.",
}
"""The same of a mow under way: only what can be done now or after it."""

_BY_HAND_UNDER_WAY = {
    "mean current": "Read the meter's AVG if it has one, and note the Wh that the charger puts back.",
    "capacity": "Note volts at rest after this mow, and the Ah that the charger puts back.",
    "charge": "Say how full the pack was at the start.",
}

NARROWED = 0.75
"""The share of a cause's variance that one good measurement takes away (common practice)."""


@dataclass(frozen=True)
class Doubt:
    """One cause of doubt: its share of the answer's variance, and the one measurement that would narrow it,
    "" where none would since days and mows simply differ."""

    cause: str
    share: float
    measure: str


def doubts_by_cause(
    answer: Array,
    causes: Mapping[str, Array],
    *,
    by_hand: bool = False,
    under_way: bool = False,
    grasses: Sequence[Grass] = (),
) -> tuple[Doubt, ...]:
    """Causes, each (n,) or (n, k), by falling share of the variance of `answer` (n,): a regression on ranks.

    by_hand : whether nothing is logged, so that measurements by hand are named; under_way : whether a mow is
        going on, so that nothing is named that had to be read before it; grasses : as they were given

    A cause's share is what the regression loses without it: two causes that vary together take shares from
    each other but not from a third. Shares are scaled to at most 1 in total.

    >>> draws = np.random.default_rng(1).normal(size=(500, 2))
    >>> found = doubts_by_cause(3 * draws[:, 0] + draws[:, 1], {"load": draws[:, 0], "capacity": draws[:, 1]})
    >>> found[0].cause, round(found[0].share, 1)
    ('load', 0.9)
    """
    ranked = {name: _ranks(np.asarray(values)) for name, values in causes.items() if np.ptp(values) > 0}
    y = _ranks(answer)[:, 0]
    if not ranked or np.ptp(answer) == 0:
        return ()
    whole = _explained(y, list(ranked.values()))
    lost = {
        name: max(whole - _explained(y, [v for other, v in ranked.items() if other != name]), 0.0)
        for name in ranked
    }
    scale = max(sum(lost.values()), 1.0)
    order = sorted(lost, key=lambda name: -lost[name])
    now = (_BY_HAND_UNDER_WAY if by_hand else _UNDER_WAY) if under_way else {}
    measures = {**_MEASURE, **(_BY_HAND if by_hand else {}), **now, "grass": _left_to_say(grasses)}
    return tuple(Doubt(name, lost[name] / scale, measures.get(name, "")) for name in order)


def _left_to_say(grasses: Sequence[Grass]) -> str:
    """What could still be said of the grass; "" where nothing could."""
    wet = "how wet the grass is" if any(one.moisture is None for one in grasses) else ""
    off = "how much comes off" if any(one.growth_mm is None for one in grasses) else ""
    said = " and ".join(filter(None, (wet, off)))
    return f"Say {said}." if said else ""


def _ranks(values: Array) -> Array:
    table = values.reshape(len(values), -1)
    ranks = np.argsort(np.argsort(table, axis=0), axis=0).astype(float)
    ranks -= ranks.mean(axis=0)
    return np.asarray(ranks / np.maximum(np.sqrt(np.sum(ranks**2, axis=0)), 1e-12))


def _explained(y: Array, columns: list[Array]) -> float:
    if not columns:
        return 0.0
    design = np.concatenate(columns, axis=1)
    rest = y - design @ np.linalg.lstsq(design, y, rcond=None)[0]
    return float(1.0 - rest @ rest)
