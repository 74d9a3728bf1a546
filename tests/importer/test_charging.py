"""Charging is distinguished from mowing, whatever its sign, and is not part of what the mow drew."""

from __future__ import annotations

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.cleaning.mending import Examined
from estimator.importer.read import examine_bytes, read_bytes


def look(time, amps, volts, **choices) -> Examined:
    lines = ["time_s,current_a,voltage_v"]
    lines += [f"{t:g},{i:.2f},{v:.3f}" for t, i, v in zip(time, amps, volts, strict=True)]
    return examine_bytes([("mow.csv", "\n".join(lines).encode())], **choices)


def day(charged_before_s: int, mowed_s: int, charged_after_s: int):
    """12 A and 8 A in turn while mowing, 4 A while charging, one reading a second."""
    rest = np.zeros(60)
    load = 10 + 2 * np.sign(np.sin(np.arange(mowed_s) / 9))
    current = np.concatenate(
        (np.full(charged_before_s, -4.0), rest, load, rest, np.full(charged_after_s, -4.0))
    )
    charge = np.cumsum(current) / 3600
    return np.arange(len(current), dtype=float), current, 52 - 0.8 * charge - 0.1 * current


@pytest.mark.parametrize(("before_s", "after_s"), [(0, 1200), (0, 10_800), (900, 0), (900, 7200)])
@pytest.mark.parametrize("sign", [1, -1])
def test_charging_at_the_ends_is_left_out(before_s, after_s, sign) -> None:
    t, i, v = day(before_s, 1800, after_s)
    e = look(t, sign * i, v)
    # 30 min at 10 A on average are 5 Ah.
    assert e.after.ah == pytest.approx(5.0, abs=0.02)
    mark = next(m for m in e.marks if m.kind == "charging")
    assert mark.count == before_s + after_s
    assert f"{(before_s + after_s) * 4 / 3600:.2f} Ah put in" in mark.said
    assert (e.log.readings.current_a >= 0).all()


def test_a_start_moves_with_the_charging_before_it() -> None:
    t, i, v = day(900, 600, 0)
    lines = ["time,current_a,voltage_v"]
    lines += [f"2025-05-17 {9 + int(s) // 3600:02d}:{int(s) // 60 % 60:02d}:{int(s) % 60:02d},{a},{b:.3f}"
              for s, a, b in zip(t, i, v, strict=True)]  # fmt: skip
    log = examine_bytes([("mow.csv", "\n".join(lines).encode())]).log
    assert log.started is not None
    assert log.started.strftime("%H:%M:%S") == "09:15:00"


def test_braking_is_no_charging() -> None:
    t, i, v = day(0, 1800, 0)
    i[100:1800:60] = -6.0
    e = look(t, i, v)
    assert not [m for m in e.marks if m.kind == "charging"]
    assert e.after.ah == pytest.approx(float(np.sum((i[1:] + i[:-1]) / 2)) / 3600, abs=0.002)


@pytest.mark.parametrize(("amps", "charging"), [(-0.2, False), (-0.5, True)])
def test_what_a_clamp_shows_at_rest_is_no_charger(amps: float, charging: bool) -> None:
    """After a mow of up to 12 A, less than 2 % of that, or three steps of 0.1 A, may be the clamp's zero."""
    _, i, v = day(0, 1800, 0)
    i, v = np.r_[i, np.full(600, amps)], np.r_[v, np.full(600, v[-1])]
    marks = look(np.arange(float(len(i))), i, v).marks
    assert any(m.kind == "charging" for m in marks) == charging


def test_charging_amid_a_log_is_said() -> None:
    i = day(0, 1800, 600)[1]
    again = day(0, 900, 0)[1]
    i = np.concatenate((i, again))
    t = np.arange(len(i), dtype=float)
    e = look(t, i, 52 - 0.8 * np.cumsum(i) / 3600 - 0.1 * i)
    assert any("charged during the log (0.67 Ah put in)" in n for n in e.log.notes)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("steady", [True, False])
def test_a_log_of_charging_alone_is_refused(sign, steady) -> None:
    t = np.arange(1200.0)
    i = np.full(1200, -4.0) if steady else -5 - 4 * np.sin(t / 9)
    with pytest.raises(InputError, match=r"holds nothing but charging \(1\.[3-9]\d Ah put in\); give"):
        look(t, sign * i, 46 + t * 0.004 - 0.1 * i)


def test_signs_that_the_user_told_stand() -> None:
    t = np.arange(1200.0)
    e = look(t, np.full(1200, 4.0), 46 + t * 0.004, reverse=False)
    assert e.after.ah == pytest.approx(4 * 1199 / 3600, abs=0.001)


def test_motor_and_volts_that_fall_together_at_the_cut_off_turn_no_signs() -> None:
    t = np.arange(0, 2400.0, 20.0)
    amps = np.full(len(t), 16.1)
    volts = 47.2 - 0.0027 * t - 2.2 * np.exp((t - t[-1]) / 150)
    amps[-1], volts[-1] = 0.0, 26.0
    e = look(t, amps, np.round(volts, 1))
    assert (e.log.readings.current_a >= 0).all()
    assert e.after.ah == pytest.approx(16.1 * (t[-2] + 10) / 3600, rel=0.01)


