"""Each flaw is counted and marked, with what it changes; sound logs are left alone."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import trapezoid

from estimator.importer.cleaning.mending import Examined
from estimator.importer.cleaning.readings_in_work import drawn, longest_joined_s
from estimator.importer.cleaning.zero import zero_error
from estimator.importer.read import examine_bytes

_spec = importlib.util.spec_from_file_location("invented_mow", Path(__file__).with_name("invented_mow.py"))
assert _spec is not None and _spec.loader is not None
invented = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(invented)


@pytest.fixture(scope="module")
def mow():
    t, current, voltage = invented.fine_mow(21, 15.0)
    at = np.arange(0, t[-1], 1.0)
    rng = np.random.default_rng(3)
    rest = np.arange(-60.0, 0.0)
    at = np.concatenate((rest, at)) + 60
    amps = np.concatenate((np.zeros(60), np.interp(at[60:] - 60, t, current))) + rng.normal(0, 0.02, len(at))
    volts = np.concatenate((np.full(60, voltage[0]), np.interp(at[60:] - 60, t, voltage))) + rng.normal(
        0, 0.01, len(at)
    )
    return at, amps, volts


def look(time, amps, volts, **choices) -> Examined:
    lines = ["time_s,current_a,voltage_v"]
    lines += [
        f"{t:g},{i if isinstance(i, str) else f'{i:.2f}'},{v if isinstance(v, str) else f'{v:.2f}'}"
        for t, i, v in zip(time, amps, volts, strict=True)
    ]
    return examine_bytes([("mow.csv", "\n".join(lines).encode())], **choices)


def kinds(e: Examined) -> dict[str, int]:
    return {m.kind: m.count for m in e.marks}


def test_drawn_is_the_trapezoid() -> None:
    rng = np.random.default_rng(0)
    t = np.cumsum(rng.uniform(0.1, 9, 300))
    i, v = rng.normal(10, 4, 300), rng.normal(50, 2, 300)
    found = drawn(t, i, v, 100.0)
    assert found.ah == pytest.approx(trapezoid(i, t) / 3600)
    assert found.wh == pytest.approx(trapezoid(i * v, t) / 3600)


def test_a_sound_mow_is_left_as_it_is(mow) -> None:
    t, i, v = mow
    e = look(t, i, v)
    assert not set(kinds(e)) - {"zero"}
    assert np.abs(e.log.readings.current_a - np.round(i, 2)).max() < 0.03
    assert np.array_equal(e.log.readings.voltage_v, np.round(v, 2))


def test_zero_error_is_found_and_costed(mow) -> None:
    t, i, v = mow
    e = look(t, i + 0.3, v)
    hours = (t[-1] - t[0]) / 3600
    mark = next(m for m in e.marks if m.kind == "zero")
    assert mark.effect_ah == pytest.approx(-0.3 * hours, abs=0.05 * hours)
    assert e.after.ah == pytest.approx(drawn(t, i, v, 30.0).ah, abs=0.05 * hours)
    assert e.log.error.current_zero_a < 0.08
    assert any(d.overrule == "zero_a" for d in e.decisions)


def test_drift_between_two_rests_is_followed() -> None:
    t = np.arange(0, 2400.0, 2.0)
    rest = (t < 60) | (t > 2330)
    rng = np.random.default_rng(1)
    true = np.where(rest, 0.0, 12 + rng.normal(0, 2, len(t)))
    zero = 0.1 + 0.2 * t / 2400
    e = look(t, true + zero, np.where(rest, 53.0, 51.0) + rng.normal(0, 0.01, len(t)))
    error = e.log.readings.current_a.to_numpy() - true
    assert abs(float(np.mean(error))) < 0.02
    assert float(np.abs(np.polyfit(t, error, 1)[0])) * 2400 < 0.05


@pytest.mark.parametrize(
    ("name", "amps", "volts"),
    [
        ("falling volts", np.full(200, 0.3), 54 - np.arange(200) * 0.01),
        ("slow discharge", np.full(200, 0.6), 54 - np.arange(200) * 0.001),
        ("idling motor", np.full(200, 2.5), np.full(200, 53.0)),
    ],
)
def test_no_zero_is_taken_where_something_may_draw(name, amps, volts) -> None:
    t = np.arange(600) * 2.0
    current = np.concatenate((amps, np.full(400, 14.0 if name != "slow discharge" else 0.6)))
    voltage = np.concatenate((volts, np.full(400, 51.0)))
    zero = zero_error(t, current, voltage, current_step_a=0.1, voltage_step_v=0.01, assumed_std_a=0.15)
    assert not zero.quiet
    assert zero.std_a == 0.15


def test_short_stops_amid_work_are_not_rest(mow) -> None:
    t = np.arange(0, 1200.0, 2.0)
    stop = (t % 120) < 30
    current = np.where(stop, 0.4, 14.0)
    current[:15] = 14.0
    zero = zero_error(
        t, current, np.where(stop, 53.0, 51.0), current_step_a=0.1, voltage_step_v=0.1, assumed_std_a=0.15
    )
    assert not zero.quiet


def test_fine_logs_are_not_corrected_by_large_currents() -> None:
    # A shunt with 0.0002 A steps that shows 0.2 A at rest is believed.
    t = np.arange(600.0)
    current = np.where(t < 200, 0.2304, 15.0) + np.round(np.random.default_rng(0).normal(0, 3, 600)) * 2e-4
    zero = zero_error(
        t,
        current,
        np.where(t < 200, 53.0, 51.0),
        current_step_a=2e-4,
        voltage_step_v=1e-4,
        assumed_std_a=0.006,
    )
    assert not zero.quiet


def test_square_wave_sampled_near_its_period_is_taken_as_it_is() -> None:
    t = np.arange(0, 3000, 10.0)
    current = np.where((t % 20) < 10, 16.1, 0.0)
    voltage = 54 - t * 0.003 - 0.15 * current
    e = look(t, current, voltage)
    assert not e.marks
    assert np.allclose(e.log.readings.current_a, current)


def test_regenerative_stretches_keep_their_sign() -> None:
    rng = np.random.default_rng(5)
    t = np.arange(0, 1500.0)
    current = np.round(rng.normal(8, 14, 1500), 2)
    e = look(t, current, 53 - 0.1 * current - t * 0.002)
    assert np.allclose(e.log.readings.current_a, current)
    assert "reversed" not in kinds(e)


@pytest.mark.parametrize("steady", [False, True])
def test_reversed_clamp_is_turned_and_said(mow, steady) -> None:
    t, i, v = mow
    if steady:
        i, v = np.full(len(t), 9.0), 53 - t * 0.004
    e = look(t, -i, v)
    assert kinds(e)["reversed"] == len(t)
    assert e.after.ah == pytest.approx(drawn(t, i, v, 30.0).ah, abs=0.02)
    left = look(t, -i, v, reverse=False)
    assert left.after.ah < 0


def test_overload_is_counted_and_costed(mow) -> None:
    t, i, v = mow
    shown = [f"{x:.2f}" if x <= 20 else "OL" for x in i]
    e = look(t, shown, v)
    mark = next(m for m in e.marks if m.kind == "overload")
    assert mark.count == int((np.round(i, 10) > 20).sum())
    assert "Ah" in mark.said
    assert len(e.log.readings) == len(t) - mark.count


def test_spike_without_sag_goes_and_peak_with_sag_stays(mow) -> None:
    t, i, v = mow
    i, v = i.copy(), v.copy()
    i[400] = 95.0
    i[700], v[700] = 60.0, v[700] - 0.13 * (60.0 - i[700])
    e = look(t, i, v)
    assert kinds(e)["spike"] == 1
    assert e.log.readings.current_a.max() == pytest.approx(60.0, abs=0.1)
    assert next(m for m in e.marks if m.kind == "spike").effect_ah == pytest.approx(
        -(95 - i[401]) / 3600, abs=0.004
    )


def test_lost_volts_are_drawn_straight_and_said(mow) -> None:
    t, i, v = mow
    v = v.copy()
    v[500:503] = 0.0
    e = look(t, i, v)
    assert kinds(e)["spike"] == 3
    assert e.log.readings.voltage_v.min() > 40
    assert e.after.wh > e.before.wh


def test_stuck_meter_leaves_a_gap(mow) -> None:
    t, i, v = mow
    i, v = i.copy(), v.copy()
    i[300:380], v[300:380] = i[300], v[300]
    e = look(t, i, v)
    assert kinds(e)["stuck"] == 79
    assert kinds(e)["gap"] == 1


def test_coarse_steady_logs_are_not_called_stuck() -> None:
    t = np.arange(0, 4000.0, 10.0)
    e = look(t, np.full(len(t), 11.6), np.round(54 - t * 0.002, 1))
    assert not e.marks


def test_end_of_range_is_said_and_kept(mow) -> None:
    t, i, v = mow
    rng = np.random.default_rng(8)
    high = np.clip(i * 2.2 + np.where(i > 5, rng.normal(0, 6, len(i)), 0), 0, None)
    clipped = np.minimum(high, 20.0)
    e = look(t, clipped, v - 0.1 * (high - i))
    mark = next((m for m in e.marks if m.kind == "saturated"), None)
    if (high > 20).mean() < 0.3:
        assert mark is not None and "at least" in mark.said
        assert len(e.log.readings) == len(t)


def test_gap_is_never_counted(mow) -> None:
    t, i, v = mow
    keep = (t < 400) | (t > 520)
    e = look(t[keep], i[keep], v[keep])
    mark = next(m for m in e.marks if m.kind == "gap")
    assert mark.count == 1
    assert mark.spans_s[0, 1] - mark.spans_s[0, 0] == pytest.approx(122, abs=2)
    assert "would add" in mark.said
    assert e.after.ah == pytest.approx(
        drawn(t[t < 400], i[t < 400], v[t < 400], 30).ah + drawn(t[t > 520], i[t > 520], v[t > 520], 30).ah,
        abs=0.02,
    )


def test_slow_logs_have_longer_steps() -> None:
    t = np.arange(0, 6000.0, 60.0)
    e = look(t, np.full(100, 0.6), 54 - t * 1e-3)
    assert e.log.longest_step_s == 180.0
    assert e.after.ah == pytest.approx(0.6 * 5940 / 3600)


@pytest.mark.parametrize("minutes", [5, 19, 60])
def test_a_cadence_is_what_covers_most_of_the_time(minutes: int) -> None:
    """A reading a second in the first minute, then one a minute: as many readings, but not as much time."""
    t = np.concatenate([np.arange(60.0), 60.0 * np.arange(1, minutes + 1)])
    e = look(t, np.full(len(t), 30.0), 54 - t / 600)
    assert "gap" not in kinds(e)
    assert e.after.ah == pytest.approx(30.0 * t[-1] / 3600)


def test_pauses_of_a_mow_are_no_cadence(mow) -> None:
    t, i, v = mow
    gone = np.cumsum([0.0, 310.0, 400.0, 290.0, 550.0, 345.0])[np.minimum(np.arange(len(t)) // 100, 5)]
    e = look(t + gone, i, v)
    slept = [m for m in e.marks if m.kind == "asleep"]
    assert kinds(e).get("gap", 0) + len(slept) == 5
    assert all("nothing ran" in m.said for m in slept), "the volts go on where they were"
    assert e.log.longest_step_s == 30.0


def test_a_rest_without_readings_is_no_gap_but_a_drop_of_volts_is(mow) -> None:
    t, i, v = mow
    still = look(np.append(t, t[-1] + 400.0), np.append(i, i[-1]), np.append(v, v[-1]))
    assert "gap" not in kinds(still)
    fallen = look(np.append(t, t[-1] + 400.0), np.append(i, i[-1]), np.append(v, v[-1] - 1.0))
    assert kinds(fallen)["gap"] == 1


def test_lost_volts_and_a_spike_together(mow) -> None:
    t, i, v = mow
    i, v = i.copy(), v.copy()
    v[600:680] = 0.0
    i[400] = 95.0
    e = look(t, i, v)
    assert kinds(e)["spike"] in (1, 80)
    assert sum(m.count for m in e.marks if m.kind == "spike") == 81
    assert e.log.readings.current_a.max() < 60


def test_a_noisy_sensor_with_many_digits_is_no_shunt(mow) -> None:
    t, amps, volts = mow
    amps = amps + 0.08 + np.random.default_rng(5).normal(0, 0.05, len(amps))
    hall = look(t, [f"{i:.3f}" for i in amps], volts)
    assert hall.quiet[0].zero_a == pytest.approx(0.08, abs=0.03)
    assert kinds(hall)["zero"] > 0
    tenths = look(t, [f"{i:.1f}" for i in amps], volts)
    assert hall.log.error.current_gain == pytest.approx(tenths.log.error.current_gain)


def test_a_quiet_sensor_with_many_digits_keeps_a_small_draw(mow) -> None:
    t, amps, volts = mow
    amps = np.where(np.abs(amps) < 0.5, 0.08, amps)
    shunt = look(t, [f"{i:.4f}" for i in amps], volts)
    assert shunt.quiet == () and shunt.log.error.current_gain < 0.01


@pytest.mark.parametrize(("moved_a", "longest_s"), [(0.1, 100.0), (0.2, 30.0)])
def test_a_long_step_over_which_the_load_hardly_moved_is_no_gap(moved_a: float, longest_s: float) -> None:
    """A reading a second at 30 A, then one after 100 s: half a percent of 30 A is 0.15 A."""
    time_s = np.r_[np.arange(61.0), 160.0 + np.arange(60.0)]
    amps = np.where(time_s > 60, 30.0 + moved_a, 30.0)
    assert longest_joined_s(time_s, amps, np.full(121, 50.0), 1.0, 0.01, 0.01) == pytest.approx(longest_s)
    volts = np.where(time_s > 60, 50.0 - moved_a / 2.4, 50.0)  # a thousandth of 50 V is 0.05 V
    assert longest_joined_s(time_s, np.full(121, 30.0), volts, 1.0, 0.01, 0.01) == pytest.approx(longest_s)
