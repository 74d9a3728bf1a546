"""Sizes on offer, the least that a load needs, and a new pack: small cases worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from planted_packs import holding

from estimator.descriptions import Grass, Lawn, Pack
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.load_draws import MowDraws
from estimator.fitting.load.profile import fit_profile
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws, draw_pack
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.importer.log import SpotNotes
from estimator.mow import Mow
from estimator.predictor.narrowing import doubts_by_cause
from estimator.predictor.sizing.need import (
    Day,
    Limits,
    end_of_life_needs,
    least_for_current,
    limits_of,
    needs_when_new,
    smallest_times,
)
from estimator.predictor.sizing.new_pack import new_pack, pack_causes, rise_at_end, sizing_assumptions
from estimator.predictor.sizing.pack_sizes import (
    COMMON_AH,
    built,
    enough_of,
    odds_of,
    sizes_on_offer,
)
from estimator.predictor.sizing.recommend import recommend_capacity

PACK = Pack("nmc", 13, 10.0, 25.0, current_limit_a=20.0, resistance_ohm=0.15)
STRINGS = replace(PACK, string_ah=2.5)


def flat(n: int = 1, capacity_ah: float = 5.0, ohm: float = 0.005) -> PackDraws:
    """Full packs of 50 V at any charge, all alike, that neither lag nor warm; in the cold all resistance is
    exp(2 · (1000/T − 1000/298.15)) times as large."""
    drawn = draw_pack(PACK, n, np.random.default_rng(1))
    tables = np.empty_like(drawn.tables)
    tables[:, :, 0], tables[:, :, 1], tables[:, :, 2:] = 50.0, ohm, 1e-6
    return replace(
        drawn,
        capacity_ah=np.full(n, capacity_ah),
        tables=tables,
        lag_h=0 * drawn.lag_h,
        activation_kk=np.full_like(drawn.activation_kk, 2.0),
        transfer_share=np.zeros(n),
        slow_share=np.zeros(n),
        warmth=None,
    )


def steady(power_w: float, hours: float, n: int = 1) -> MowDraws:
    """`n` draws of one power for so many hours."""
    steps = round(hours * 180)
    return MowDraws(
        np.full((n, steps), power_w),
        np.full((n, 1), 20.0 * steps),
        np.full((n, 1), power_w * hours),
        20.0,
    )


def test_sizes_of_the_trade_rise_in_steps_of_a_half_at_most() -> None:
    steps = np.array(COMMON_AH[1:]) / np.array(COMMON_AH[:-1])
    assert COMMON_AH[0] == 1.0 and COMMON_AH[-1] == 400.0
    assert np.all(steps > 1.0) and np.all(steps <= 1.5)


@pytest.mark.parametrize(
    ("need_ah", "sizes"),
    [
        (700.0, (400.0, 800.0)),
        (10.0, (5.0, 6.0, 7.5, 8.0, 9.0, 10.0, 12.0)),
        (0.9, (1.0, 1.5)),
        (20.0, (9.0, 10.0, 12.0, 15.0, 18.0, 20.0, 24.0)),
    ],
)
def test_common_sizes_from_about_half_the_need_to_one_more_than_enough(
    need_ah: float, sizes: tuple[float, ...]
) -> None:
    """Seven at most: the smallest, the one that is enough, the next, and some evenly chosen in between."""
    assert sizes_on_offer(PACK, need_ah) == sizes


@pytest.mark.parametrize(
    ("need_ah", "sizes"),
    [(2.4, (2.5, 5.0)), (2.5, (2.5, 5.0)), (2.6, (2.5, 5.0, 7.5)), (2.5 * 4 + 1e-9, (5.0, 7.5, 10.0, 12.5))],
)
def test_whole_strings_are_counted_up_but_not_for_a_rounding_error(
    need_ah: float, sizes: tuple[float, ...]
) -> None:
    assert sizes_on_offer(STRINGS, need_ah) == sizes
    assert enough_of(STRINGS, need_ah) == sizes[-2]
    assert enough_of(PACK, need_ah) == need_ah


def test_odds_are_shares_of_drawn_days_that_a_size_is_enough_for() -> None:
    needs = [np.array([4.0, 5.0, 6.0, 7.0]), np.array([5.0, 6.0, 7.0, 8.0]), np.full(4, 9.0)]
    found = odds_of(STRINGS, 5.0, needs)
    assert (found.typical_new, found.worst_new, found.odds, found.strings) == (0.5, 0.25, 0.0, 2)
    assert odds_of(STRINGS, 6.0, needs).strings is None, "two strings and a bit"
    assert odds_of(PACK, 5.0, needs).strings is None


def test_half_as_large_again_has_two_thirds_of_the_resistance_and_half_more_current() -> None:
    found = built(PACK, 15.0)
    assert (found.capacity_ah, found.resistance_ohm, found.current_limit_a) == (
        15.0,
        pytest.approx(0.1),
        30.0,
    )
    plain = built(replace(PACK, resistance_ohm=None, current_limit_a=None), 15.0)
    assert plain.resistance_ohm is None and plain.current_limit_a is None
    worn = holding(PACK, 7.0, logs=3)
    assert built(worn, 15.0).current_limit_a == 30.0, "the label counts, not what is left of it"


def test_limits_are_those_of_the_pack() -> None:
    assert limits_of(replace(PACK, hold_s=3.0), 0.2) == Limits(25.0, 3.0, 0.2, 20.0)


def test_a_current_limit_counts_for_what_lasts_as_long_as_it_is_held() -> None:
    """From 50 V with a limit of 20 A (1000 W): 3000 W for one step of 20 s, 1500 W for two in a row."""
    power = np.array([[500.0, 3000.0, 500.0, 1500.0, 1500.0, 500.0]])
    load = MowDraws(power, np.array([[120.0]]), np.array([[50.0]]), 20.0)
    for hold_s, times in ((5.0, 3.0), (20.0, 3.0), (40.0, 1.5), (21.0, 1.5), (500.0, 0.5)):
        found = least_for_current(flat(), load, Limits(25.0, hold_s, 0.0, 20.0))
        assert found == pytest.approx([times])
    assert least_for_current(flat(2), load, Limits(25.0, 5.0, 0.0, None)).tolist() == [0.0, 0.0]


KEPT = Limits(25.0, 1.0, 0.2, None)
"""A fifth of the charge is kept: 300 Wh from 50 V need 300 / 50 / 0.8 = 7.5 Ah."""


def test_a_pack_far_too_small_is_looked_for_in_strides_that_double_up_to_sixteen_times() -> None:
    """2 times, then 4 times that, then 16 times that, which is 128."""
    load = steady(100.0, 3.0)
    found = smallest_times(flat(1, 0.5), Day(load, 1.0), KEPT, np.array([1.0]), 1.4, 10)
    assert found[0] == pytest.approx(15.0, rel=0.005)
    given_up = smallest_times(flat(1, 0.01), Day(load, 1.0), KEPT, np.array([1.0]), 2.0, 10)
    assert given_up[0] == pytest.approx(128.0, rel=0.005)


def test_every_draw_finds_its_own_size() -> None:
    load = replace(steady(100.0, 3.0, 3), power_w=np.array([[50.0], [100.0], [200.0]]) * np.ones(540))
    found = smallest_times(flat(3), Day(load, 1.0), KEPT, np.full(3, 0.4), 1.4, 12)
    assert 5.0 * found == pytest.approx([3.75, 7.5, 15.0], rel=0.005)


def test_needs_warm_cold_and_within_the_current_limit_on_paper() -> None:
    """7.5 Ah are 1.5 times 5 Ah, the same warm and cold without resistance. With a limit of 3 A for 5 Ah, 6 A
    need twice as much."""
    load, packs = steady(300.0, 1.0, 2), flat(2)
    free = end_of_life_needs(packs, load, KEPT, np.full(2, 1.0), 10.0)
    for each in (free.warm, free.cold, free.limited):
        assert each == pytest.approx([1.5, 1.5], rel=0.03)
    tight = end_of_life_needs(packs, load, replace(KEPT, current_a=3.0), np.full(2, 1.0), 10.0)
    assert tight.cold == pytest.approx([1.5, 1.5], rel=0.03)
    assert tight.limited == pytest.approx([2.0, 2.0], rel=0.02)


def test_volts_that_sag_ask_for_more_within_a_current_limit() -> None:
    """3 A through 1 ohm leave 47 of 50 V: 300 W need 300 / (3 · 47) = 2.128 times the pack, where 50 V would
    say twice; a draw of 50 W is limited by its charge: 50 / 50 / 0.8 = 1.25 Ah, a quarter."""
    load = replace(steady(300.0, 1.0, 2), power_w=np.array([[300.0], [50.0]]) * np.ones(180))
    found = end_of_life_needs(
        flat(2, 5.0, 1.0), load, replace(KEPT, current_a=3.0), np.array([1.0, 0.2]), 25.0
    )
    assert found.limited[0] == pytest.approx(300.0 / (3.0 * 47.0), rel=0.01)
    assert found.warm[1] == pytest.approx(0.25, rel=0.1) and found.limited[1] > found.warm[1]


def test_cold_asks_for_more_where_the_pack_resists() -> None:
    """300 W can be drawn down to 46 V, with 300/46 A and 4 V of sag: 0.613 ohm. 0.9 ohm are 1.467 times that,
    and at 10 °C exp(2 · 0.1777) = 1.427 times as much again."""
    packs, limits = flat(1, 5.0, 0.9), Limits(46.0, 1.0, 0.0, None)
    warm = 0.9 / (4.0 / (300.0 / 46.0))
    cold = warm * math.exp(2.0 * (1000 / 283.15 - 1000 / 298.15))
    old = end_of_life_needs(packs, steady(300.0, 0.1), limits, np.full(1, 1.6), 10.0)
    new_warm, new_cold = needs_when_new(packs, steady(300.0, 0.1, 3), limits, np.full(1, 1.6), 10.0)
    assert (old.warm[0], new_warm[0]) == (pytest.approx(warm, rel=0.03), pytest.approx(warm, rel=0.03))
    assert (old.cold[0], new_cold[0]) == (pytest.approx(cold, rel=0.03), pytest.approx(cold, rel=0.04))


def test_resistance_when_new_at_nine_tenths_on_paper() -> None:
    """1.5 times at 80 % left is taken as a power of the capacity: at 90 % it is
    1.5^(ln 0.9 / ln 0.8) = 1.211 times the resistance of a new pack."""
    worn = holding(PACK, 9.0, logs=3)
    ratio = (
        draw_pack(worn, 4, np.random.default_rng(2)).tables[:, 50, 1:]
        / new_pack(worn, 10.0, 4, np.random.default_rng(2)).tables[:, 50, 1:]
    )
    assert ratio == pytest.approx(np.full_like(ratio, 1.5 ** (math.log(0.9) / math.log(0.8))), rel=1e-3)
    unread = replace(worn, logs=0)
    same = new_pack(unread, 10.0, 4, np.random.default_rng(2)).tables
    assert np.array_equal(same, draw_pack(unread, 4, np.random.default_rng(2)).tables)


def test_what_is_not_known_of_a_pack_is_taken_at_half_and_at_a_tenth_of_the_charge() -> None:
    drawn = flat(3)
    half, tenth = np.searchsorted(GRID, 0.5), np.searchsorted(GRID, 0.1)
    tables = drawn.tables.copy()
    tables[:, half, 1], tables[:, half, 2] = [0.1, 0.2, 0.3], 0.05
    tables[:, tenth, 0], tables[:, tenth, 1] = [40.0, 41.0, 42.0], 0.2
    lag_shape = np.ones_like(drawn.lag_shape)
    lag_shape[:, tenth] = 2.0
    lag_h = np.full_like(drawn.lag_h, 0.01)
    found = pack_causes(replace(drawn, tables=tables, lag_shape=lag_shape, lag_h=lag_h), 10.0)
    assert found["resistance"] == pytest.approx([0.15, 0.25, 0.35])
    sag = found["sag of a pack that is nearly empty"]
    assert sag[:, 0] == pytest.approx([0.02 * len(lag_h)] * 3)
    assert sag[:, 1] == pytest.approx([40.0, 41.0, 42.0])
    assert sag[:, 2] == pytest.approx([0.2 + 1e-6] * 3)
    assert found["what a new pack holds over its label"].tolist() == [5.0] * 3
    assert found["rise of the resistance in the cold"].shape == (3, 3)
    assert "warming of the pack" not in found
    warming = draw_pack(PACK, 3, np.random.default_rng(1))
    assert pack_causes(warming, 10.0)["warming of the pack"].shape == (3, 2)


def test_lead_acid_has_one_exponent_for_its_sag_wherever_its_charge() -> None:
    drawn = draw_pack(Pack("lead_acid", 18, 30.0, 31.5), 3, np.random.default_rng(1))
    sag = pack_causes(drawn, 10.0)["sag of a pack that is nearly empty"]
    assert sag[:, 0] == pytest.approx(drawn.lag_shape[:, 0])


def test_what_the_resistance_rests_on_is_said() -> None:
    def said(pack: Pack) -> str:
        return sizing_assumptions(fit_profile([]), pack, (), ())[-1]

    unread = as_fitted(replace(PACK, resistance_ohm=None))
    assert said(unread).endswith("are the wide prior of its chemistry")
    narrowed = replace(unread, covariance=0.5 * unread.covariance)
    assert said(narrowed).endswith("the resistance narrowed by volts read under load")
    assert said(replace(narrowed, logs=1)).startswith("a new pack holds its label")


def test_a_lead_acid_pack_for_a_known_mow_is_what_the_standard_sizes() -> None:
    """IEEE 485 by Peukert's law: 14.2 A for 24 min (5.68 Ah) at exponent 1.175 need
    (5.68 (14.2/0.05)^0.175)^(1/1.175) = 10.2 Ah by the 20 h label, / 0.8 for age = 12.7 Ah, and 1.19 times
    that at 10 °C (table 1); at 1.28, the highest exponent of eighteen blocks, 16.7 Ah.

    Age is only that division: 80 % is what is left at the rate of the duty (IEEE 450)."""
    pack, n = Pack("lead_acid", 12, 20.0, 21.0), 400
    old = new_pack(pack, 20.0, n, np.random.default_rng(1)).at_temperature(25.0)
    old = old.aged(0.8, rise_at_end("lead_acid", 0.8))
    needs = end_of_life_needs(old, steady(14.2 * 24, 0.4, n), limits_of(pack, 0.0), np.full(n, 0.3), 10.0)
    warm_ah, cold_ah = (float(np.median(each)) * 20.0 for each in (needs.warm, needs.cold))
    assert warm_ah == pytest.approx(12.7, rel=0.06)
    assert cold_ah / warm_ah == pytest.approx(1.19, abs=0.05)
    assert float(np.quantile(needs.warm, 0.95)) * 20.0 == pytest.approx(16.7, rel=0.15)


def test_three_numbers_of_a_lead_acid_mow_ask_for_less_than_half_more_than_the_standard() -> None:
    """Five mows of 26 min at 14 A: 1.68 times their 5.7 Ah for days and doubt, a tenth left, exponent 1.28
    and / 0.8 for age are 28 Ah, and 32 Ah at 10 °C instead of 20. On top comes MAX hold at twice the typical
    amps, met when nearly empty."""
    pack, lawn = Pack("lead_acid", 12, 20.0, 21.0), Lawn("a", 400.0)
    spots = [SpotNotes(idle_a=5.0, typical_a=15.0, highest_a=30.0, minutes=24.0 + k) for k in range(5)]
    mows = [Mow(log_from_spot(s), lawn=lawn, grass=Grass(), pack=pack, start_charge=1.0) for s in spots]
    found = recommend_capacity(fit_profile([mow_features(one) for one in mows]), pack, [lawn])
    assert 32.0 < found.capacity_ah < 1.5 * 32.0


def test_what_a_fast_discharge_leaves_behind_is_named_where_it_makes_a_lead_acid_pack_large() -> None:
    """The exponents of eighteen blocks, 1.10 to 1.28, change a pack for 24 min by more than its resistance
    does: the need of one known mow varies with the cause that includes the exponent."""
    pack, n = Pack("lead_acid", 12, 20.0, 21.0), 400
    new = new_pack(pack, 20.0, n, np.random.default_rng(1)).at_temperature(25.0)
    load = steady(14.2 * 24, 0.4, n)
    need = end_of_life_needs(new, load, limits_of(pack, 0.0), np.full(n, 0.3), 25.0).warm
    causes = pack_causes(new, 10.0)
    found = {one.cause: one.share for one in doubts_by_cause(need, causes, by_hand=True)}
    largest = max(found, key=lambda name: found[name])
    assert largest == "sag of a pack that is nearly empty" and found[largest] > 0.4