def test_a_charge_at_one_current_is_told_by_the_least_climb_of_volts() -> None:
    noise = np.random.default_rng(4).normal(0, 0.005, 300)
    rows = "".join(f"{2 * k};{4 + noise[k]:.2f};{52 + 0.0005 * k + noise[k]:.2f}\n" for k in range(300))
    with pytest.raises(InputError, match="nothing but charging"):
        read_bytes([("a.csv", f"s;A;V\n{rows}".encode())])
    rows = "".join(f"{2 * k};{4 + noise[k]:.2f};{52 - 0.0005 * k + noise[k]:.2f}\n" for k in range(300))
    assert read_bytes([("a.csv", f"s;A;V\n{rows}".encode())]).readings.current_a.mean() > 3.9


def test_a_file_that_counts_charging_positive_is_turned() -> None:
    # such a file has current below zero while mowing; the charge put in before outweighs that
    t, i, v = day(10_000, 1800, 0)
    assert i.sum() < 0
    e = look(t, -i, v)
    assert e.after.ah == pytest.approx(5.0, abs=0.02)


def test_a_pack_that_warms_is_not_taken_for_one_that_is_charged() -> None:
    # Volts may rise a little at one current as the resistance falls; the sag of every step shows discharge.
    t = np.arange(0.0, 1200.0, 4.0)
    i = 12 + 3 * np.sign(np.sin(t / 17))
    volts = 54 - 0.0004 * t - (0.30 - 0.06 * t / 1200) * i
    e = look(t, i, volts)
    assert e.after.ah == pytest.approx(float(np.sum((i[1:] + i[:-1]) / 2)) * 4 / 3600, abs=0.01)


@pytest.mark.parametrize("rest", [0, 30])
def test_a_cold_pack_that_ends_above_its_beginning_was_drawn_on_all_the_same(rest: int) -> None:
    """Cold cells have several times the resistance of warm ones (common practice): volts rise by a tenth over
    the mow while every step of the current still makes them sag."""
    t = np.arange(900.0)
    i = np.where(t < rest, 0.0, 50 + 12 * np.sign(np.sin(t / 7)))
    ohm = 0.16 - 0.12 * np.minimum(t / 800, 1.0)
    e = look(t, i, 50 - 1.5 * t / 900 - ohm * i)
    assert e.after.ah == pytest.approx(float(np.sum((i[1:] + i[:-1]) / 2)) / 3600, rel=0.001)
    assert not [m for m in e.marks if m.kind == "reversed"]


def test_a_rest_above_the_loaded_volts_tells_of_discharge_where_steps_are_few() -> None:
    """Two long loads with a rest between: volts at rest lie above those under load."""
    t = np.arange(0.0, 1200.0, 2.0)
    i = np.select([t < 40, t < 500, t < 700], [0.0, 14.0, 5.0], default=9.0)
    e = look(t, i, np.where(i > 0, 45 + 6 * np.minimum(t / 900, 1.0), 52.0) - 0.02 * i)
    assert e.after.ah > 2.0


@pytest.mark.parametrize("seed", range(30))
def test_no_invented_mow_is_taken_for_charging(seed: int) -> None:
    """Packs of all sizes, also cold ones that warm, by a circuit of two resistances and a capacitor:
    whichever way the file counts, the charge that went out is found."""
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, rng.uniform(600, 2400), rng.choice([1, 2, 5]))
    capacity_ah, series, step_s = rng.uniform(5, 25), rng.integers(7, 17), t[1]
    i = np.repeat(rng.uniform(0.5, 1.6, len(t) // 8 + 1), 8)[: len(t)] * rng.uniform(0.4, 1.2) * capacity_ah
    i[: rng.choice([0, 12])] = 0.0
    charge = 1 - np.cumsum(i) * step_s / 3600 / capacity_ah
    ohm = rng.uniform(0.2, 0.8) / capacity_ah * (1 + rng.uniform(0, 4) * np.exp(-t / rng.uniform(200, 1500)))
    lag = np.zeros(len(t))
    for k in range(1, len(t)):
        lag[k] = lag[k - 1] + step_s / 50 * (0.3 / capacity_ah * i[k] - lag[k - 1])
    volts = series * (3.3 + 0.85 * charge - 0.25 * np.exp(-np.maximum(charge, 0) * 15) - ohm * i - lag)
    e = look(t, rng.choice([1, -1]) * i, volts)
    assert e.after.ah == pytest.approx(float(np.sum(i[1:] + i[:-1])) / 2 * step_s / 3600, rel=0.02)


def test_three_spikes_that_the_volts_do_not_answer_are_left_out_of_a_short_log() -> None:
    """Single readings of 90 A amid 9 to 11 A, while the volts of a pack of 0.1 ohm stay as for 10 A."""
    k = np.arange(120.0)
    amps = 10.0 + np.sign(np.sin(k / 3))
    volts = 52 - 0.1 * amps - k / 3600
    amps[[30, 60, 90]] = 90.0
    e = look(k, amps, volts)
    assert [m.count for m in e.marks if m.kind == "spike"] == [3]
    assert e.log.readings.current_a.max() == 11.0
