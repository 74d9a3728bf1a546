"""Features of a mow found in its log alone, compared with what was planted in it."""

import json
from dataclasses import asdict, replace
from datetime import date, datetime

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planted_mows import VOLTS, plant, plant_mows
from scipy.integrate import trapezoid

from estimator.conversion.current_limits import current_limits
from estimator.conversion.load_trace import trace_from_features
from estimator.descriptions import Grass, Lawn, Machine, Pack
from estimator.errors import InputError
from estimator.fitting.load.features import GAP_STD, MowFeatures, mow_features
from estimator.fitting.load.phases import LONGEST_S, RunTrace, find_phases, idle_power
from estimator.fitting.load.profile import fit_profile
from estimator.importer.by_hand.amps import mean_current
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.importer.log import Log, SpotNotes
from estimator.mow import Mow

LAWN = Lawn("strip", area_m2=100)


def log_of(power, step_s=1.0, **more):
    time = np.arange(len(power)) * step_s
    frame = pd.DataFrame({"time_s": time, "current_a": np.asarray(power) / VOLTS, "voltage_v": VOLTS})
    return Log(frame, **more)


@pytest.fixture(scope="module")
def acted() -> Log:
    """Off, spin-up, idle 20 s, rows of 30 s with 4 s turns, a walk of 40 s, two thick patches, idle, off."""
    rng = np.random.default_rng(1)
    rows = []
    for i in range(12):
        row = np.full(30, 300.0) + rng.normal(0, 8, 30)
        if i in (3, 8):
            row[10:16] = 520.0
        rows += [row, np.full(4, 90.0)]
        if i == 5:
            rows.append(np.full(36, 90.0))
    power = [
        np.zeros(10),
        [400.0, 500.0, 200.0],
        np.full(20, 90.0),
        *rows[:-1],
        np.full(15, 90.0),
        np.zeros(10),
    ]
    return log_of(np.concatenate([np.asarray(one) for one in power]))


def test_phases_are_told_apart(acted):
    found = mow_features(Mow(acted, LAWN)).phases
    assert found.idle_w == pytest.approx(90, rel=0.02)
    assert found.cutting_w == pytest.approx(300, rel=0.03)


def test_time_and_energy_of_the_acted_mow(acted):
    found = mow_features(Mow(acted, LAWN))
    readings = acted.readings
    joule = trapezoid(readings["current_a"] * readings["voltage_v"], readings["time_s"])
    assert found.energy_wh == pytest.approx(joule / 3600, rel=1e-9)
    assert found.motor_s == pytest.approx(3 + 20 + 360 + 44 + 36 + 15, abs=3)
    assert found.energy_per_area() == pytest.approx(found.energy_wh / 100)
    assert found.pace_m2_min() == pytest.approx(6000 / found.motor_s)


def test_energy_on_irregular_times_is_the_trapezoid():
    rng = np.random.default_rng(2)
    time = np.cumsum(rng.uniform(0.2, 5.0, 400))
    time -= time[0]
    power = rng.uniform(100, 500, 400)
    log = Log(pd.DataFrame({"time_s": time, "current_a": power / VOLTS, "voltage_v": VOLTS}))
    found = mow_features(Mow(log, LAWN))
    expected = trapezoid(power, time) / 3600
    assert found.energy_wh == pytest.approx(expected, rel=1e-9)


def test_peaks_by_duration():
    power = np.full(300, 200.0)
    power[100:104] = 800.0
    found = mow_features(Mow(log_of(power), LAWN))
    assert found.peak_1s_w == pytest.approx(800)
    assert found.peak_5s_w == pytest.approx((3 * 800 + 2 * 500) / 5)
    assert found.peak_30s_w == pytest.approx(200 + 600 * 4 / 30)


