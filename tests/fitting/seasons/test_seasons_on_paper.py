"""What mows say about a figure and about a fade: small cases worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from estimator.fitting.seasons.capacity_history import capacity_history
from estimator.fitting.seasons.discharge_curves import DischargeCurve
from estimator.fitting.seasons.fade import FadeDraws, fade_series
from estimator.fitting.seasons.measure_model import LEVEL_STD, drift_columns, fit_measure, percent
from estimator.fitting.seasons.measures import CAPACITY, ENERGY, IDLE, PACE, RESISTANCE, Measure, Observed
from estimator.fitting.seasons.relative_capacity import relative_capacity
from estimator.predictor.fade_forecast import SHOWN, first_under, shows_fade

SURE = Measure("figure", "W", "grass", ("damp",), (0.2,), (1e-6,), 1e-4, 1e-4, 0.05, 1e-6)
"""A figure whose effect is known, and without differences between lawns, days and weeks."""


def days(n: int, apart: int = 7) -> list[date]:
    return [date(2024, 4, 1) + timedelta(days=apart * k) for k in range(n)]


def test_a_known_effect_is_taken_off_and_the_level_is_the_mean_of_what_is_left() -> None:
    """10 W dry and 10·exp(0.2) W damp, one in four damp: usually each would have had 10·exp(0.2/4) W."""
    damp = [0.0, 1.0, 0.0, 0.0]
    mows = [
        Observed(day, 10.0 * math.exp(0.2 * wet), 0.01, (wet,))
        for day, wet in zip(days(4), damp, strict=True)
    ]
    found = fit_measure(SURE, mows, np.ones((4, 1)), [LEVEL_STD])
    assert np.exp(found.adjusted) == pytest.approx([10.0 * math.exp(0.05)] * 4, rel=1e-4)
    assert float(np.median(found.usual)) == pytest.approx(0.05, abs=1e-4)
    level = found.design[:, 0] + found.usual
    assert float(np.exp(np.median(level))) == pytest.approx(10.0 * math.exp(0.05), rel=0.004)
    assert found.log_value == pytest.approx(np.log([mow.value for mow in mows]))


@pytest.mark.parametrize("n", [16, 64])
def test_a_level_is_known_as_a_mean_of_independent_mows(n: int) -> None:
    """Mows that scatter by their own 5 % about one level leave it in doubt by 0.05/sqrt(n)."""
    noise = np.random.default_rng(3).standard_normal(n)
    noise *= 0.05 / noise.std(ddof=1)
    mows = [
        Observed(day, 10.0 * math.exp(off), 1e-4, (0.0,)) for day, off in zip(days(n, 1), noise, strict=True)
    ]
    found = fit_measure(SURE, mows, np.ones((n, 1)), [LEVEL_STD])
    level = found.design[:, 0] + found.usual
    assert len(level) == 4000
    assert float(np.mean(level)) == pytest.approx(math.log(10) + noise.mean(), abs=0.004)
    assert float(np.std(level)) == pytest.approx(0.05 / math.sqrt(n), rel=0.25)


def test_a_mow_counts_as_much_as_its_own_uncertainty_leaves_it() -> None:
    """Ten mows of 10 W, each uncertain by 10 %, and ten of 12 W, by 20 %, which scatter by nothing else: one
    of the second kind weighs a quarter of one of the first."""
    kinds = [(10.0, 0.10)] * 10 + [(12.0, 0.20)] * 10
    mows = [Observed(day, value, std, (0.0,)) for day, (value, std) in zip(days(20), kinds, strict=True)]
    found = fit_measure(replace(SURE, rest_std=1e-3), mows, np.ones((20, 1)), [LEVEL_STD])
    level = float(np.mean(found.design[:, 0] + found.usual)) - math.log(10.0)
    assert level / math.log(1.2) == pytest.approx(0.2, abs=0.03)


def test_points_show_the_drift_of_a_season_that_is_allowed_for_in_the_level() -> None:
    """Two weeks a year apart, 10 W and 12 W: the model may drift between them, but the points stay."""
    wandering = replace(SURE, drift_std=0.3)
    on = [*days(3), *(day + timedelta(days=400) for day in days(3))]
    mows = [
        Observed(day, value, 0.01, (0.0,)) for day, value in zip(on, [10.0] * 3 + [12.0] * 3, strict=True)
    ]
    found = fit_measure(wandering, mows, np.ones((6, 1)), [LEVEL_STD])
    assert np.exp(found.adjusted) == pytest.approx([10.0] * 3 + [12.0] * 3)
    steady = fit_measure(SURE, mows, np.ones((6, 1)), [LEVEL_STD])
    assert np.std(found.design[:, 0] + found.usual) > 2 * np.std(steady.design[:, 0] + steady.usual)


def test_a_prior_about_nothing_holds_a_change_that_few_mows_show() -> None:
    """The second column starts at 0 ± 0.05: two mows ten percent apart, known as well, leave it at half of
    that or less."""
    mows = [Observed(day, value, 0.0, (0.0,)) for day, value in zip(days(2), (10.0, 11.0), strict=True)]
    found = fit_measure(SURE, mows, np.array([[1.0, 0.0], [1.0, 1.0]]), [LEVEL_STD, 0.05])
    change = float(np.median(found.design[:, 1]))
    # scatter 0.05 of each mow: variance of their difference 0.005, of the prior 0.0025
    assert change == pytest.approx(math.log(1.1) * 0.0025 / (0.0025 + 0.005), abs=0.012)


def test_hats_of_the_season_add_up_to_one_and_are_left_out_where_no_mow_is_near() -> None:
    at = np.array([700_013, 700_023, 700_092, 700_423])
    hats = drift_columns(at)
    assert hats.sum(axis=1) == pytest.approx(np.ones(4))
    assert hats[1].tolist() == [0.75, 0.25, 0.0, 0.0, 0.0]
    assert hats.shape == (4, 5), "days 0, 40, 80, 400 and 440; nothing was mown between"


@pytest.mark.parametrize(
    ("fraction", "text"),
    [(0.0094, "+0.9 %"), (0.00951, "+1 %"), (0.0006, "+0.1 %"), (-0.0004, "0 %"), (0.996, "+100 %")],
)
def test_a_change_keeps_a_decimal_under_one_per_cent(fraction: float, text: str) -> None:
    assert percent(fraction) == text


def curve(capacity_ah: float, reach_ah: float = 6.0, start_ah: float | None = 0.0) -> DischargeCurve:
    """A pack whose rest voltage falls by 10 V over its capacity, and somewhat faster near the end."""
    drawn = np.linspace(0.0, reach_ah, 60)
    share = (drawn + (start_ah or 0.0)) / capacity_ah
    return DischargeCurve(
        tuple(drawn), tuple(54.0 - 10.0 * share - 2.0 * share**3), 5.0, 0.1, 0.0, 0.08, 0.0, 0.01, 20.0, 1.0,
        start_ah,
    )  # fmt: skip


def test_capacities_in_proportion_on_paper() -> None:
    """Curves without error that differ only in their stretch: ratios come out exactly, whatever the scale,
    and charge drawn before the log counts."""
    capacities = [10.0, 9.0, 8.5, 9.5, 10.0]
    starts = [0.0, 0.5, 0.0, 0.3, 0.0]
    curves = [curve(each, 6.0 - start, start) for each, start in zip(capacities, starts, strict=True)]
    found = relative_capacity([None, *curves], days(6), 13, 9.0)
    assert [one.place for one in found] == [1, 2, 3, 4, 5]
    ratio = np.array([one.value for one in found]) / found[0].value
    assert ratio == pytest.approx(np.array(capacities) / capacities[0], rel=0.01)
    assert float(np.mean(np.log([one.value for one in found]))) == pytest.approx(math.log(9.0), abs=0.02)
    twice = relative_capacity([None, *curves], days(6), 13, 18.0)
    assert [one.value for one in twice] == pytest.approx([2.0 * one.value for one in found])


def test_what_a_meter_reads_too_high_over_a_whole_mow_is_no_capacity() -> None:
    """A voltage off by 0.05 V in every reading, as much as 4 mV a cell may be, moves a capacity by less than
    a third of what it would by itself: 0.05 V of the 6 V by which half a discharge falls."""
    off = [0.0, 0.05, -0.05, 0.0, 0.0, 0.0]
    plain = [curve(each) for each in (10.0, 9.5, 9.0, 9.0, 9.5, 10.0)]
    moved = [
        replace(each, rest_v=tuple(volts + by for volts in each.rest_v))
        for each, by in zip(plain, off, strict=True)
    ]
    found, was = (relative_capacity(each, days(6), 13, 9.5) for each in (moved, plain))
    change = np.log([one.value for one in found]) - np.log([one.value for one in was])
    assert np.abs(change).max() < 0.05 / 6.0 / 3.0


def test_a_mow_knows_its_capacity_no_better_than_clamp_and_temperature_do() -> None:
    found = relative_capacity([curve(10.0)] * 4, days(4), 13, 10.0)
    assert all(0.015 < one.log_std < 0.04 for one in found)
    shallow = relative_capacity([curve(10.0)] * 4 + [curve(10.0, 0.4)], days(5), 13, 10.0)
    assert [one.place for one in shallow] == [0, 1, 2, 3], "0.4 Ah fall by half a volt: too little to tell"


def falling(now_ah: float, lose: int, of: int = 100) -> FadeDraws:
    """A hundred futures, of which `lose` lose capacity and the others stay; two mows ahead."""
    lost = np.where(np.arange(of) < lose, 0.1, -0.1)
    return FadeDraws(np.array([10.0, 11.0]), np.full((of, 2), now_ah), lost)


@pytest.mark.parametrize(("lose", "shown"), [(74, False), (75, True), (76, True)])
def test_a_fade_is_shown_where_three_of_four_futures_lose(lose: int, shown: bool) -> None:
    assert SHOWN == 0.75
    assert shows_fade(falling(9.0, lose)) is shown


def test_the_mow_that_first_showed_a_pack_under_comes_after_the_last_that_showed_it_over() -> None:
    """With an error of 0.1 Ah, so 0.1645 Ah either way at 90 %, 8.3 is over 8.1, 7.9 under, 8.2 neither."""
    seen = fade_series([1, 2, 3, 4, 5], [7.9, 8.3, 7.9, 8.2, 7.8], 0.1)
    future = falling(7.5, 100)
    assert first_under(seen, future, 8.1).reached == 3
    assert first_under(seen, future, 8.1, level=0.5).reached == 5, "8.2 is over by then"
    never = fade_series([1, 2, 3], [8.2, 8.2, 8.2], 0.1)
    assert first_under(never, future, 8.1).reached == 3, "none by itself: the last"
    shared = fade_series([1, 2, 3, 4, 5], [7.9, 8.3, 8.2, 7.9, 7.5], 0.1, 0.03)
    # with 3 % that all share, 8.3 is no longer over (half the band is 0.44 Ah) and only 7.5 is under
    assert first_under(shared, future, 8.1).reached == 5


def test_a_band_that_straddles_today_has_no_answer_and_one_over_it_none_yet() -> None:
    middle = FadeDraws(
        np.array([10.0, 11.0]), np.linspace(8.0, 9.0, 101)[:, None] * np.ones(2), np.full(101, 0.1)
    )
    seen = fade_series([9, 10], [8.5, 8.5])
    straddled = first_under(seen, middle, 8.5)
    later = replace(middle, capacity_ah=middle.capacity_ah - np.array([0.0, 2.0]))
    assert first_under(seen, later, 8.5).under_now is None, "today counts, not the last mow looked at"
    assert straddled.horizon == 11 and straddled.low == 10.0
    assert straddled.under_now is None and straddled.chance_within == pytest.approx(0.5, abs=0.006)
    over = first_under(seen, middle, 8.0)
    assert over.under_now is False and over.mow == math.inf and over.chance_within == 0.0
    under = first_under(seen, middle, 9.1)
    assert under.under_now is True and under.chance_within == 1.0
    assert (straddled.faded, straddled.faded_low, straddled.faded_high) == (0.1, 0.1, 0.1)
    assert straddled.capacity_ah == (8.5, 8.5) and straddled.low_ah[0] == pytest.approx(8.05)
    assert straddled.high_ah[0] == pytest.approx(8.95)


def test_a_mow_that_a_thick_patch_ended_early_counts_as_if_it_had_gone_on() -> None:
    """Rest voltage falls by 1 V an ampere-hour from 54 V. Three mows end at 44 V, one at 45 V: all are
    compared at 44.25 V, three quarters down that list, where each has drawn 9.75 Ah and so holds the same."""
    curves = [
        DischargeCurve(
            tuple(np.linspace(0, drawn, 60)), tuple(54.0 - np.linspace(0, drawn, 60)),
            5.0, 0.1, 0.004, 0.08, 0.001, 0.02, 20.0, 1.0, 0.0,
        )
        for drawn in (10.0, 10.0, 10.0, 9.0)
    ]  # fmt: skip
    found = capacity_history(
        days(4), [9.6] * 4, [0.2] * 4, curves, series=13, rated_ah=10.0, run_down=[True] * 4
    )
    assert found.shown_by == "run down from full"
    assert [one.value for one in found.observed] == pytest.approx([9.6] * 4)


WEEKS_APART = {"rest": (0, "a"), "day": (1, "a"), "lawn": (0, "b"), "drift": (400, "a")}


@pytest.mark.parametrize(
    ("measure", "spreads"),
    [
        (ENERGY, {"rest": 0.10, "day": 0.03, "lawn": 0.15, "drift": 0.04}),
        (PACE, {"rest": 0.06, "day": 0.03, "lawn": 0.12, "drift": 0.02}),
        (IDLE, {"rest": 0.05, "day": 0.03, "drift": 0.02}),
        (RESISTANCE, {"rest": 0.04, "day": 0.02, "drift": 0.02}),
        (CAPACITY, {"rest": 0.01, "day": 0.005, "drift": 0.006}),
    ],
    ids=lambda each: each.name if isinstance(each, Measure) else "",
)
def test_two_equal_mows_leave_in_doubt_what_tells_mows_lawns_days_and_weeks_apart(
    measure: Measure, spreads: dict[str, float]
) -> None:
    """Two mows of one day and lawn, of two days, two lawns or two years: how far the second may differ is the
    spread of its kind √2 times. A spread known within a factor e^s has on average the square e^2s² times
    that of its middle: s = 0.6, or 0.7 for days; the weeks' own is given."""
    for kind, usual in spreads.items():
        days_on, lawn = WEEKS_APART[kind]
        alone = replace(measure, **{f"{each}_std": 1e-6 for each in WEEKS_APART if each != kind})
        effects = (0.0,) * len(measure.effects)
        mows = [
            Observed(date(2024, 4, 1) + timedelta(days=on), 10.0, 0.0, effects, name)
            for on, name in ((0, "a"), (days_on, lawn))
        ]
        found = fit_measure(alone, mows, np.array([[1.0, 0.0], [1.0, 1.0]]), [LEVEL_STD, LEVEL_STD])
        wider = {"rest": math.exp(0.6**2), "day": math.exp(0.7**2), "lawn": math.exp(0.6**2), "drift": 1.0}[
            kind
        ]
        assert found.design[:, 1].std() == pytest.approx(math.sqrt(2) * usual * wider, rel=0.13), kind


