"""A pack whose first year is known: it is believed to have faded, until a fact shows what it holds."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from planted_packs import part, planted_log

from estimator.answers.figures.pack_chain import one_step
from estimator.answers.figures.pack_now import pack_now
from estimator.descriptions import Pack
from estimator.errors import OutOfRange
from estimator.fitting.pack.fitted_pack import FittedPack
from estimator.fitting.pack.pack_fit import fit_pack, update_fit
from estimator.fitting.pack.prior import LABEL_STD
from estimator.importer.log import Log, SpotNotes

TODAY = datetime(2025, 7, 1, 10, 0)
NEW = Pack("nmc", 13, 10.0, 39.0)
OLD = replace(NEW, first_year=2017)


def mow(true_ah: float = 10.0, deep: float = 0.5, day: datetime | None = TODAY) -> Log:
    """A planted mow from full, broken off at a share of its time."""
    log = planted_log(np.random.default_rng(3), capacity_ah=true_ah)[0]
    return replace(part(log, upto_s=deep * log.readings["time_s"].iloc[-1]), started=day)


def test_a_pack_of_eight_years_has_lost_two_to_three_hundredths_in_each():
    """Figgener et al. 2024, Nature Energy 9, 1438: 2 to 3 % a year in up to eight years."""
    found = fit_pack([mow()], OLD, [1.0])
    assert 0.77 < found.capacity_ah / 10.0 < 0.85
    assert found.capacity_std_ah / found.capacity_ah == pytest.approx(np.hypot(LABEL_STD, 0.12), rel=0.03)
    assert found.by_its_label and pack_now(found).known_from.startswith("by its label and age")


@pytest.mark.parametrize(("first_year", "day"), [(None, TODAY), (2025, TODAY), (2026, TODAY), (2017, None)])
def test_without_an_age_the_label_stands(first_year: int | None, day: datetime | None):
    found = fit_pack([mow(day=day)], replace(NEW, first_year=first_year), [1.0])
    assert found.capacity_ah == pytest.approx(10.0, rel=0.005)
    assert found.capacity_std_ah == pytest.approx(LABEL_STD * 10.0, rel=0.03)


@pytest.mark.parametrize("true_ah", [7.6, 10.0])
def test_what_was_drawn_down_to_the_cut_off_counts_for_more_than_the_age(true_ah: float):
    new, old = (fit_pack([mow(true_ah, 1.0)], pack, [1.0]) for pack in (NEW, OLD))
    assert old.capacity_ah == pytest.approx(new.capacity_ah, rel=0.02)
    assert not old.by_its_label


def test_the_years_count_once_however_many_mows_come_and_however_they_are_fitted():
    later = [mow(day=TODAY + timedelta(weeks=week)) for week in range(3)]
    one_by_one: Pack = OLD
    for log in later:
        one_by_one = update_fit(one_by_one, log, 1.0)
    once = fit_pack(later[:1], OLD, [1.0])
    assert one_by_one.capacity_ah == pytest.approx(once.capacity_ah, rel=0.01)
    assert fit_pack(later, OLD, [1.0] * 3).capacity_ah == pytest.approx(once.capacity_ah, rel=0.01)
    assert isinstance(one_by_one, FittedPack) and one_by_one.logs == 3


def test_hand_readings_before_the_first_log_take_the_years_for_it_too():
    charger = SpotNotes(typical_a=8.0, minutes=40.0, rest_before_v=54.0, put_back_ah=5.4)
    by_hand = one_step(OLD, replace(mow(), spot=charger), 1.0, None, TODAY.date())
    assert by_hand.logs == 0 and by_hand.capacity_ah < 9.0
    logged = update_fit(by_hand, mow(day=TODAY + timedelta(weeks=1)), 1.0)
    assert logged.capacity_ah == pytest.approx(by_hand.capacity_ah, rel=0.02)


def test_a_year_in_which_there_were_no_such_packs_is_refused():
    with pytest.raises(OutOfRange, match="year of first use is 17"):
        replace(NEW, first_year=17)
