"""What the library refuses at its own door, and what rare input leaves behind."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import numpy as np
import pandas as pd
import pytest

import estimator as est
from estimator.amounts import is_number
from estimator.answers.keeping.changing import _seconds_in
from estimator.errors import InputError
from estimator.fitting.load.load_draws import _coarser
from estimator.importer.choices import check_choices
from estimator.written_days import moment

LOG = est.Log(pd.DataFrame({"time_s": [0.0, 600, 1200], "current_a": 9.0, "voltage_v": [52.6, 51, 50]}))
PACK = est.Pack("nmc", 13, 10.0, 39.0)
BEGUN = datetime(2026, 5, 4, 9, 0)


@pytest.mark.parametrize(
    ("ask", "line"),
    [
        (
            lambda: est.minutes_left(LOG, PACK, start_charge=1.0, draws=19),
            "19 draws are asked for; take at least 20",
        ),
        (
            lambda: est.lawns_per_charge(est.fit_profile([]), PACK, est.Lawn("a", 100)),
            "lawns are one Lawn; give a list of Lawn",
        ),
        (lambda: est.Pack("nmc", 13, 10.0, "low"), "pack pack: cut-off is 'low'; give a number"),
        (lambda: check_choices({"gap_s": 0}), "gap_s is 0; give seconds, more than 0 and at most 86400"),
        (lambda: check_choices({"interval_s": True}), "interval_s is True; give seconds"),
        (lambda: check_choices({"reverse": "maybe"}), "reverse is maybe; say yes or no"),
        (lambda: moment("3/4/2026 9:00"), "date '3/4/2026 9:00' may be 3 April or 4 March"),
        (
            lambda: _seconds_in("9:20", None),
            "when the mow began is not known; give the minutes from its start",
        ),
    ],
)
def test_what_cannot_be_asked_is_refused_in_one_line(ask: Callable[[], object], line: str) -> None:
    with pytest.raises(InputError) as refused:
        ask()
    assert str(refused.value).startswith(line)


@pytest.mark.parametrize(("value", "one"), [(10**400, False), ([1], False), (np.float64(2), True)])
def test_what_is_a_number(value: object, one: bool) -> None:
    assert is_number(value) is one


def test_the_moment_of_the_next_lawn_is_said_in_minutes_or_by_the_clock() -> None:
    for until in (20, "20", "20 min", "9:20"):
        assert _seconds_in(until, BEGUN) == 1200.0  # type: ignore[arg-type]
    assert moment("5/14/2026 9:20", BEGUN) == datetime(2026, 5, 14, 9, 20)
    assert moment("14.5.2026 9:20", BEGUN) == datetime(2026, 5, 14, 9, 20)


def test_seconds_become_longer_or_shorter_steps_of_the_same_mean() -> None:
    seconds = np.array([1.0, 3.0, 2.0, 6.0])
    assert _coarser(seconds, 2.0).tolist() == [2.0, 4.0]
    assert _coarser(seconds, 3.0).tolist() == [3.0, 3.0], "too short for two steps: its mean"
    assert _coarser(seconds, 0.5).mean() == pytest.approx(3.0)