@pytest.mark.parametrize(("measure", "effect", "std"), [(IDLE, 0.0, 0.05), (RESISTANCE, 2.5, 1.0)])
def test_what_warmth_does_is_believed_before_any_mow(measure: Measure, effect: float, std: float) -> None:
    """Two equal mows, the second colder by one: the change that is left is less the effect believed."""
    alone = replace(measure, rest_std=1e-6, day_std=1e-6, drift_std=1e-6)
    mows = [Observed(date(2024, 4, 1), 1.0, 0.0, (cold,)) for cold in (0.0, 1.0)]
    found = fit_measure(alone, mows, np.array([[1.0, 0.0], [1.0, 1.0]]), [LEVEL_STD, 10 * LEVEL_STD])
    assert found.design[:, 1].mean() == pytest.approx(-effect, abs=0.1 * std)
    assert found.design[:, 1].std() == pytest.approx(std, rel=0.1)


@pytest.mark.parametrize("reach_ah", [4.5, 5.4])
def test_a_curve_with_a_shelf_and_a_knee_is_shared_as_well(reach_ah: float) -> None:
    """A rest voltage that falls at once, hardly at all, and steeply again: capacities a tenth apart, with as
    much drawn in each mow. A single cubic would call them 6 to 15 % apart."""
    capacities = [10.0, 9.0, 10.0, 9.0]

    def shelf(capacity_ah: float) -> DischargeCurve:
        drawn = np.linspace(0.0, reach_ah, 80)
        share = drawn / capacity_ah
        volts = 52.0 - 1.5 * np.tanh(share / 0.05) - 4.0 / (1.0 + np.exp((0.45 - share) / 0.03)) - share
        known = (5.0, 0.1, 0.0, 0.08, 0.0, 0.01, 20.0, 1.0, 0.0)
        return DischargeCurve(tuple(drawn), tuple(volts), *known)

    found = relative_capacity([shelf(each) for each in capacities], days(4), 13, 9.5)
    assert [one.value / found[0].value for one in found] == pytest.approx([1.0, 0.9, 1.0, 0.9], abs=0.002)
