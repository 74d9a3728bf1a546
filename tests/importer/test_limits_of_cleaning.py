"""Every limit of cleaning on both of its sides, on logs that can be worked out on paper.

In each table: what the log holds, and whether that is noticed. The usual log reads once a second, at 50 V.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.arrays import Floats
from estimator.importer.cleaning import masks, plausible
from estimator.importer.cleaning.charger import leave_out_charging
from estimator.importer.cleaning.readings_in_work import Series, high_level, longest_joined_s
from estimator.importer.cleaning.several import leaps, said_of_several
from estimator.importer.cleaning.volt_holes import cut_dead_ends, mend_voltage_spikes
from estimator.importer.cleaning.zero import quiet_stretches, zero_error


def log(amps: object, volts: object = 50.0, step_s: float = 1.0) -> Series:
    i = np.array(amps, dtype=float)
    v = np.broadcast_to(np.array(volts, dtype=float), i.shape).copy()
    nowhere = np.zeros(len(i), dtype=bool)
    return Series(step_s * np.arange(len(i)), i, v, None, nowhere, max(30.0, 3 * step_s), np.arange(len(i)))


def parts(*told: tuple[int, float]) -> Floats:
    """So many readings of each value."""
    return np.concatenate([np.full(count, value) for count, value in told])


def swinging(count: int, low: float, high: float) -> Floats:
    return np.resize([low, high], count).astype(float)


def left_out(s: Series, kind: str) -> int:
    return sum(mark.count for mark in s.marks if mark.kind == kind)


@pytest.mark.parametrize(
    ("step_a", "work_a", "charge_a", "seconds", "found"),
    [
        (0.01, 2.0, 0.09, 200, False), (0.01, 2.0, 0.11, 200, True),  # a tenth of an amp
        (0.01, 20.0, 0.39, 200, False), (0.01, 20.0, 0.41, 200, True),  # 2 % of 20 A
        (0.5, 20.0, 1.4, 200, False), (0.5, 20.0, 1.6, 200, True),  # three steps of the display
        (0.01, 20.0, 2.0, 120, False), (0.01, 20.0, 2.0, 121, True),  # two minutes
    ],
)  # fmt: skip
def test_charging_is_more_than_a_waver_and_lasts(step_a, work_a, charge_a, seconds, found) -> None:
    s = log(parts((600, work_a), (10, 0.0), (seconds, -charge_a)))
    assert leave_out_charging(s, step_a, told=False) == []
    assert left_out(s, "charging") == (seconds if found else 0)


@pytest.mark.parametrize(
    ("before_s", "after_s", "where"),
    [
        (4, 0, "before the mow (3 min, 0.28 Ah put in)"), (6, 0, ""),  # 1 % of what is drawn in 500 s
        (0, 4, "after the mow (3 min, 0.28 Ah put in)"), (0, 6, ""), (0, 0, "after the mow (3 min"),
    ],
)  # fmt: skip
def test_what_is_charged_between_work_stays(before_s, after_s, where) -> None:
    charge = [(200, -5.0)]
    if before_s:
        amps = parts((before_s, 10.0), *charge, (500 - before_s, 10.0))
    else:
        amps = parts((500 - after_s, 10.0), *charge, (after_s, 10.0))
    s = log(amps)
    said = leave_out_charging(s, 0.1, told=False)
    assert bool(said) == (not where) and left_out(s, "charging") == (200 + before_s + after_s if where else 0)
    assert not said or "(0.28 Ah put in)" in said[0]
    assert not where or f"Charging {where}" in s.marks[0].said


def test_charging_on_both_sides_is_left_out_on_both() -> None:
    s = log(parts((200, -5.0), (500, 10.0), (300, -5.0)))
    leave_out_charging(s, 0.1, told=False)
    assert "before and after the mow (8 min, 0.69 Ah put in)" in s.marks[0].said and len(s.time_s) == 500


@pytest.mark.parametrize(("work_s", "refused"), [(4, True), (6, False)])  # 1 % of 500 s of charging
def test_nothing_but_charging_is_refused_unless_said(work_s, refused) -> None:
    amps = parts((500, -10.0), (work_s, 10.0))
    if refused:
        with pytest.raises(InputError, match=r"nothing but charging \(1.39 Ah"):
            leave_out_charging(log(amps), 0.1, told=False)
        assert leave_out_charging(log(amps), 0.1, told=True) == []
    else:
        leave_out_charging(log(amps), 0.1, told=False)


@pytest.mark.parametrize(("highest", "said"), [(39.0, "at the highest reading 39.0 A"), (41.0, "10.0 A")])
def test_over_the_range_the_highest_reading_that_is_no_spike_counts(highest, said) -> None:
    s = log(parts((50, 10.0), (1, highest), (49, 10.0)))
    s.current_a[60:63], s.over_current[60:63] = np.nan, True
    masks.mend_missing(s)
    assert "3 readings over the meter's range (1 stretch, 2 s)" in s.marks[0].said and said in s.marks[0].said
    assert len(s.time_s) == 97


@pytest.mark.parametrize(
    ("count", "low", "high", "ohm"),
    [
        (11, 18.0, 20.0, 0.1), (10, 18.0, 20.0, 0.0),  # ten steps
        (40, 18.9, 20.0, 0.1), (40, 19.1, 20.0, 0.0),  # 5 % of 20 A
        (40, -8.0, 20.0, 0.1), (40, -12.0, 20.0, 0.0),  # one and a half times 20 A
    ],
)  # fmt: skip
def test_sag_is_taken_from_steps_of_a_middling_size(count, low, high, ohm) -> None:
    s = log(swinging(count, low, high))
    s.voltage_v -= 0.1 * s.current_a
    assert masks.sag_resistance(s) == pytest.approx(ohm)
    s.volts_drawn[:] = True
    assert masks.sag_resistance(s) == 0.0


@pytest.mark.parametrize(
    ("spikes", "jump_a", "sag_v", "found"),
    [
        ((60,), 20.0, 0.39, True), ((60,), 20.0, 0.41, False),  # a fifth of the 2 V that 0.1 ohm would make
        ((60,), 119.0, 11.9, False), ((60,), 121.0, 12.1, True),  # ten times the 12 A at work
        ((60,), 11.5, 0.0, False), ((60,), 12.5, 0.0, True),  # leaps by more than the 12 A at work
        ((60, 70, 80), 20.0, 0.0, True), ((60, 70, 80, 90), 20.0, 0.0, False),  # four of 100
    ],
)  # fmt: skip
def test_a_spike_stands_alone_and_makes_no_sag(spikes, jump_a, sag_v, found) -> None:
    """At 0.1 ohm, seen in the first readings."""
    s = log(np.r_[swinging(30, 10.0, 12.0), np.full(70, 12.0)])
    s.voltage_v -= 0.1 * s.current_a
    s.current_a[list(spikes)] += jump_a
    s.voltage_v[list(spikes)] -= sag_v
    masks.mend_spikes(s, 0.01, 0.01)
    assert left_out(s, "spike") == (len(spikes) if found else 0)


@pytest.mark.parametrize(
    ("count", "volts", "sag_v", "found"),
    [
        (60, 50.0, 0.15, True), (60, 50.0, 0.17, False),  # a fifth of 78 A on 10 milliohms
        (60, 3.7, 0.0, False),  # 58 mV are no more than six steps of 0.01 V
    ],
)  # fmt: skip
def test_a_spike_amid_amps_that_stand_still_needs_no_sag_to_be_known(count, volts, sag_v, found) -> None:
    s = log(np.full(count, 12.0), volts)
    s.current_a[3], s.voltage_v[3] = 90.0, volts - sag_v
    masks.mend_spikes(s, 0.01, 0.01)
    assert left_out(s, "spike") == found


@pytest.mark.parametrize(
    ("glitches", "height_a", "beside_a", "sag_v", "found"),
    [
        (2, 39.0, 2.0, 0.0, False), (2, 41.0, 2.0, 0.0, True),  # twenty times the usual 2 A
        (2, 60.0, 5.9, 0.0, True), (2, 60.0, 6.1, 0.0, False),  # a reading beside it has a tenth
        (2, 60.0, 2.0, 0.9, True), (2, 60.0, 2.0, 1.1, False),  # 2 % of 50 V
        (3, 60.0, 2.0, 0.0, False),  # 2 % of 100 readings
    ],
)  # fmt: skip
def test_a_glitch_is_far_beyond_all_others(glitches, height_a, beside_a, sag_v, found) -> None:
    s = log(np.full(100, 2.0))
    at = 20 * np.arange(1, glitches + 1)
    s.current_a[at], s.current_a[at - 1], s.voltage_v[at] = height_a, beside_a, 50 - sag_v
    masks.mend_spikes(s, 0.01, 0.01)
    assert any("glitch" in mark.said for mark in s.marks) == found


@pytest.mark.parametrize(
    ("at_top", "top", "others", "found"),
    [
        ((4, 0), 20.0, (5.0, 15.0), True), ((3, 0), 20.0, (5.0, 15.0), False),
        ((1, 8), 20.0, (5.0, 15.0), False),  # alone each
        ((4, 0), 20.14, (5.0, 15.0), True), ((4, 0), 20.16, (5.0, 15.0), False),  # a step and a half of 0.1 A
        ((30, 0), 20.0, (5.0, 15.0), True), ((31, 0), 20.0, (5.0, 15.0), False),  # three of ten
        ((4, -10), 20.0, (5.0, 15.0), True), ((4, -11), 20.0, (5.0, 15.0), False),  # readings just below it
    ],
)  # fmt: skip
def test_the_end_of_a_range_is_known_by_readings_that_stand_there(at_top, top, others, found) -> None:
    run, more = at_top
    s = log(swinging(100, *others))
    s.current_a[10 : 10 + run] = top
    s.current_a[50 : 50 + 2 * max(more, 0) : 2] = top
    s.current_a[50 : 50 - min(more, 0)] = 19.0
    masks.mark_saturation(s, 0.1)
    assert left_out(s, "saturated") == (run if found else 0)


@pytest.mark.parametrize(
    ("count", "stuck", "stuck_a", "step_s", "pairs", "found"),
    [
        (200, 20, 10.0, 1.0, 0, True), (200, 19, 10.0, 1.0, 0, False),
        (200, 40, 10.0, 0.5, 0, True), (200, 39, 10.0, 0.5, 0, False),  # 20 s
        (200, 21, 10.0, 1.0, 5, True), (200, 20, 10.0, 1.0, 5, False),  # ten times as long as usual
        (200, 30, 1.2, 1.0, 0, True), (200, 30, 1.0, 1.0, 0, False),  # a tenth of 11 A
        (200, 30, -2.0, 1.0, 0, False),  # a charger's amps may stand still
        (100, 30, 10.0, 1.0, 0, True), (99, 30, 10.0, 1.0, 0, False),
        (201, 100, 10.0, 1.0, 0, True), (201, 101, 10.0, 1.0, 0, False),  # half of the readings
    ],
)  # fmt: skip
def test_a_stuck_meter_stands_far_longer_than_it_ever_does(
    count, stuck, stuck_a, step_s, pairs, found
) -> None:
    s = log(swinging(count, 10.5, 11.0), step_s=step_s)
    s.current_a[50 : 50 + stuck + 1] = stuck_a
    for k in range(pairs):
        s.current_a[120 + 6 * k : 123 + 6 * k] = 9.0
    masks.mend_stuck(s)
    assert left_out(s, "stuck") == (stuck if found else 0)


@pytest.mark.parametrize(("high_a", "volts", "found"), [(65.4, 51, 1), (62.0, 51, 0), (65.4, 49, 0)])
def test_amps_of_16_bits_without_their_sign_are_known_by_volts_that_do_not_sag(high_a, volts, found) -> None:
    s = log(
        np.r_[swinging(100, 10.0, 30.0), high_a + 0.01 * np.arange(3)], np.r_[np.full(100, 50), [volts] * 3]
    )
    masks.mend_lost_signs(s)
    assert left_out(s, "reversed") == 3 * found
    assert float(s.current_a[-1]) == pytest.approx(high_a + 0.02 - 65.536 * found)


def test_a_gap_is_more_than_the_longest_step_and_is_costed() -> None:
    s = log(np.full(5, 36.0))
    s.time_s = np.array([0.0, 1, 31, 62, 63])
    masks.mark_gaps(s)
    (mark,) = s.marks
    assert mark.spans_s.tolist() == [[31, 62]] and "31 s in all" in mark.said and "add 0.310 Ah" in mark.said


@pytest.mark.parametrize(
    ("rest_s", "second", "found"),
    [(3600, 100, True), (3599, 100, False), (3600, 3, False), (3600, 4, True)],  # 1 % of 300 readings
)
def test_an_hour_of_rest_parts_two_mows(rest_s, second, found) -> None:
    s = log(parts((300, 10.0), (1, 0.0), (second, 10.0)))
    s.time_s[300:] += [rest_s - 2, *[rest_s - 2] * second]
    said = said_of_several(s, leaps(s))
    assert said == [] or ("2 mows" in said[0] and "before row 301 to" in said[0])
    assert bool(said) == found


@pytest.mark.parametrize(
    ("rest_s", "after_v", "rest_a", "found"),
    [
        (20, 53.1, 0.0, True), (19, 53.1, 0.0, False), (20, 52.9, 0.0, False),  # 6 % above 50 V
        (20, 53.1, -0.09, True), (20, 53.1, -0.11, False),  # charged meanwhile
    ],
)  # fmt: skip
def test_a_fresh_pack_is_known_by_its_volts_at_work(rest_s, after_v, rest_a, found) -> None:
    s = log(
        parts((200, 10.0), (rest_s - 1, rest_a), (200, 10.0)),
        parts((130, 52.0), (70 + rest_s - 1, 50.0), (200, after_v)),
    )
    said = said_of_several(s, leaps(s))
    assert bool(said) == found and (not said or "far higher from minute 4 on" in said[0])


@pytest.mark.parametrize(
    ("count", "dead_v", "dead_a", "found"),
    [(7, 4.9, 0.0, 3), (6, 4.9, 0.0, 0), (50, 5.1, 0.0, 0), (50, 4.9, 1.0, 3), (50, 4.9, 1.1, 0)],
)
def test_readings_before_the_leads_are_on_have_neither_volts_nor_amps(count, dead_v, dead_a, found) -> None:
    s = log(parts((3, dead_a), (count, 10.0)), parts((3, dead_v), (count, 50.0)))
    cut_dead_ends(s)
    assert left_out(s, "dead") == found


@pytest.mark.parametrize(
    ("holes", "volts", "amps", "found"),
    [
        (1, 42.4, 10.0, 1), (1, 42.6, 10.0, 0), (1, 57.6, 10.0, 1),  # 15 % of 50 V
        (1, 42.0, 34.5, 1), (1, 42.0, 37.0, 0),  # 8 V, and three times 0.1 ohm and ten steps of 0.05 V
        (20, 4.9, 10.0, 20), (20, 42.0, 10.0, 20), (21, 42.0, 10.0, 0),  # a fifth of 100
    ],
)  # fmt: skip
def test_volts_leap_where_amps_do_not(holes, volts, amps, found) -> None:
    s = log(np.full(100, 10.0))
    at = 1 + 4 * np.arange(holes)
    s.voltage_v[at], s.current_a[at] = volts, amps
    mend_voltage_spikes(s, 0.1, 0.05)
    assert left_out(s, "spike") == found


@pytest.mark.parametrize(
    ("amps", "volts", "refused"),
    [
        ((31.0, 50.0), (7.0, 30.0), True), ((29.0, 50.0), (7.0, 30.0), False),  # 0.6 of 50
        ((31.0, 50.0), (10.0, 30.0), False), ((31.0, 50.0), (7.0, 51.0), False),  # 0.3 of 30; and above volts
    ],
)  # fmt: skip
def test_columns_are_swapped_where_volts_swing_and_amps_stand(amps, volts, refused) -> None:
    s = log(swinging(30, *amps), swinging(30, *volts))
    if refused:
        with pytest.raises(InputError, match="swapped"):
            plausible.check_sides(s)
        s.keep(np.arange(30) > 0)
    plausible.check_sides(s)


@pytest.mark.parametrize(
    ("amps", "volts", "said"),
    [
        (0.51, 50, ""), (0.49, 50, "only 0.49 A"), (399, 50, ""), (401, 50, "401 A, too much"),
        (9, 149, ""), (9, 151, "151 V, too much"), (9, 6.1, ""), (9, 5.9, "5.9 V, too little"),
    ],
)  # fmt: skip
def test_levels_that_no_mower_has_are_said(amps, volts, said) -> None:
    found = " ".join(plausible.said_of_levels(log(np.full(30, amps), volts)))
    assert said in found and bool(said) == bool(found)


@pytest.mark.parametrize(
    ("amps", "volts", "refused"),
    [
        (1001, 6.1, "amps reach"), (999, 6.1, ""), (1001, 5.9, ""), (9, 1499, ""), (9, 1501, "volts are at"),
    ],
)  # fmt: skip
def test_thousandths_without_a_word_are_refused(amps, volts, refused) -> None:
    s = log(np.full(30, amps), volts)
    if refused:
        with pytest.raises(InputError, match=refused):
            plausible.check_levels(s)
    else:
        plausible.check_levels(s)


@pytest.mark.parametrize(
    ("amps", "counts"),
    [
        (np.arange(101.0), True), (np.arange(100.0), False), (2.0 + np.arange(101), True),
        (3.0 + np.arange(101), False), (np.r_[np.arange(101.0), 99], False),
    ],
)  # fmt: skip
def test_amps_that_rise_all_along_from_nothing_are_a_counter(amps, counts) -> None:
    if counts:
        with pytest.raises(InputError, match="never fall"):
            plausible.check_no_counter(log(amps))
    else:
        plausible.check_no_counter(log(amps))


_NOISE = np.resize([1.0, 1.0, -1.0, -1.0], 400)  # neighbours as often alike as not


@pytest.mark.parametrize(
    ("amps", "refused"),
    [
        (0.2 * _NOISE, True), (0.49 * _NOISE, True), (0.51 * _NOISE, False),
        (0.2 * _NOISE[:29], False), (0.2 * (_NOISE + 0.19), True), (0.2 * (_NOISE + 0.21), False),
        (0.2 * np.resize([1.0, 1, 1, -1, -1, -1], 400), False), (0.2 * np.resize([1.0, -1], 400), False),
    ],
)  # fmt: skip
def test_noise_about_nothing_is_no_log(amps, refused) -> None:
    if refused:
        with pytest.raises(InputError, match="nothing flows"):
            plausible.check_flow(log(amps))
    else:
        plausible.check_flow(log(amps))


@pytest.mark.parametrize(("ahead", "said"), [(timedelta(days=1.9), 0), (timedelta(days=2.1), 1)])
def test_a_clock_runs_ahead_by_no_more_than_two_days(ahead, said) -> None:
    assert len(plausible.said_of_clock(datetime.now() + ahead)) == said
    assert len(plausible.said_of_clock(datetime(2015 - said, 1, 1))) == said


@pytest.mark.parametrize(
    ("frozen", "step_s", "level", "before", "swing", "found"),
    [
        (61, 1.0, 12.5, 60, 1.0, True), (60, 1.0, 12.5, 61, 1.0, False),
        (68, 0.9, 12.5, 61, 1.0, True), (67, 0.9, 12.5, 61, 1.0, False),  # a minute
        (61, 1.0, 1.3, 61, 1.0, True), (61, 1.0, 1.1, 61, 1.0, False),  # a tenth of 12 A
        (61, 1.0, 12.5, 59, 1.0, False),
        (61, 1.0, 12.5, 61, 0.31, True), (61, 1.0, 12.5, 61, 0.29, False),  # three tenths of the swing
    ],
)  # fmt: skip
def test_a_frozen_clamp_is_known_by_volts_that_go_on(frozen, step_s, level, before, swing, found) -> None:
    s = log(
        np.r_[swinging(before, 11.0, 12.0), np.full(frozen, level)],
        np.r_[swinging(before, 50, 49), swinging(frozen, 50, 50 - swing)],
        step_s,
    )
    assert bool(plausible.said_of_hung_clamp(s)) == found


@pytest.mark.parametrize(
    ("rest", "rest_a", "step_a", "found"),
    [
        (31, 0.2, 0.1, True), (30, 0.2, 0.1, True), (26, 0.2, 0.1, False),  # 25 s at the ends
        (40, 0.74, 0.1, True), (40, 0.76, 0.1, False),  # 5 % of 15 A
        (40, 0.49, 0.01, True), (40, 0.51, 0.01, False),  # half an amp where hundredths are shown
        (40, 0.045, 0.0049, True), (40, 0.05, 0.0049, False),  # ten steps of a finer display
        (40, -0.99, 0.1, True), (40, -1.01, 0.1, False), (40, -0.9, 0.1, True),  # inward an amp
    ],
)  # fmt: skip
def test_a_rest_is_small_flat_and_lasts(rest, rest_a, step_a, found) -> None:
    i, v = parts((rest, rest_a), (200, 15.0)), parts((rest, 54.0), (200, 52.0))
    quiet = quiet_stretches(np.arange(len(i)) * 1.0, i, v, step_a, 0.1)
    assert bool(quiet) == found
    if quiet:
        assert (quiet[0].count, quiet[0].zero_a) == (rest - 1, pytest.approx(rest_a))


@pytest.mark.parametrize(("rest_s", "found"), [(63, True), (61, False)])  # a minute without both ends
def test_a_rest_amid_work_is_longer(rest_s, found) -> None:
    i = parts((100, 15.0), (rest_s, 0.2), (100, 15.0))
    assert bool(quiet_stretches(np.arange(len(i)) * 1.0, i, 50 + 0 * i, 0.1, 0.1)) == found


@pytest.mark.parametrize(
    ("swing_a", "fall_v", "step_s", "found"),
    [
        (0.11, 0.0, 1.0, True), (0.13, 0.0, 1.0, False),  # 1.2 steps of 0.1 A
        (0.0, 0.009, 1.0, True), (0.0, 0.011, 1.0, False),  # a tenth of a step of 0.1 V
        (0.0, -0.5, 1.0, True), (0.0, 0.0, 60.0, True), (0.0, 0.0, 61.0, False),
    ],
)  # fmt: skip
def test_a_rest_is_no_rest_where_something_draws(swing_a, fall_v, step_s, found) -> None:
    t = step_s * np.arange(241.0)
    i = np.r_[swinging(40, 0.3 - swing_a, 0.3 + swing_a), [15.0] * 201]
    v = np.r_[np.full(20, 54.0), np.full(20, 54.0 - fall_v), np.full(201, 52.0)]
    assert bool(quiet_stretches(t, i, v, 0.1, 0.1)) == found


@pytest.mark.parametrize(
    ("rests", "zeros", "std_a"),
    [
        ([(0, 60)], (0.2,), np.hypot(np.hypot(0.03, 0.5 * 0.3 * 0.5), 0.03)),
        ([(0, 60), (3540, 3600)], (0.2, 0.4), None),
    ],
)
def test_what_may_remain_of_a_zero_grows_with_the_time_from_a_rest(rests, zeros, std_a) -> None:
    """An hour, a mean of half an hour from the only rest: half of what was assumed, at half the drift."""
    t = np.arange(0, 3601.0, 2.0)
    i, v = np.full(len(t), 15.0), np.full(len(t), 52.0)
    for (begin, end), zero in zip(rests, zeros, strict=True):
        i[(t >= begin) & (t <= end)], v[(t >= begin) & (t <= end)] = zero, 54.0
    zero = zero_error(t, i, v, current_step_a=0.1, voltage_step_v=0.1, assumed_std_a=0.3)
    away = np.abs(t[:, None] - [(q.start_s + q.end_s) / 2 for q in zero.quiet]).min(axis=1).mean()
    expected = np.hypot(0.03, 0.5 * 0.3 * min(1, away / 1800))
    expected = np.hypot(expected, 0.3 * np.std(zeros)) if len(zeros) > 1 else expected
    assert zero.std_a == pytest.approx(np.hypot(expected, 0.03), rel=1e-6)
    assert zero.applied and zero.zero_a[[0, -1]].tolist() == pytest.approx([zeros[0], zeros[-1]])


@pytest.mark.parametrize(("zero_a", "applied"), [(0.049, False), (0.051, True)])
def test_a_zero_under_half_a_step_is_left(zero_a, applied) -> None:
    i = parts((60, zero_a), (200, 15.0))
    zero = zero_error(
        np.arange(260.0), i, 50 + 0 * i, current_step_a=0.1, voltage_step_v=0.1, assumed_std_a=0.3
    )
    assert zero.applied == applied


@pytest.mark.parametrize(
    ("amps", "level"),
    [
        (parts((95, 1.0), (6, 15.0)), 15.0), (parts((960, 1.0), (40, 9.9)), 1.0),
        (parts((960, 1.0), (40, 10.1)), 10.1), (parts((51, 0.0), (3, 15.0)), 15.0 * 0.35), ([], 0.0),
        (parts((960, 0.1), (39, -5.0), (1, -15.0)), 5.0),
    ],
)  # fmt: skip
def test_the_high_level_is_that_of_work(amps, level) -> None:
    assert high_level(np.array(amps, dtype=float)) == pytest.approx(level, rel=0.02)


@pytest.mark.parametrize(
    ("steps", "longest_s"),
    [
        ([1.0] * 100, 30.0), ([11.0] * 100, 33.0),
        ([1.0] * 100 + [60.0] * 4, 180.0), ([1.0] * 100 + [60.0] * 3, 30.0),
        ([1.0] * 100 + [60.0, 60.9, 60, 60], 180.0), ([1.0] * 100 + [60.0, 61.5, 58.5, 60], 30.0),
        ([1.0] * 100 + [200.0, 203.9, 200, 200], 600.0), ([1.0] * 100 + [200.0, 204.1, 195.9, 200], 30.0),
        ([1.0] * 300 + [60.0] * 4, 30.0),
    ],
)  # fmt: skip
def test_a_cadence_is_alike_and_covers_half_of_the_time(steps, longest_s) -> None:
    t = np.r_[0.0, np.cumsum(steps)]
    moved = swinging(len(t), 5.0, 15.0)
    assert longest_joined_s(t, moved, 50 - moved, float(np.median(steps)), 0.1, 0.1) == longest_s
