"""How a pack warms under load: what a log that measured it shows, and what that does to the next mow."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Pack
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted
from estimator.fitting.pack.log_grid import trace_of
from estimator.fitting.pack.pack_draws import draw_pack
from estimator.fitting.warmth import USUAL, Warming, learn_warming
from estimator.importer.log import Log
from estimator.predictor.simulation.simulation import simulate

PACK = Pack("nmc", 13, 10.0, 39.0)


def warmed(joule_per_kelvin, tau_s, heat_w=20.0, minutes=50.0, measured=True):
    """A log at 12 °C whose pack warms by dT/dt = heat/C - (T - 12)/tau, solved on paper for steady heat."""
    time = np.arange(0.0, 60 * minutes, 2.0)
    rise = heat_w / joule_per_kelvin * tau_s * (1 - np.exp(-time / tau_s))
    columns = {"time_s": time, "current_a": 8.0, "voltage_v": 48.0}
    if measured:
        columns["temperature_c"] = 12.0 + rise
    return trace_of(Log(pd.DataFrame(columns)))


@pytest.mark.parametrize(("heat", "tau_s"), [(10.0, 1500.0), (22.0, 5000.0)])
def test_a_log_that_measured_its_pack_shows_its_heat_capacity(heat, tau_s):
    trace = warmed(heat * 130, tau_s)
    found = learn_warming(USUAL, trace, np.full(len(trace.time_s), 20.0), 13, 10.0)
    assert np.exp(found.mean[0]) == pytest.approx(heat, rel=0.25)
    assert found.covariance[0] < 0.6 * USUAL.covariance[0]
    again = learn_warming(found, trace, np.full(len(trace.time_s), 20.0), 13, 10.0)
    assert again.covariance[0] < found.covariance[0]


def test_a_log_without_the_packs_temperature_says_nothing():
    trace = warmed(1950.0, 3000.0, measured=False)
    assert learn_warming(USUAL, trace, np.full(len(trace.time_s), 20.0), 13, 10.0) is USUAL


def test_a_kept_fit_brings_its_warming_back():
    trace = warmed(1000.0, 1500.0)
    learnt = learn_warming(USUAL, trace, np.full(len(trace.time_s), 20.0), 13, 10.0)
    fitted = replace(as_fitted(PACK), warming=learnt)
    assert FittedPack.from_plain(fitted.as_plain()).warming == learnt


def test_warming_lets_a_cold_pack_give_more():
    """The colder the pack, the more its own heat helps; at room temperature it hardly does."""
    load = np.full((1, 4000), 500.0)

    def minutes(celsius, warm):
        draws = draw_pack(PACK, 200, np.random.default_rng(3)).at_temperature(celsius)
        draws = draws if warm else replace(draws, warmth=None)
        return float(np.median(simulate(draws, load, 1.0, cut_off_v=39.0).end_s)) / 60

    cold, mild = minutes(0.0, True) - minutes(0.0, False), minutes(25.0, True) - minutes(25.0, False)
    assert cold > 2 * mild > 0


def test_twice_the_pack_warms_half_as_much():
    one = draw_pack(PACK, 5, np.random.default_rng(3)).at_temperature(5.0)
    assert one.scaled(2).warmth.kelvin_per_joule == pytest.approx(one.warmth.kelvin_per_joule / 2)
    assert one.at_temperature(-3.0).warmth.around_c == pytest.approx(-3.0)


def test_rise_after_steady_heat_is_the_closed_form():
    """20 W into 1950 J/K with 3000 s to the air for 1800 s: 20/1950·3000·(1 - e^-0.6) = 13.9 K."""
    sure = Warming((float(np.log(15.0)), float(np.log(3000.0))), (0.0, 0.0, 0.0))
    rise = sure.rise(20.0, 1800.0, 13, 10.0, np.random.default_rng(1), 50)
    assert rise == pytest.approx(20 / 1950 * 3000 * (1 - np.exp(-0.6)), rel=1e-4)
    doubted = USUAL.rise(20.0, 1800.0, 13, 10.0, np.random.default_rng(1))
    assert np.quantile(doubted, 0.95) > 1.5 * np.quantile(doubted, 0.05)
