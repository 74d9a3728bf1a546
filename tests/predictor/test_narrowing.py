"""Why an answer is uncertain: shares of causes, and the one measurement that narrows each."""

from __future__ import annotations

import numpy as np
import pytest

from estimator.descriptions import Grass
from estimator.predictor.narrowing import doubts_by_cause


def test_a_sure_answer_is_limited_by_nothing() -> None:
    draws = np.random.default_rng(1).normal(size=200)
    assert doubts_by_cause(np.full(200, 30.0), {"load": draws}) == ()
    assert doubts_by_cause(draws, {"load": np.full(200, 3.0)}) == ()
    assert [each.cause for each in doubts_by_cause(draws, {"load": draws})] == ["load"]


def test_a_cause_has_the_share_of_the_variance_that_goes_with_it() -> None:
    """Half of it with one cause: 0.483 of the ranks', (6/π · asin(r/2))² with r² one half (Pearson 1907, from
    memory).

    What else there was remains nobody's; where two causes are one and the same thing, neither hides a third.
    """
    a, b, c = np.random.default_rng(1).normal(size=(3, 20_000))
    assert doubts_by_cause(a + b, {"load": 1e-3 * a})[0].share == pytest.approx(0.483, abs=0.02)
    shares = {
        each.cause: each.share for each in doubts_by_cause(a + b + c, {"load": a, "peaks": a, "grass": b})
    }
    assert shares["grass"] == pytest.approx(0.32, abs=0.02)
    assert (shares["load"], shares["peaks"]) == pytest.approx((0.0, 0.0), abs=1e-6)
    # neither of two says anything alone and both together all of it: each is lost wholly, and counts a half
    only_both = doubts_by_cause(b, {"load": 30 * a, "peaks": 30 * a + b})
    assert [each.share for each in only_both] == pytest.approx([0.5, 0.5], abs=0.02)


@pytest.mark.parametrize(
    ("grasses", "asked"),
    [
        ((Grass(),), "Say how wet the grass is and how much comes off."),
        ((Grass("damp"),), "Say how much comes off."),
        ((Grass("damp", None, 9.0),), "Say how much comes off."),
        ((Grass(None, 25.0),), "Say how wet the grass is."),
        ((Grass("damp", 25.0), Grass("dry", 20.0)), ""),
        ((Grass("damp", 25.0), Grass("dry")), "Say how much comes off."),
        ((Grass("damp", 25.0), Grass(None, 25.0)), "Say how wet the grass is."),
    ],
)
def test_only_what_was_not_said_of_the_grass_is_asked_for(grasses: tuple[Grass, ...], asked: str) -> None:
    draws = np.random.default_rng(1).normal(size=200)
    assert doubts_by_cause(draws, {"grass": draws}, grasses=grasses)[0].measure == asked


def test_nobody_who_reads_by_hand_is_sent_to_log() -> None:
    draws = np.random.default_rng(1).normal(size=(200, 12))
    named = ("mean current", "capacity", "charge", "open-circuit curve", "resistance", "load", "few mows")
    named += ("lawn never mown", "peaks", "warming of the pack", "rise of the resistance in the cold")
    causes = dict(zip((*named, "sag of a pack that is nearly empty"), draws.T, strict=True))
    by_hand = doubts_by_cause(draws.sum(axis=1), causes, by_hand=True)
    assert not [each.measure for each in by_hand if "log" in each.measure.casefold().split()]
    assert sum(each.measure != "" for each in by_hand) == 8
    logged = doubts_by_cause(draws.sum(axis=1), causes)
    assert sum(each.measure.startswith("Log ") for each in logged) >= 7
