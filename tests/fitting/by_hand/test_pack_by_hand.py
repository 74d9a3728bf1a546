"""Resistance from a voltage read under load: limits on paper, planted packs, and nothing from nothing."""

from dataclasses import replace

import numpy as np
import pytest
from hand_read_mows import noted, planted_pack
from hypothesis import given, settings
from hypothesis import strategies as st
from planted_mows import plant
from planted_packs import open_circuit_v

from estimator.answers.figures.pack_now import pack_now
from estimator.descriptions import Grass, Lawn, Pack
from estimator.fitting.by_hand import pack_by_hand
from estimator.fitting.by_hand.pack_by_hand import HABIT_STD, learn_by_hand
from estimator.fitting.load.profile import fit_profile
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.open_circuit import GRID
from estimator.importer.log import SpotNotes
from estimator.predictor.sizing.recommend import recommend_capacity

CRATE = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
SHORT = SpotNotes(typical_a=10.0, minutes=1.0, rest_before_v=53.0, rest_after_v=53.0, load_v=51.65)


def ohm_std(pack):
    return float(np.sqrt(as_fitted(pack).covariance[prior.OHMIC, prior.OHMIC][4, 4]))


def test_the_sag_that_was_believed_changes_little_and_narrows():
    """10 A for half a minute: 0.104 ohm give 1.04 V, a quick pair of 0.026 ohm, nearly full, 0.22 V, and 32 s
    of a lag of 250 s on a slope of 9 V about 0.08 V: 51.65 V is what was believed."""
    learnt = learn_by_hand(CRATE, SHORT)
    assert learnt.resistance_ohm == pytest.approx(0.13, rel=0.10)
    assert ohm_std(learnt) < 0.75 * ohm_std(CRATE)  # how much of the sag is a slow pair's stays open


def test_twice_the_sag_is_believed_in_part():
    """It would mean twice the ohms; the prior holds that back, and the lag takes a share."""
    learnt = learn_by_hand(CRATE, replace(SHORT, load_v=53.0 - 2 * 1.35))
    assert 1.3 < learnt.resistance_ohm / 0.13 < 2.0
    assert learnt.capacity_ah == pytest.approx(as_fitted(CRATE).capacity_ah, rel=0.02)


def test_one_rest_voltage_says_less_than_two():
    notes = replace(SHORT, minutes=20.0, rest_before_v=53.6, rest_after_v=51.0, load_v=49.0)
    both, one = learn_by_hand(CRATE, notes), learn_by_hand(CRATE, replace(notes, rest_after_v=None))
    assert both.resistance_ohm > 0.14
    assert ohm_std(both) <= ohm_std(one) + 1e-9


@pytest.mark.parametrize(
    "missing", [("load_v",), ("typical_a",), ("minutes",), ("rest_before_v", "rest_after_v")]
)
def test_nothing_is_learnt_where_a_reading_is_missing(missing):
    learnt = learn_by_hand(CRATE, replace(SHORT, **dict.fromkeys(missing)))
    assert np.array_equal(learnt.mean, as_fitted(CRATE).mean)
    assert np.array_equal(learnt.covariance, as_fitted(CRATE).covariance)


def test_many_readings_say_no_more_than_a_habit_of_reading_allows():
    pack, stds = CRATE, []
    for _ in range(12):
        pack = learn_by_hand(pack, SHORT)
        stds.append(ohm_std(pack))
    assert stds[1] > 0.9 * stds[0], "what errs alike in both says hardly more the second time"
    assert stds[-1] > 0.8 * stds[1] > 0.5 * HABIT_STD[1]


def test_the_same_bias_of_twenty_mows_does_not_add_up():
    """Each mow by itself says that the charger put back a fifth less than the pack should have given."""
    notes = SpotNotes(typical_a=10.0, minutes=30.0, rest_before_v=54.0, rest_after_v=46.5, put_back_ah=5.0)
    pack, first = CRATE, learn_by_hand(CRATE, notes, 1.0)
    for _ in range(20):
        pack = learn_by_hand(pack, notes, 1.0)
    label = as_fitted(CRATE).capacity_ah
    assert first.capacity_ah < 0.99 * label
    assert label - pack.capacity_ah < 1.6 * (label - first.capacity_ah)


def test_a_worn_pack_shows_where_its_charge_was_counted_between_two_rests():
    """A mean of 8 A for 30 min from full is 4 Ah; if volts at rest show that half is gone, it holds 8 Ah, not
    10. The curve is known to some 5 % there, the label to 7 %: a good quarter of the way. Typical amps alone,
    known to 15 %, teach nothing."""
    half_v = 13 * float(open_circuit_v("nmc", 0.5))
    notes = SpotNotes(typical_a=8.5, minutes=30.0, rest_before_v=54.2, rest_after_v=half_v, rested_minutes=60)
    counted = learn_by_hand(CRATE, replace(notes, mean_a=8.0), 1.0)
    assert 8.6 < counted.capacity_ah < 9.8
    std = np.sqrt(counted.covariance[prior.CAPACITY, prior.CAPACITY])
    assert HABIT_STD[0] < std < prior.LABEL_STD
    assert learn_by_hand(CRATE, notes, 1.0).capacity_ah == as_fitted(CRATE).capacity_ah