def test_a_gap_is_filled_at_the_mean_and_widens():
    power = np.full(601, 240.0)
    whole = mow_features(Mow(log_of(power), LAWN))
    log = log_of(power)
    holed = Log(log.readings[(log.readings.time_s <= 200) | (log.readings.time_s >= 320)])
    found = mow_features(Mow(holed, LAWN))
    assert found.gap_s == 120
    assert found.energy_wh == pytest.approx(whole.energy_wh, rel=0.01)
    assert found.motor_s == pytest.approx(whole.motor_s, rel=0.01)
    assert found.energy_log_std > whole.energy_log_std + 0.02
    assert found.pace_log_std == pytest.approx(GAP_STD * 120 / 600)  # a fifth of the time was not seen
    assert found.energy_log_std == pytest.approx(np.hypot(whole.energy_log_std, GAP_STD / 5), rel=1e-3)


def test_an_hour_without_readings_is_no_mowing_and_the_mow_is_not_whole():
    """Once seen: a clock that jumped an hour in the middle of half an hour of mowing tripled its energy."""
    log = log_of(np.full(601, 240.0))
    readings = log.readings.assign(time_s=log.readings.time_s + 3600.0 * (log.readings.time_s > 300))
    found = mow_features(Mow(Log(readings), LAWN))
    assert found.energy_wh == pytest.approx(40.0, rel=0.01) and found.motor_s == pytest.approx(600, abs=2)
    assert found.mean_w == pytest.approx(240, rel=0.01) and found.gap_s == pytest.approx(3601)
    assert not found.whole and not found.stopped_short
    assert fit_profile([found]).mows == () and len(fit_profile([found]).loads) == 1


def test_planted_energy_and_minutes_come_back():
    rng = np.random.default_rng(5)
    for one in plant_mows(plant(rng), 8, rng):
        found = mow_features(one.mow)
        assert found.energy_wh == pytest.approx(one.energy_wh, rel=0.01)
        assert found.motor_s / 60 == pytest.approx(one.minutes, rel=0.01)


def test_circumstances_are_kept():
    machine = Machine("mower", blade_care=(date(2031, 3, 1), date(2031, 5, 1), date(2031, 7, 1)))
    mow = Mow(
        log_of(np.full(60, 200.0)), LAWN, Grass("wet", 30, 9), machine=machine, temperature_c=12.0,
        started=datetime(2031, 5, 11, 9), tags=("before",),
    )  # fmt: skip
    found = mow_features(mow)
    assert (found.days_since_care, found.temperature_c, found.day) == (10, 12.0, "2031-05-11")
    assert found.grass == mow.grass
    assert found.tags == ("before",)


def test_plain_values_come_back_and_stay_small():
    rng = np.random.default_rng(6)
    power = rng.uniform(80, 600, 7000)
    found = mow_features(Mow(log_of(power), LAWN, Grass("dry")))
    text = json.dumps(asdict(found))
    assert len(text) < 14_000  # power and current of two hours of a restless load
    assert MowFeatures.from_plain(json.loads(text)) == found


def test_trace_keeps_peak_and_mean():
    power = np.random.default_rng(7).gamma(4, 70, 2400)
    back = RunTrace.of(power).values()
    assert back.size == 2400
    assert back.max() == pytest.approx(power.max())
    assert back.mean() == pytest.approx(power.mean(), rel=0.002)
    long = RunTrace.of(np.tile(power, 4)).values()
    assert long.size == LONGEST_S
    assert long[[0, -1]] == pytest.approx(power[[0, -1]], rel=0.03), "its first and its last second are kept"


def test_a_trace_holds_standstill_and_nothing_as_they_are():
    assert RunTrace.of(np.array([-20.0, 0.0, 100.0])).values().tolist() == [0.0, 0.0, 100.0]
    assert RunTrace.of(np.zeros(3)).values().tolist() == [0.0, 0.0, 0.0]
    assert RunTrace.of(np.zeros(0)).values().size == 0


