"""A person's typical current against the mean: learned from evidence, shared by machine and lawn."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from estimator.descriptions import Lawn, Machine, Pack
from estimator.fitting.by_hand.habit import METER_STD, learn_habits, reweighed
from estimator.fitting.load.features import MowFeatures, mow_features
from estimator.fitting.load.phases import Phases
from estimator.fitting.load.profile import fit_profile
from estimator.importer.by_hand.amps import MOW_STD, PERSON_STD, STILL_SHARE, usual_ratio
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.importer.log import SpotNotes
from estimator.mow import Mow
from estimator.predictor.lawns.one_more import weighed_so_far

PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
NOTES = SpotNotes(typical_a=10, minutes=20)


def mow(lawn: str = "rows", machine: str = "mower", **readings: float) -> MowFeatures:
    described = Mow(log_from_spot(replace(NOTES, **readings)), Lawn(lawn, 200), pack=PACK, start_charge=1.0,
                    machine=Machine(machine))  # fmt: skip
    return mow_features(described)


def seen(log_ratio: float, std: float, **of: str) -> MowFeatures:
    """A mow for which a charger gave the ratio with this uncertainty; the prior is worked in by hand."""
    before = PERSON_STD**2 + MOW_STD**2
    together = 1 / (1 / before + 1 / std**2)
    return replace(PLAIN, hand_ratio=together * log_ratio / std**2, hand_ratio_std=math.sqrt(together), **of)


PLAIN = mow()


def test_amps_alone_tell_nothing_of_the_habit():
    habit = learn_habits([PLAIN] * 5).of("mower", "rows")
    assert habit.log_ratio == pytest.approx(0.0, abs=0.02)
    assert habit.std > 0.95 * PERSON_STD


def test_one_mow_that_tells_the_ratio_by_hand():
    """Prior 0 ± 0.13, seen 0.2 ± 0.04 in a mow that scatters by 0.075: weights as for two normals."""
    habit = learn_habits([seen(0.2, 0.04)]).of("mower", "rows")
    noise, prior = 0.04**2 + MOW_STD**2, PERSON_STD**2
    assert habit.log_ratio == pytest.approx(0.2 * prior / (prior + noise), rel=0.02)
    assert habit.std == pytest.approx(math.sqrt(prior * noise / (prior + noise)), rel=0.02)


def test_what_was_learnt_holds_in_part_for_another_lawn_and_less_for_another_machine():
    learnt = learn_habits([seen(0.2, 0.03)] * 10)
    here, there = learnt.of("mower", "rows"), learnt.of("mower", "meadow")
    other = learnt.of("trimmer", "meadow")
    assert here.log_ratio > there.log_ratio > other.log_ratio > 0.02
    assert here.std < there.std < other.std < PERSON_STD


def test_a_logged_mow_tells_of_machine_and_lawn():
    idle, cutting = 100.0, 400.0
    mean = 0.8 * cutting * usual_ratio(idle / cutting) / (1 - STILL_SHARE)
    logged = replace(PLAIN, spot=False, hand_ratio=None, hand_ratio_std=None, mean_w=mean,
                     phases=Phases(cutting, idle))  # fmt: skip
    habit = learn_habits([logged] * 4).of("mower", "rows")
    assert math.log(0.8) < habit.log_ratio < 0.6 * math.log(0.8)
    assert learn_habits([logged] * 4).of(None, "other").log_ratio == 0.0


def test_energies_of_all_mows_follow_what_one_of_them_told():
    told = mow(put_back_ah=2.0)  # where 2.9 Ah are expected
    again, first = reweighed([PLAIN, told])
    assert again.energy_wh < 0.92 * PLAIN.energy_wh
    assert first.energy_wh == pytest.approx(told.energy_wh, rel=0.06)
    assert again.gain_std < PLAIN_SHARED
    assert reweighed([replace(PLAIN, spot=False)])[0].energy_wh == PLAIN.energy_wh


PLAIN_SHARED = reweighed([PLAIN])[0].gain_std


def test_what_all_mows_share_is_told_apart_from_a_mow_s_own():
    one = reweighed([PLAIN])[0]
    assert one.gain_std == pytest.approx(math.hypot(METER_STD, PERSON_STD), rel=0.1)
    assert one.energy_log_std < PLAIN.energy_log_std
    assert fit_profile([PLAIN] * 3).gain_std == pytest.approx(one.gain_std, rel=0.05)


def test_planted_habits_are_found():
    """Twelve mows by people who call 20 % too much usual, with a charger that shows it: little is left."""
    rng = np.random.default_rng(7)
    mows = [seen(-0.2 + rng.normal(0, math.hypot(0.05, MOW_STD)), 0.05) for _ in range(12)]
    habit = learn_habits(mows).of("mower", "rows")
    assert abs(habit.log_ratio + 0.2) < 2 * habit.std
    assert 0.04 < habit.std < 0.05  # a charger's error is the same in all twelve: 0.05 of 0.0447 is left


def test_mows_that_share_an_error_say_little_more_than_one():
    """Ten mows say the same, each within 0.15: the pack's curve may be wrong alike in all."""
    one = learn_habits([seen(0.2, 0.15)]).of("mower", "rows")
    ten = learn_habits([seen(0.2, 0.15)] * 10).of("mower", "rows")
    assert one.log_ratio < ten.log_ratio < 0.1
    assert ten.std > 0.75 * one.std


def test_short_mows_among_long_ones_do_not_tell_the_habit_from_what_is_wrong_alike():
    """Once the prior is taken out, ratios grow with their own uncertainty, whether a curve is off or by
    habit: of 0.15 on average, known to 0.15, a habit of about 0.08 is half."""
    learnt = learn_habits([seen(0.1, 0.1), seen(0.2, 0.2)] * 8).of("mower", "rows")
    assert 0.05 < learnt.log_ratio < 0.11
    assert learnt.std > 0.06


def test_a_mow_under_way_is_read_with_the_habit_on_its_machine():
    """Ten mows on this machine drew a fifth more than usual, so amps noted now mean a fifth more too."""
    known = fit_profile([seen(0.2, 0.03)] * 10, Machine("mower"))
    with_habit, without = (weighed_so_far(NOTES, PACK, each, 1.0, None) for each in (known, None))
    learnt = learn_habits(known.loads)
    on_machine, on_another = learnt.of("mower", None).log_ratio, learnt.of(None, None).log_ratio
    assert on_machine > on_another + 0.04
    more = math.log(with_habit.mean_a.mean() / without.mean_a.mean())
    assert more == pytest.approx(on_machine, abs=0.02)