def test_a_pack_known_from_logs_is_left_alone():
    known = replace(as_fitted(CRATE), covariance=1e-4 * as_fitted(CRATE).covariance, logs=20)
    assert learn_by_hand(known, replace(SHORT, load_v=49.0)) is known


def test_cold_explains_sag():
    """The same sag in a pack at 0 °C means less resistance at 25 °C than in a warm one."""
    sagging = replace(SHORT, load_v=50.0)
    assert (
        learn_by_hand(CRATE, sagging, 0.0).resistance_ohm < 0.8 * learn_by_hand(CRATE, sagging).resistance_ohm
    )


@settings(max_examples=30, deadline=None)
@given(st.floats(20, 60), st.floats(0.3, 60), st.floats(1, 120), st.sampled_from(["nmc", "lfp", "lead_acid"]))
def test_whatever_is_read_leaves_a_pack_that_can_be_drawn(load_v, amps, minutes, chemistry):
    pack = Pack(chemistry, {"nmc": 13, "lfp": 16, "lead_acid": 24}[chemistry], 10.0, 39.0)
    notes = SpotNotes(typical_a=amps, minutes=minutes, rest_before_v=53.0, rest_after_v=50.0, load_v=load_v)
    learnt = learn_by_hand(pack, notes)
    assert np.isfinite(learnt.mean).all()
    assert 0.01 < learnt.resistance_ohm / as_fitted(pack).resistance_ohm < 20
    assert np.linalg.eigvalsh(learnt.covariance).min() > -1e-9


def test_planted_packs_lie_where_the_readings_say():
    """Packs from plain ranges, each known from one hand-read mow: errors are as large as claimed."""
    off, before = [], []
    for seed in range(60):
        rng = np.random.default_rng(300 + seed)
        truth = replace(plant(rng, 1), level=0.35)
        pack = planted_pack(CRATE, rng)
        notes = noted(truth, replace(truth.lawns[0], area_m2=150.0), Grass("dry", 25), pack, rng)
        learnt = learn_by_hand(CRATE, notes)
        really = np.interp(0.5, GRID, pack.tables[0, :, 1:].sum(1))
        off.append(np.log(learnt.resistance_ohm / really) / ohm_std(learnt))
        before.append(np.log(as_fitted(CRATE).resistance_ohm / really) / ohm_std(CRATE))
    assert np.sqrt(np.mean(np.square(off))) < 1.25
    assert np.mean(np.abs(off) < 1.645) > 0.85
    assert np.std(before) > 0.3  # the packs differ enough for this to mean something


def test_the_recommended_capacity_says_what_the_resistance_rests_on():
    learnt, lawn = learn_by_hand(CRATE, SHORT), [Lawn("strip", 100)]
    told = recommend_capacity(fit_profile([]), learnt, lawn, draws=40).assumptions
    untold = recommend_capacity(fit_profile([]), as_fitted(CRATE), lawn, draws=40).assumptions
    assert sum("narrowed by volts read under load" in one for one in told) == 1
    assert not any("narrowed" in one for one in untold)


def test_what_hand_readings_taught_is_not_said_to_be_from_logs():
    usual = as_fitted(CRATE)
    narrowed = replace(usual, covariance=0.5 * usual.covariance)
    assert pack_now(usual).known_from == "by its label"
    assert pack_now(narrowed).known_from == "from hand readings"
    assert pack_now(replace(narrowed, logs=2)).known_from == "from 2 logs"


def test_a_motor_that_ran_to_the_end_rules_out_a_steep_law():
    """15 A for 55 minutes are 0.69 of 20 Ah: at 15 times the 20 h current, what Peukert's law leaves of the
    charge is 15 to the minus (exponent - 1), so an exponent over 1.14 would have stopped the motor, were the
    current and the label exact. The short mow rules out nothing and teaches nothing."""
    block = Pack(chemistry="lead_acid", series=12, capacity_ah=20.0, cut_off_v=20.4)
    before = as_fitted(block)
    learnt = learn_by_hand(block, SpotNotes(typical_a=15.0, minutes=55.0), 1.0)
    assert learnt.mean[prior.PEUKERT] < before.mean[prior.PEUKERT] - 0.05
    assert (
        learnt.covariance[prior.PEUKERT, prior.PEUKERT]
        < 0.9 * before.covariance[prior.PEUKERT, prior.PEUKERT]
    )
    assert learn_by_hand(block, SpotNotes(typical_a=15.0, minutes=15.0), 1.0) is before or np.array_equal(
        learn_by_hand(block, SpotNotes(typical_a=15.0, minutes=15.0), 1.0).mean, before.mean
    )