@pytest.mark.parametrize("step_s", [1, 2, 5])
def test_readings_stand_for_their_own_time(step_s):
    """A peak that a slow meter caught keeps its height, and power keeps its spread.

    With independent readings every two seconds, the seconds half-way are means of two: sqrt(3/4) of the
    spread stays.
    """
    truth = np.random.default_rng(3).gamma(4, 70, 3001)
    time = np.arange(0.0, 3001.0, step_s)
    read = truth[:: int(step_s)]
    log = Log(pd.DataFrame({"time_s": time, "current_a": read / VOLTS, "voltage_v": VOLTS}))
    found = mow_features(Mow(log, LAWN))
    assert found.peak_1s_w == pytest.approx(read.max(), rel=1e-6)
    watts = found.trace.values()
    assert np.quantile(watts, [0.1, 0.5, 0.9]) == pytest.approx(np.quantile(read, [0.1, 0.5, 0.9]), rel=0.17)
    assert watts.std() > 0.85 * read.std()
    assert found.pace_log_std == 0.0, "every second was logged"


def test_spot_notes_give_a_wide_mow_with_its_peak():
    """The mean comes from typical and idle current, half an hour at 50 V; MAX hold gives only the peak."""
    spot = SpotNotes(idle_a=4, typical_a=10, highest_a=28, load_v=50.0, minutes=30)
    found = mow_features(Mow(log_from_spot(spot), LAWN))
    assert found.spot and found.phases is None
    mean = mean_current(spot)
    assert (found.energy_wh, found.mean_w) == pytest.approx((25 * mean.amps, 50 * mean.amps))
    assert found.energy_log_std == pytest.approx(np.hypot(mean.log_std, 0.03))
    assert found.peak_1s_w == found.seen_peak_w(1) == pytest.approx(28 * 50)
    assert found.seen_peak_w(5) is found.seen_peak_w(30) is None, "no reading by hand shows them"
    unread = mow_features(Mow(log_from_spot(replace(spot, highest_a=None)), LAWN))
    assert unread.peak_1s_w > 0 and unread.seen_peak_w(1) is None, "a usual peak is used, and not shown"
    assert found.motor_s == 1800
    assert found.pace_log_std == 0.1, "a watch read by hand"
    assert found.gain_std == pytest.approx(np.hypot(0.02, 0.005))
    assert len(json.dumps(asdict(found))) < 4000


def test_rest_voltages_narrow_the_energy_of_spot_notes():
    pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    amps = SpotNotes(idle_a=4, typical_a=10, highest_a=28, load_v=49.0, minutes=30)
    both = replace(amps, rest_before_v=54.2, rest_after_v=48.9)
    alone, weighed = (mow_features(Mow(log_from_spot(one), LAWN, pack=pack)) for one in (amps, both))
    assert weighed.energy_log_std < 0.95 * alone.energy_log_std


@pytest.mark.parametrize("power", [[0.0, 0.0], [0.0, 0.0, 0.0], [200.0, 0.0]])
def test_hopeless_logs_give_features_that_are_left_out(power):
    found = mow_features(Mow(log_of(power), LAWN))
    assert not found.whole or found.energy_wh > 0
    with pytest.raises(InputError, match="two or more are needed"):
        log_of(power[:1])


def test_a_mow_that_stopped_short_is_not_whole():
    assert not mow_features(Mow(log_of(np.full(60, 200.0)), LAWN, tags=("stopped short",))).whole


def test_a_mow_that_ended_at_the_cut_off_is_not_whole_unless_said():
    pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    log = log_of(np.full(600, 240.0))
    volts = np.linspace(48.0, 39.2, 600)
    sagging = Log(log.readings.assign(voltage_v=volts))
    assert mow_features(Mow(log, LAWN, pack=pack)).whole
    ended = mow_features(Mow(sagging, LAWN, pack=pack))
    assert ended.ended_at_cut_off and not ended.whole
    assert mow_features(Mow(sagging, LAWN, pack=pack, tags=("lawn done",))).whole
    # an earlier touch, after which the mow went on, is not the end
    dip = np.where(np.arange(600) == 300, 39.0, 48.0)
    assert not mow_features(Mow(Log(log.readings.assign(voltage_v=dip)), LAWN, pack=pack)).ended_at_cut_off


