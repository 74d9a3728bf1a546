"""How a pack warms, fitted to one log and learnt over many: the same sums done point by point."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from estimator.fitting.pack.log_grid import Trace
from estimator.fitting.warmth import _TAU_S, Warming, fit_warmth, learn_warming

SERIES, CAPACITY_AH = 13, 10.0
USUAL_K_J = 1 / (15.0 * SERIES * CAPACITY_AH)


def trace(rise_k: np.ndarray, step_s: float = 10.0, measured: bool = True) -> Trace:
    """Readings every `step_s`, each of the same weight, of a pack that began at 12 °C."""
    time_s = step_s * np.arange(len(rise_k))
    known: dict[str, Any] = dict.fromkeys(Trace.__dataclass_fields__, time_s)
    return Trace(
        **{
            **known, "time_s": time_s, "grid_s": time_s, "step_s": step_s, "temperature_c": 12.0 + rise_k,
            "weight": np.full(len(rise_k), 1 / len(rise_k)), "measured_temperature": measured,
        }
    )  # fmt: skip


def steady(heat_w: float, kelvin_per_joule: float, tau_s: float) -> np.ndarray:
    return heat_w * kelvin_per_joule * tau_s * (1 - np.exp(-10.0 * np.arange(400) / tau_s))


@pytest.mark.parametrize("factor", [0.7, 1.0, 1.3])
def test_a_log_that_warms_as_a_usual_time_constant_says_its_heat_capacity(factor: float) -> None:
    """With a time constant that is on the grid, near the usual one: the heat capacity is a mean of what the
    readings say (one a minute counts, each within 0.4 K) and of the usual one within 40 %."""
    tau_s = float(_TAU_S[6])
    assert tau_s == pytest.approx(1200.0 * 0.2 * math.sqrt(30.0))
    rise = steady(25.0, factor * USUAL_K_J, tau_s)
    found = fit_warmth(trace(rise), np.full(400, 25.0), SERIES, CAPACITY_AH)
    assert found is not None
    response = steady(25.0, 1.0, tau_s)
    readings = (response**2).mean() * (3990 / 60) / 0.4**2
    prior = 1 / (0.4 * USUAL_K_J) ** 2
    mean = (readings * factor * USUAL_K_J + prior * USUAL_K_J) / (readings + prior)
    assert (found.around_c, found.tau_s) == (12.0, pytest.approx(tau_s))
    assert found.kelvin_per_joule == pytest.approx(mean, rel=1e-3)


def test_a_minute_of_warming_says_less_than_is_known_of_packs() -> None:
    """Three readings of one minute count as one: 0, 3.1 and 6.2 K, a third each, within 0.4 K. They tell what
    a joule warms to within 20 % of the usual, which was known within 40 %; twice the usual is seen."""
    heat_w, tau_s = 3.15 / (USUAL_K_J * 2 * 30.0), float(_TAU_S[6])
    rise = 2 * heat_w * USUAL_K_J * tau_s * (1 - np.exp(-np.array([0.0, 30.0, 60.0]) / tau_s))
    found = fit_warmth(trace(rise, 30.0), np.full(3, heat_w), SERIES, CAPACITY_AH)
    assert found is not None
    readings = ((rise / (2 * USUAL_K_J)) ** 2).mean() / 0.4**2
    prior = 1 / (0.4 * USUAL_K_J) ** 2
    mean = (readings * 2 + prior) / (readings + prior)
    assert found.kelvin_per_joule == pytest.approx(mean * USUAL_K_J, rel=0.01)
    assert 1.5 < mean < 1.95, "neither says all"


@pytest.mark.parametrize(("most_k", "shown"), [(5.9, False), (6.1, True)])
def test_a_small_rise_is_not_carried_on(most_k: float, shown: bool) -> None:
    rise = np.linspace(0.0, most_k, 200)
    found = fit_warmth(trace(rise), np.full(200, 20.0), SERIES, CAPACITY_AH)
    assert (found is not None) is shown
    assert fit_warmth(trace(rise + 9, measured=False), np.full(200, 20.0), SERIES, CAPACITY_AH) is None
    assert fit_warmth(trace(np.array([0.0, 9.0])), np.full(2, 20.0), SERIES, CAPACITY_AH) is None


def test_a_pack_that_cools_under_load_still_warms_by_a_tenth_of_the_usual() -> None:
    found = fit_warmth(trace(-np.linspace(0.0, 20.0, 400)), np.full(400, 30.0), SERIES, CAPACITY_AH)
    assert found is not None and found.kelvin_per_joule == pytest.approx(0.1 * USUAL_K_J)


def test_the_belief_after_a_log_is_bayes_rule_point_by_point() -> None:
    """On a grid of both logarithms, two and a half deviations each way: a normal density before, and readings
    that count once in five minutes, within 0.4 K and 1 K of drift."""
    before = Warming((math.log(16.0), math.log(2500.0)), (0.3**2, 0.02, 0.5**2))
    rise = steady(25.0, 1.2 * USUAL_K_J, 1500.0)
    found = learn_warming(before, trace(rise), np.full(400, 25.0), SERIES, CAPACITY_AH)
    heats = before.mean[0] + 0.3 * np.linspace(-2.5, 2.5, 21)
    taus = before.mean[1] + 0.5 * np.linspace(-2.5, 2.5, 21)
    prior = multivariate_normal(before.mean, [[0.3**2, 0.02], [0.02, 0.5**2]])
    log = np.zeros((21, 21))
    for i, heat in enumerate(heats):
        for j, tau in enumerate(taus):
            expected = steady(25.0, 1 / (math.exp(heat) * SERIES * CAPACITY_AH), math.exp(tau))
            misses = ((rise - expected) ** 2).mean() * (3990 / 300) / (0.4**2 + 1.0**2)
            log[i, j] = prior.logpdf([heat, tau]) - 0.5 * misses
    share = np.exp(log - log.max())
    share /= share.sum()
    heat_at, tau_at = np.meshgrid(heats, taus, indexing="ij")
    mean = float((share * heat_at).sum()), float((share * tau_at).sum())
    off = heat_at - mean[0], tau_at - mean[1]
    assert found.mean == pytest.approx(mean, abs=1e-4)
    assert found.covariance == pytest.approx(
        [float((share * a * b).sum()) for a, b in ((off[0], off[0]), (off[0], off[1]), (off[1], off[1]))],
        abs=1e-4,
    )
    assert (
        learn_warming(before, trace(rise, measured=False), np.full(400, 25.0), SERIES, CAPACITY_AH) is before
    )
    assert learn_warming(before, trace(rise[:2]), np.full(2, 25.0), SERIES, CAPACITY_AH) is before


def test_draws_are_those_of_the_belief() -> None:
    belief = Warming((math.log(15.0), math.log(3000.0)), (0.4**2, 0.1, 0.7**2))
    drawn = belief.draw(40_000, np.full(40_000, 8.0), SERIES, CAPACITY_AH, np.random.default_rng(1))
    logs = np.log([1 / (np.asarray(drawn.kelvin_per_joule) * SERIES * CAPACITY_AH), np.asarray(drawn.tau_s)])
    assert logs.mean(axis=1) == pytest.approx(belief.mean, abs=0.02)
    assert np.cov(logs) == pytest.approx(np.array([[0.16, 0.1], [0.1, 0.49]]), abs=0.01)
    assert set(np.asarray(drawn.around_c)) == {8.0}