@pytest.mark.parametrize("label_ah", [10.0, 12.0, 16.0])
def test_a_battery_that_ran_out_holds_what_it_gave_whatever_its_label(label_ah):
    """12 A for 30 min are 6 Ah: all that it gives from full, half of it from half full."""
    crate, notes = replace(CRATE, capacity_ah=label_ah), SpotNotes(mean_a=12.0, minutes=30)
    out = learn_by_hand(crate, notes, 1.0, ran_out=True)
    assert out.usable_ah == pytest.approx(6.0, rel=0.05)
    assert 0.05 < out.usable_std_ah / out.usable_ah < 0.12
    assert (
        learn_by_hand(crate, notes, None, ran_out=True).usable_ah > 0.8 * label_ah
    )  # from where, nobody said
    half = learn_by_hand(crate, notes, 0.5, ran_out=True)
    assert half.usable_ah == pytest.approx(min(12.0, as_fitted(crate).usable_ah), rel=0.06)


def test_a_lead_acid_pack_cannot_run_out_by_itself():
    acid, notes = Pack("lead_acid", 24, 20.0, 42.0), SpotNotes(mean_a=10.0, minutes=30)
    assert learn_by_hand(acid, notes, 1.0, ran_out=True).stops_at == 0.0


@pytest.mark.parametrize(("minutes", "stays"), [(33, True), (40, False)])
def test_a_mow_by_hand_that_drew_more_shows_that_the_battery_does_not_stop_there(minutes, stays):
    """6 Ah and it stopped; 12 A for 33 min are 6.6 Ah, a tenth more, for 40 min 8 Ah, a third more."""
    weak = learn_by_hand(CRATE, SpotNotes(mean_a=12.0, minutes=30), 1.0, ran_out=True)
    later = learn_by_hand(weak, SpotNotes(mean_a=12.0, minutes=minutes), 1.0)
    assert (later.stops_at > 0.0) is stays
    assert (later.usable_ah < 7.0) is stays


def test_nobody_said_that_the_battery_stopped_the_motor():
    assert learn_by_hand(CRATE, SpotNotes(mean_a=12.0, minutes=30), 1.0).stops_at == 0.0


@pytest.mark.parametrize(
    ("gave_ah", "left", "before", "usable"),
    [
        (6.0, 0.0, 1.0, 0.6),
        (6.0, 0.1, 1.0, 0.66),  # 0.4 unused at first sight; and a tenth of 0.6 that the lag leaves
        (6.0, 0.1, 0.8, 0.668),  # as it stopped before: a tenth of 0.8, so 0.68, and then a tenth of that
        (12.0, 0.1, 1.0, 0.95),  # more than its label: no more than it can use down to the cut-off
        (1.0, 0.0, 1.0, 0.2),  # four fifths unused at most
    ],
)
def test_a_pack_that_ran_out_can_use_what_it_gave_and_what_its_pace_left(
    gave_ah, left, before, usable, monkeypatch
):
    monkeypatch.setattr(pack_by_hand, "left_at_pace", lambda *_: left)
    own = replace(as_fitted(CRATE), usable=min(before, 0.95), stops_at=round(1.0 - before, 3))
    own_ah = 10.0 * np.exp(own.mean[prior.CAPACITY])
    found = pack_by_hand._run_out(own, gave_ah / 10.0 * own_ah * np.array([0.9, 1.0, 1.1]))
    assert found.usable == pytest.approx(usable)
    assert found.stops_at == pytest.approx(1.0 - usable if usable < 0.95 else 0.0)
    assert found.capacity_ah == pytest.approx(usable * own_ah)
    # as well as what it gave was weighed, and 5 % from one stop to another
    assert found.covariance[0, 0] == pytest.approx(0.01 * 2 / 3 + 0.05**2)


@pytest.mark.parametrize(
    ("read", "gave_ah", "within"),
    [({"put_back_ah": 8.2}, 8.2, 0.08), ({"socket_wh": 345.0}, 8.0, 0.15), ({"mean_a": 9.0}, 8.25, 0.1)],
)
def test_what_a_charger_put_back_after_a_mow_to_the_end_is_what_it_gives(
    read: dict[str, float], gave_ah: float, within: float
):
    """345 Wh from the socket are some 85 % of that at the pack, at 36.5 V: 8.0 Ah. Volts at rest after it
    would only say how much of a capacity that the label had wrong."""
    crate = Pack("nmc", 10, 12.0, 33.0)
    notes = SpotNotes(minutes=55.0, rest_before_v=41.9, rest_after_v=33.5, **read)
    out = learn_by_hand(crate, notes, 1.0, ran_out=True)
    assert out.usable_ah == pytest.approx(gave_ah, rel=within)
    assert out.usable_std_ah < 0.1 * out.usable_ah