@pytest.mark.parametrize(
    ("step_s", "seen"),
    [(1.0, (800.0, 800.0, 800.0)), (5.0, (None, 800.0, 800.0)), (70.0, (None, None, None))],
)
def test_a_peak_shorter_than_the_time_between_readings_is_not_seen(step_s, seen):
    found = replace(mow_features(Mow(log_of(np.full(100, 800.0)), LAWN)), step_s=step_s)
    assert tuple(found.seen_peak_w(seconds) for seconds in (1, 5, 30)) == pytest.approx(seen)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0, 2000), min_size=40, max_size=300), st.floats(1.01, 3.0))
def test_more_power_never_takes_less_energy(power, times):
    one, two = (mow_features(Mow(log_of(np.array(power) * k), LAWN)) for k in (1.0, times))
    assert two.energy_wh >= one.energy_wh
    assert two.peak_1s_w >= one.peak_1s_w >= one.peak_5s_w - 1e-9 >= one.peak_30s_w - 2e-9


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from([0.0, 5.0, 90.0, 95.0, 300.0, 320.0, 600.0]), min_size=1, max_size=400))
def test_idling_takes_less_than_cutting_and_both_were_seen(power):
    found = find_phases(np.array(power))
    assert found.idle_w is None or 0 < found.idle_w <= max(power)
    assert found.cutting_w == 0.0 or min(power) <= found.cutting_w <= max(power)
    assert found.idle_w is None or found.idle_w < found.cutting_w


@pytest.mark.parametrize(("cutting", "waiting", "idle"), [(300.0, 9.0, 90.0), (40.0, 2.0, 12.0)])
def test_a_waiting_controller_is_not_idling(cutting, waiting, idle):
    """A controller with a display takes some watts, a thirtieth of cutting, on a small machine perhaps a
    twentieth. Blades that turn free take a quarter or more."""
    rows = [np.full(120, cutting), np.full(60, waiting), np.full(30, idle), np.full(120, cutting)]
    found = mow_features(Mow(log_of(np.concatenate(rows)), LAWN))
    assert found.idle_w == pytest.approx(idle, rel=0.02)
    assert found.motor_s == pytest.approx(270, abs=3)


def test_idle_power_is_the_middle_of_what_lies_near_the_lowest_level():
    """Blades turn free at 78 and 82 W for 20 s each, and 10 s at 150 W are in grass: 80 W."""
    grass, edge = np.full(150, 300.0), [100.0]  # the first and last second of a stretch do not count
    stretches = [
        [*edge, *np.full(seconds, watts), *edge] for seconds, watts in ((20, 78), (20, 82), (10, 150))
    ]
    power = np.concatenate([grass, stretches[0], grass, stretches[1], grass, stretches[2], grass])
    assert idle_power(power, power > 0) == pytest.approx(80.0)


def test_amps_are_kept_as_they_were_read_and_not_by_the_mean_volts() -> None:
    """40 A at 40 V near empty are 1600 W; at the mean of 47 V that would be 34 A."""
    amps = np.concatenate([np.full(300, 10.0), np.full(6, 40.0), np.full(60, 10.0)])
    volts = np.concatenate([np.full(300, 48.0), np.full(6, 40.0), np.full(60, 44.0)])
    table = pd.DataFrame({"time_s": np.arange(366.0), "current_a": amps, "voltage_v": volts})
    load = trace_from_features(mow_features(Mow(Log(table), Lawn("strip", area_m2=100))))
    assert load.current_a.max() == pytest.approx(40.0)
    assert load.power_w.max() == pytest.approx(1600.0)
    peaks = current_limits([load]).peaks
    assert [round(peak.measured_a.value, 1) for peak in peaks[:2]] == [40.0, 40.0]
