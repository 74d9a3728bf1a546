"""The forward simulation compared with closed forms, and what ends a draw."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from estimator.descriptions import Pack
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import draw_pack
from estimator.fitting.pack.prior import arrhenius
from estimator.predictor.simulation.running import Follow, Running
from estimator.predictor.simulation.simulation import simulate

PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)


def ideal(volts=50.0, ohm=0.1, n=3):
    """A pack of 10 Ah with a flat open-circuit voltage and one resistance; no pair, no lag, no warming."""
    draws = draw_pack(PACK, n, np.random.default_rng(1))
    tables = np.zeros_like(draws.tables)
    tables[:, :, 0] = np.where(GRID > -1e-9, volts, 0.0)
    tables[:, :, 1] = ohm
    none = np.zeros(n)
    return replace(
        draws, tables=tables, lag_h=draws.lag_h * 0, capacity_ah=np.full(n, 10.0), transfer_share=none,
        warmth=None,
    )  # fmt: skip


def stepped(draws, watts, seconds=1, follow=None):
    """Volts and amps (n,) in the last of some seconds at a power."""
    run = Running(draws, (1.0,), follow)
    for _ in range(seconds):
        shown = run.step(np.full(draws.n, watts, np.float32))
    return shown


def test_an_ideal_pack_with_resistance_ends_at_its_closed_form():
    """V = (E + sqrt(E² - 4PR))/2: 50 V behind 0.1 ohm gives 490 W at 49 V and 10 A, so 10 Ah last one
    hour."""
    ends = simulate(ideal(), np.full((1, 4000), 490.0), 1.0, cut_off_v=39.0)
    assert ends.end_s == pytest.approx(3600.0, abs=10.0)
    assert stepped(ideal(), 490.0) == (pytest.approx(49.0), pytest.approx(10.0, rel=1e-4))


def test_the_slow_pair_rises_with_its_own_time_constant():
    """0.05 ohm of quick pair and twice that of slow pair under 5 A: after t the sag is
    5 (0.1 + 0.05 (1 - exp(-t/15)) + 0.1 (1 - exp(-t/150))) V, within what the current moves meanwhile."""
    draws = ideal(volts=50.0)
    draws.tables[:, :, 2] = 0.05
    draws = replace(draws, slow_share=np.full(3, 2.0))
    for seconds in (150, 600, 1500):
        slow_v = 5 * 0.1 * (1 - np.exp(-seconds / 150))
        volts = 50.0 - 0.5 - 0.25 * (1 - np.exp(-seconds / 15)) - slow_v
        assert stepped(draws, 5.0 * volts, seconds)[0] == pytest.approx(volts, abs=0.01)


def test_a_charge_transfer_resists_less_as_the_current_grows():
    """One step against a bracketing root finder on P = I (E - s·asinh(R·I/s)), cold and warm."""
    for celsius, watts in ((25.0, 490.0), (0.0, 490.0), (0.0, 60.0), (-10.0, -200.0)):
        draws = replace(ideal(), transfer_share=np.ones(3)).at_temperature(celsius)
        scale_v = draws.transfer_v_per_k * (celsius + 273.15)
        ohm = 0.1 * arrhenius(celsius, draws.activation_kk[2])

        def off(amps, ohm=ohm[0], scale_v=scale_v, watts=watts):
            return amps * (50.0 - scale_v * np.arcsinh(ohm * amps / scale_v)) - watts

        amps = brentq(off, -20.0, 40.0)
        assert stepped(draws, watts)[0][0] == pytest.approx(watts / amps, abs=0.03)


def test_a_touch_must_outlast_the_hold_time():
    power = np.full((1, 600), 100.0)
    power[0, 100:104] = 5000.0  # four seconds under the cut-off
    short = simulate(ideal(), power, 1.0, cut_off_v=39.0, hold_s=1.0)
    held = simulate(ideal(), power, 1.0, cut_off_v=39.0, hold_s=3.0)
    longer = simulate(ideal(), power, 1.0, cut_off_v=39.0, hold_s=5.0)
    assert short.end_s.tolist() == [100.0] * 3
    assert held.end_s.tolist() == [103.0] * 3
    assert np.all(np.isinf(longer.end_s)) and set(longer.why) == {""}


def test_a_voltage_at_the_cut_off_has_reached_it():
    """Without a load the pack shows its open-circuit voltage to the last digit: 50 V."""
    idle = np.zeros((1, 10))
    assert set(simulate(ideal(), idle, 1.0, cut_off_v=50.0).why) == {"cut-off"}
    assert set(simulate(ideal(), idle, 1.0, cut_off_v=49.999).why) == {""}


def test_a_load_that_rises_within_a_step_ends_half_its_fall_lower():
    """100 W leave 49.799 V, 490 W leave 49 V: the fall of 0.799 V goes on to 49 - 0.799/2 = 48.600 V at the
    end of the step."""
    power = np.array([[100.0, 490.0, 490.0]])
    light_v = (50 + np.sqrt(50**2 - 4 * 100 * 0.1)) / 2
    reached_v = 49.0 - (light_v - 49.0) / 2
    above = simulate(ideal(), power, 1.0, cut_off_v=reached_v - 0.001, ramps=True)
    below = simulate(ideal(), power, 1.0, cut_off_v=reached_v + 0.001, ramps=True)
    flat = simulate(ideal(), power, 1.0, cut_off_v=reached_v + 0.001)
    assert set(above.why) == set(flat.why) == {""}
    assert set(below.why) == {"cut-off"} and below.end_s.tolist() == [1.0] * 3


def test_a_load_that_follows_the_voltage_follows_it_down_to_the_cut_off():
    """100 A through 0.1 ohm leave 40 V of 50 V: 490 W at 50 V are 392 W there, 7.969 A at 49.190 V."""
    follow = Follow(exponent=np.ones(3), current_a=100.0, from_v=50.0, least_v=39.0)
    held_v = (50 + np.sqrt(50**2 - 4 * 392 * 0.1)) / 2
    volts, amps = stepped(ideal(), 490.0, follow=follow)
    assert volts == pytest.approx(held_v, abs=1e-3) and amps == pytest.approx(392 / held_v, abs=1e-3)


def test_a_load_that_the_pack_cannot_carry_stops_the_motor_however_it_follows():
    """600 A through 0.1 ohm leave nothing of 50 V: the load is that at the cut-off, reached at once."""
    follow = Follow(exponent=np.full(3, 1.3), current_a=600.0, from_v=50.0, least_v=30.0)
    ends = simulate(ideal(), np.full((1, 1), 24_500.0), 1.0, cut_off_v=30.0, follow=follow)
    assert set(ends.why) == {"cut-off"}
    assert stepped(ideal(), 24_500.0, follow=follow)[0] == pytest.approx(25.0)


def test_a_dead_pack_can_still_be_charged():
    """No voltage behind 0.1 ohm: 200 W go in at sqrt(200 * 0.1) = 4.472 V."""
    dead = replace(ideal(), charge=np.full(3, -0.1))
    assert stepped(dead, -200.0)[0] == pytest.approx(np.sqrt(20.0), abs=1e-3)


def test_reserve_and_current_limit_end_a_draw_and_say_so():
    power = np.full((1, 4000), 490.0)
    spare = simulate(ideal(), power, 1.0, cut_off_v=39.0, reserve_charge=0.25)
    assert set(spare.why) == {"reserve"}
    assert spare.end_s == pytest.approx(2700.0, abs=2.0)
    limit = simulate(ideal(), power, 1.0, cut_off_v=39.0, current_limit_a=9.0)
    assert set(limit.why) == {"current limit"} and limit.end_s[0] == 0.0


def test_two_packs_side_by_side_carry_twice_the_load_as_long():
    draws = draw_pack(PACK, 200, np.random.default_rng(2))
    one = simulate(draws, np.full((1, 9000), 300.0), 1.0, cut_off_v=39.0)
    two = simulate(draws.scaled(2.0), np.full((1, 9000), 600.0), 1.0, cut_off_v=39.0)
    assert two.end_s == pytest.approx(one.end_s, abs=2.0)


def test_cold_and_age_shorten_and_chunks_change_nothing():
    draws = draw_pack(PACK, 100, np.random.default_rng(3))
    power = np.full((1, 9000), 500.0)
    warm = simulate(draws, power, 1.0, cut_off_v=39.0).end_s
    assert np.all(simulate(draws.at_temperature(0.0), power, 1.0, cut_off_v=39.0).end_s <= warm)
    assert np.all(simulate(draws.aged(0.8, 1.5), power, 1.0, cut_off_v=39.0).end_s < warm)
    chunks = iter(np.split(power, 9, axis=1))
    assert np.array_equal(simulate(draws, chunks, 1.0, cut_off_v=39.0).end_s, warm)


def test_charging_on_the_way_is_followed():
    power = np.tile([400.0, 400.0, -200.0], 4000)[None, :]
    ends = simulate(ideal(), power, 1.0, cut_off_v=39.0).end_s
    steady = simulate(ideal(), np.full((1, 9000), 400.0), 1.0, cut_off_v=39.0).end_s
    assert np.all(ends > 1.8 * steady)


def test_lead_acid_gives_less_when_drawn_faster():
    draws = draw_pack(Pack("lead_acid", 24, 20.0, 42.0), 200, np.random.default_rng(4))
    slow = simulate(draws, np.full((1, 40000), 100.0), 2.0, cut_off_v=42.0)
    fast = simulate(draws, np.full((1, 40000), 800.0), 2.0, cut_off_v=42.0)
    given = np.median(fast.end_s) * 800.0 / (np.median(slow.end_s) * 100.0)
    assert 0.3 < given < 0.85
