"""Which way a clamp sat and how two meters are joined: every limit on both of its sides."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.arrays import Floats
from estimator.importer.cleaning.clamp_sense import sense_of_clamp, turn
from estimator.importer.cleaning.readings_in_work import Series
from estimator.importer.read import examine_bytes, read_bytes
from estimator.importer.two_meters.aligning import align

PLAIN, OTHER = np.resize([1.0, -1.0], 200), np.resize([1.0, 1.0, -1.0, -1.0], 200)  # of no correlation


def log(amps: Any, volts: Any, step_s: float = 1.0) -> Series:
    i, v = (np.asarray(x, dtype=float) for x in np.broadcast_arrays(amps, volts))
    n = len(i)
    return Series(step_s * np.arange(n), i, v.copy(), None, np.zeros(n, dtype=bool), 30.0, np.arange(n))


def steps(mean_a: float, volts: Floats, amps: Floats = PLAIN) -> Series:
    """A log whose amps go up and down about a mean and whose volts make the steps (200,) given."""
    return log(mean_a - 0.5 + np.r_[0.0, np.cumsum(amps)], 50 + np.r_[0.0, np.cumsum(volts)])


def against(count: int, size: float) -> Floats:
    """Volts that step as amps do, but `count` of 200 times the other way and by `size`."""
    at = 2 * np.arange(count // 2) * (200 // count)
    volts = PLAIN.copy()
    for k in (at, at + 1):
        volts[k] *= -size
    return 0.1 * volts


@pytest.mark.parametrize(
    ("volts", "said"),
    [
        (against(20, 2.5), "Volts rise as amps rise"), (against(20, 2.7), ""),  # correlation 0.53 and 0.49
        (against(34, 0.5), "Volts rise as amps rise"),
        (against(44, 0.5), ""),  # 83 and 78 % of the steps alike
        (0.019 * PLAIN, ""), (0.021 * PLAIN, "Volts rise as amps rise"),  # two steps of the voltmeter
    ],
)  # fmt: skip
def test_charging_counts_positive_where_volts_rise_with_amps(volts, said) -> None:
    found = sense_of_clamp(steps(10.0, volts), 0.01)
    assert found.reverse == bool(said) and found.said.startswith(said)


@pytest.mark.parametrize(("rho", "said"), [(0.31, "Amps count the wrong way"), (0.29, "More charge")])
def test_amps_below_zero_are_turned_where_volts_rise_as_amps_do(rho, said) -> None:
    s = steps(-10.0, 0.5 * (rho * PLAIN + np.sqrt(1 - rho**2) * OTHER))
    found = sense_of_clamp(s, 0.01)
    assert found.said.startswith(said) and found.reverse == (said != "More charge")


@pytest.mark.parametrize(("fall_v", "found"), [(0.032, True), (0.028, False)])  # three steps of 0.01 V
def test_amps_below_zero_are_turned_where_volts_fall_with_their_charge(fall_v, found) -> None:
    s = steps(-10.0, np.full(200, -fall_v / 200))
    assert sense_of_clamp(s, 0.01).reverse == found


def test_two_readings_say_nothing_of_a_clamp() -> None:
    assert sense_of_clamp(log([-9.0, -10.0], [50.0, 40.0]), 0.01).said == ""


@pytest.mark.parametrize(
    ("count", "low_a", "high_a", "rise_v", "found"),
    [
        (30, 10.0, 10.0, 0.2, True), (29, 10.0, 10.0, 0.2, False),
        (301, 10.0, 10.0, 0.032, True), (301, 10.0, 10.0, 0.028, False),  # three steps of 0.01 V
        (301, 9.1, 10.0, 0.2, True), (301, 8.9, 10.0, 0.2, False),  # a tenth
        (301, 3.1, 10.0, 0.52, True), (301, 3.1, 10.0, 0.48, False),  # 1 % of 50 V
    ],
)  # fmt: skip
def test_volts_that_climb_under_steady_amps_are_a_charger(count, low_a, high_a, rise_v, found) -> None:
    amps = np.resize([high_a, low_a], count)
    s = log(amps, 50 + rise_v * np.arange(count) / (count - 1) - 5e-4 * amps)
    assert sense_of_clamp(s, 0.01).reverse == found


@pytest.mark.parametrize(
    ("rest_v", "found"),
    [(48.4, True), (48.6, False)],  # 3 % under 50 V
)
def test_volts_above_those_of_the_rest_are_a_charger(rest_v, found) -> None:
    amps = np.r_[np.zeros(20), np.resize([10.0, 10, 5, 5], 200)]
    volts = np.r_[np.full(20, rest_v), np.full(200, 50.0)]
    assert (sense_of_clamp(log(amps, volts), 0.05).reverse) == found


@pytest.mark.parametrize(
    ("seconds", "count", "found"),
    [(61, 2, True), (60, 2, False), (61, 16, True), (61, 18, False)],
)
def test_a_clamp_that_was_turned_meanwhile_is_turned_back_there(seconds, count, found) -> None:
    """A minute below zero, in which volts step as amps do but for some steps."""
    n = 400
    amps = np.resize([9.0, 11.0], n)
    volts = 50 - 0.1 * amps
    amps[100 : 100 + seconds] *= -1
    for k in range(count // 2):
        volts[110 + 4 * k], volts[111 + 4 * k] = volts[111 + 4 * k], volts[110 + 4 * k]
    s = log(amps, volts)
    assert turn(s, 0.01, [], {}, []) == []
    assert int((s.current_a < 0).sum()) == (0 if found else seconds)


@pytest.mark.parametrize(("reverse", "said"), [(True, ""), (False, ""), (None, "")])
def test_what_the_user_says_of_the_clamp_is_done(reverse, said) -> None:
    s, decisions = steps(10.0, -0.1 * PLAIN), []
    told = {} if reverse is None else {"reverse": reverse}
    assert turn(s, 0.01, [], told, decisions) == []
    assert float(s.current_a.mean()) == pytest.approx(-10 if reverse else 10, abs=0.01)
    assert [d.taken for d in decisions] == (["turned"] if reverse else [])
    kept = steps(-10.0, 0.1 * OTHER)
    assert turn(kept, 0.01, [], {}, decisions) and decisions[-1].taken == "as read"


def _mow(seconds: float, seed: int = 4) -> tuple[Floats, Floats, Floats]:
    """Ten readings a second of a load that changes every few seconds, and two slow sags."""
    t = np.arange(0, seconds, 0.1)
    rng = np.random.default_rng(seed)
    amps = np.repeat(rng.uniform(4, 20, int(seconds / 4)), rng.integers(30, 70, int(seconds / 4)))
    amps = np.convolve(amps, np.ones(20) / 20, mode="same")[: len(t)]
    volts = 54 - 0.08 * amps
    for ohm, tau in ((0.03, 10.0), (0.04, 60.0)):
        lag = np.empty(len(t))
        lag[0] = amps[0]
        for k in range(1, len(t)):
            lag[k] = lag[k - 1] + (amps[k - 1] - lag[k - 1]) * -np.expm1(-0.1 / tau)
        volts -= ohm * lag
    return t, amps, volts


@pytest.mark.parametrize(("offset_s", "ppm"), [(37.3, 0.0), (-21.65, 300.0), (3.0, -200.0)])
def test_clocks_are_laid_on_each_other_to_some_hundredths_of_a_second(offset_s: float, ppm: float) -> None:
    t, amps, volts = _mow(1500)
    at_a, at_v = np.arange(60, 1440.0), np.arange(30.3, 1460.0, 1.0)
    clock_v = (at_v - at_v[0]) / (1 + ppm * 1e-6) + at_v[0] - offset_s
    later = 5000.0  # the offset is that at the voltmeter's first reading, whatever its clock shows there
    found = align(at_a + later, np.interp(at_a, t, amps), clock_v + later, np.interp(at_v, t, volts))
    assert found.offset_s == pytest.approx(offset_s, abs=0.03)
    assert found.drift_ppm == pytest.approx(ppm, abs=30)
    assert 0.03 < found.offset_std_s < 0.036 and 15 < found.drift_std_ppm < 20
    assert 0.98 < found.correlation < 0.995


@pytest.mark.parametrize(
    ("count", "step_s", "line"),
    [(29, 10.0, "too few readings"), (30, 10.0, ""), (30, 1.0, "too short"), (31, 1.0, "")],
)
def test_two_logs_need_thirty_readings_and_sixty_places(count, step_s, line) -> None:
    t, amps, volts = _mow(400)
    at = step_s * np.arange(count)
    i, v = np.interp(at, t, amps), np.interp(at, t, volts)
    if line:
        with pytest.raises(InputError, match=line):
            align(at, i, at, v)
    else:
        try:
            align(at, i, at, v)
        except InputError as fault:
            assert "do not fit together" in str(fault)


@pytest.mark.parametrize(("gap_s", "step_s", "lost"), [(30, 1, 0), (31, 1, 31), (45, 15, 0), (60, 15, 60)])
def test_volts_of_the_other_meter_are_drawn_over_no_more_than_three_steps(gap_s, step_s, lost) -> None:
    at = np.r_[np.arange(0, 300, step_s), np.arange(300 - step_s + gap_s, 600, step_s)]
    amps = "\n".join(["time_s,A", *(f"{k},{9 + k % 3}" for k in range(601))])
    volts = "\n".join(["time_s,V", *(f"{k},{50 + k % 2}" for k in at)])
    log = read_bytes([("a.csv", amps.encode()), ("v.csv", volts.encode())], offset_s=0.0)
    said = next((note for note in log.notes if "without volts" in note), "")
    beyond = 600 - at[-1]
    assert said.partition(" ")[0] == (str(lost + beyond) if lost + beyond else "")


def _files(*tables: tuple[str, list[str]]) -> list[tuple[str, bytes]]:
    return [(f"{k}.csv", "\n".join([titles, *rows]).encode()) for k, (titles, rows) in enumerate(tables)]


def test_the_rate_of_a_clock_is_taken_as_given() -> None:
    amps = [f"{k},{9 + k % 3}" for k in range(2001)]
    volts = [f"{k},{60 - k / 100:.2f}" for k in range(2001)]
    log = read_bytes(_files(("time_s,A", amps), ("time_s,V", volts)), offset_s=0.0, drift_ppm=5000.0)
    # At 1,005 s of the ammeter the voltmeter's clock, slow by 5 in 1,000, shows 1,000 s.
    assert float(log.readings.voltage_v[1005]) == pytest.approx(50.0, abs=0.005)


def test_volts_of_a_meter_of_their_own_stand_before_those_beside_the_amps() -> None:
    both = [f"{k},{9 + k % 3},{40 - k % 2}" for k in range(300)]
    volts = [f"{k},{50 + k % 2}" for k in range(300)]
    files = _files(("time_s,A,V", both), ("time_s,V", volts))
    for order in (files, files[::-1]):
        assert read_bytes(order, offset_s=0.0).readings.voltage_v.between(50, 51).all()


def _dated(second: float) -> str:
    at = datetime(2026, 6, 14, 9) + timedelta(seconds=second)
    return at.isoformat(sep=" ")


@pytest.mark.parametrize(("apart_s", "said"), [(299, False), (301, True), (-299, False), (-301, True)])
def test_meters_whose_dates_do_not_overlap_are_taken_to_have_begun_together(apart_s: int, said: bool) -> None:
    amps = [f"{_dated(k)},{9 + k % 3}" for k in range(301)]
    volts = [f"{_dated(k + apart_s)},{50 + k % 2},{20 + k / 100:.2f}" for k in range(301)]
    log = read_bytes(_files(("time,A", amps), ("time,V,temperature_c", volts)), offset_s=0.0)
    assert any("dates of the two meters do not overlap" in note for note in log.notes) == said
    assert float(log.readings.temperature_c.iloc[0]) == pytest.approx(20 if said or apart_s > 0 else 22.99)


def test_a_log_begins_when_the_meter_with_a_date_says_so() -> None:
    amps = [f"{k},{9 + k % 3}" for k in range(301)]
    volts = [f"{_dated(k)},{50 + k % 2}" for k in range(301)]
    log = read_bytes(_files(("time_s,A", amps), ("time,V", volts)), offset_s=7.0)
    assert log.started == datetime(2026, 6, 14, 8, 59, 53)


@pytest.mark.parametrize(("tenths", "std_s"), [(0.0, 0.41), (0.1, 0.035)])
def test_clocks_of_whole_seconds_leave_the_offset_open_by_their_step(tenths: float, std_s: float) -> None:
    """Two errors that lie evenly within a second each: the root of two over twelve."""
    t, amps, volts = _mow(1000)
    at = np.arange(20, 950)
    files = _files(
        (
            "time_s,A",
            [f"{k + tenths:g},{x:.3f}" for k, x in zip(at, np.interp(at + tenths, t, amps), strict=True)],
        ),
        (
            "time_s,V",
            [f"{k + tenths:g},{x:.3f}" for k, x in zip(at, np.interp(at + tenths, t, volts), strict=True)],
        ),
    )
    found = examine_bytes(files).alignment
    assert found is not None and found.offset_std_s == pytest.approx(std_s, abs=0.01)
    assert found.offset_s == pytest.approx(0, abs=0.05)
