"""What narrows an answer about a mow under way: nothing that had to be read before it began."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Pack
from estimator.importer.log import Log, SpotNotes
from estimator.predictor.minutes import minutes_left
from estimator.predictor.minutes_by_hand import minutes_left_by_hand
from estimator.predictor.narrowing import doubts_by_cause

CRATE = Pack("nmc", 13, 10.0, 39.0)
CAUSES = ("capacity", "charge", "open-circuit curve", "resistance", "load")
"""What the minutes left depend on by log and by hand; and one cause of each alone."""


@pytest.mark.parametrize("by_hand", [False, True])
def test_nothing_is_asked_for_that_was_to_be_read_before(by_hand: bool) -> None:
    names = (*CAUSES, "mean current" if by_hand else "clamp zero")
    draws = np.random.default_rng(1).normal(size=(300, len(names)))
    causes = dict(zip(names, draws.T, strict=True))
    before, now = (
        doubts_by_cause(draws.sum(1), causes, by_hand=by_hand, under_way=each) for each in (False, True)
    )
    past = ("before", "straight from the charger", "over a whole mow")
    assert any(word in one.measure for one in before for word in past)
    assert not any(word in one.measure for one in now for word in past)


def test_both_ways_to_the_minutes_ask_for_what_can_still_be_had() -> None:
    by_hand = minutes_left_by_hand(SpotNotes(typical_a=5.0, minutes=12.0), CRATE, 1.0)
    told = {one.cause: one.measure for one in by_hand.doubts}
    assert told["capacity"] == "Note volts at rest after this mow, and the Ah that the charger puts back."
    table = pd.DataFrame({"time_s": [0.0, 600, 1200], "current_a": 9.0, "voltage_v": [52.6, 51, 50]})
    left = minutes_left(Log(table, longest_step_s=900.0), CRATE, draws=100)
    assert {one.cause: one.measure for one in left.doubts}[
        "charge"
    ] == "Say how full the pack was at the start."
