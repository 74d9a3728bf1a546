"""The last size worked out for each pack, kept until the question or what it rests on changes."""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from estimator.descriptions import Grass, Lawn, Pack
from estimator.logbook import Logbook, derived_of, keep_derived

if TYPE_CHECKING:
    from estimator.fitting.load.profile import LoadProfile
    from estimator.fitting.pack.fitted_pack import FittedPack
    from estimator.predictor.sizing.recommend import RecommendedCapacity

SIZING = "pack to buy"
SIZING_VERSION = "10"
"""Raise it whenever `recommend_capacity` gives another answer to the same question."""


def sized(
    logbook: Logbook,
    profile: LoadProfile,
    fitted: FittedPack,
    lawns: Sequence[Lawn],
    grass: Grass | Sequence[Grass],
    sure: float,
    **more: Any,
) -> RecommendedCapacity:
    """The answer of `recommend_capacity`; taken from the logbook where question and figures are the same.

    more : its other choices, by name

    Worth keeping: thirty simulations need seconds, and as draws are seeded the answer would be the same.
    """
    asked = (profile, fitted, tuple(lawns), grass, sure, sorted(more.items()))
    mark = hashlib.sha256(pickle.dumps(asked)).hexdigest()
    subject = f"{SIZING} {fitted.name}"
    kept = derived_of(logbook, subject, SIZING, SIZING_VERSION)
    if kept is not None and kept["mark"] == mark:
        return _from_plain(kept["found"])
    from estimator.predictor.sizing.recommend import recommend_capacity

    found = recommend_capacity(profile, fitted, lawns, grass, sure, **more)
    keep_derived(logbook, subject, SIZING, SIZING_VERSION, {"mark": mark, "found": asdict(found)})
    return found


def _from_plain(plain: dict[str, Any]) -> RecommendedCapacity:
    from estimator.predictor.narrowing import Doubt
    from estimator.predictor.sizing.margin import MarginPart, Saving
    from estimator.predictor.sizing.pack_sizes import SizeOdds
    from estimator.predictor.sizing.recommend import RecommendedCapacity

    return RecommendedCapacity(
        **{
            **plain,
            "parts": tuple(MarginPart(**each) for each in plain["parts"]),
            "pack": Pack(**plain["pack"]),
            "sizes": tuple(SizeOdds(**each) for each in plain["sizes"]),
            "choice": None if plain["choice"] is None else SizeOdds(**plain["choice"]),
            "doubts": tuple(Doubt(**each) for each in plain["doubts"]),
            "in_use": SizeOdds(**plain["in_use"]),
            "cut_off": None if plain["cut_off"] is None else Saving(**plain["cut_off"]),
            "saving": None if plain["saving"] is None else Saving(**plain["saving"]),
            "assumptions": tuple(plain["assumptions"]),
        }
    )
