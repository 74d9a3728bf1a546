"""A log's voltage split into rest voltage and resistances: each step by hand, the band by what it holds."""

from __future__ import annotations

import math

import numpy as np
import pytest

from estimator.fitting.seasons.spline_basis import spline_basis
from estimator.fitting.seasons.voltage_split import (
    SETTLE_S,
    _alike,
    _first_look,
    _knots,
    _least_squares,
    _pair_parts,
    _slope_changes,
    split_voltage,
)

SLOW_SHARES = np.array([0.2, 0.25, 0.3])
"""The slow resistances over the quick one, as they are expected before any log."""


@pytest.mark.parametrize(
    ("amps", "volts", "ohm"),
    [
        ([0, 5, 5, 2], [54.0, 53.5, 53.4, 53.8], (5 * 0.5 + 3 * 0.4) / (5**2 + 3**2)),
        ([0, 5, 5, 2], [54.0, 54.5, 54.4, 53.8], 1e-3),  # volts that rise with the load
        ([5, 5, 5], [54.0, 53.0, 52.0], 0.05),  # a load that never changes shows nothing
    ],
)
def test_the_first_look_is_volts_lost_per_amp_from_reading_to_reading(
    amps: list[float], volts: list[float], ohm: float
) -> None:
    assert _first_look(np.array(amps, float), np.array(volts)) == pytest.approx(ohm)


@pytest.mark.parametrize(
    ("residual", "alike"),
    [
        ([1.0, 2.0, 3.0, 4.0], (0.75 - 0.25 + 0.75) / 5.0),  # about their mean, 2.5
        ([1.0, -1.0, 1.0, -1.0], 0.0),
        ([2.0, 2.0, 2.0], 0.0),
        (list(range(1000)), 0.995),  # 0.997 by the formula
    ],
)
def test_how_alike_neighbours_are(residual: list[float], alike: float) -> None:
    assert _alike(np.array(residual, float)) == pytest.approx(alike)


@pytest.mark.parametrize(
    ("drawn_ah", "inner"),
    [
        # three near each end, and between them one every 0.6 Ah
        ([0.0, 1.0, 3.0], [0.04, 0.12, 0.3, 0.6, 1.2, 1.8, 2.4, 2.7, 2.88, 2.96]),
        ([0.0, 0.5], [0.04, 0.12, 0.2, 0.3, 0.38, 0.46]),
        ([0.0, 0.62], [0.04, 0.12, 0.5, 0.58]),  # two that would meet in the middle are left out
        ([0.0, 0.2], [0.04, 0.08, 0.12, 0.16]),
        ([0.0, -0.5, 0.1], [-0.46, -0.38, -0.02, 0.06]),  # charge that came back
        ([0.0, 1.2], [0.04, 0.12, 0.3, 0.6, 0.9, 1.08, 1.16]),
        ([0.0, 28.0], [0.04, 0.12, 0.3, *np.arange(2.0, 27.0, 2.0), 27.7, 27.88, 27.96]),  # 14 pieces at most
    ],
)
def test_knots_lie_closer_at_both_ends(drawn_ah: list[float], inner: list[float]) -> None:
    knots = _knots(np.array(drawn_ah))
    assert knots[4:-4] == pytest.approx(inner, abs=1e-6)
    ends = [min(drawn_ah)] * 4, [max(drawn_ah)] * 4
    assert (knots[:4], knots[-4:]) == (pytest.approx(ends[0], abs=1e-6), pytest.approx(ends[1], abs=1e-6))
    assert knots[0] < min(drawn_ah) and knots[-1] > max(drawn_ah)


def test_control_points_on_a_straight_line_do_not_bend_and_on_a_parabola_by_its_second_derivative() -> None:
    """Slopes of x² between Greville points a, b, c are a + b and b + c: they change by c - a."""
    knots = _knots(np.array([0.0, 3.0]))
    k = len(knots) - 4
    place = np.array([knots[i + 1 : i + 4].mean() for i in range(k)])
    changes = _slope_changes(knots, k)
    assert changes.shape == (k - 2, k)
    assert changes @ (5.0 - 2.0 * place) == pytest.approx(np.zeros(k - 2), abs=1e-9)
    assert changes @ place**2 == pytest.approx(place[2:] - place[:-2])


def test_pairs_follow_a_steady_current_with_their_time_constants() -> None:
    """5 A from the start: 5 V · (1 - exp(-t/tau)) over a pair of 1 ohm, at whatever times."""
    time_s = np.append(np.arange(10.0, 110.0, 2.0), np.arange(110.0, 400.0, 7.0))
    parts = _pair_parts(time_s, np.full(len(time_s), 5.0))
    for part, tau_s in zip(parts, SETTLE_S, strict=True):
        assert part == pytest.approx(5.0 * (1 - np.exp(-(time_s - 10.0) / tau_s)), abs=0.02)


def circuit(rng: np.random.Generator, shares: np.ndarray, warming: float, n: int = 500) -> tuple:
    """Rest voltage falls by 1.3 V/Ah; all resistances change by `warming` along the log."""
    time_s = np.arange(float(n))
    amps = np.where(time_s % 30 < 25, 6.0 + np.repeat(rng.normal(0, 1.2, n // 4 + 1), 4)[:n], 1.5)
    drawn = np.cumsum(amps) / 3600
    drives = np.column_stack([amps, *_pair_parts(time_s, amps)])
    along = 1.0 + warming * (drawn / drawn[-1] - 0.5)
    return time_s, amps, drawn, 54.0 - 1.3 * drawn - along * (drives @ (0.1 * np.array([1.0, *shares])))


def test_without_noise_all_is_found_and_uncertain_only_by_what_any_such_split_is() -> None:
    """1 % of the quick resistance and 3 % of all four; 0.3 of what is left of each reading, here nothing."""
    time_s, amps, drawn, volts = circuit(np.random.default_rng(1), SLOW_SHARES, 0.05, 3000)
    found = split_voltage(time_s, amps, volts, drawn)
    assert found.quick_ohm == pytest.approx(0.1, rel=2e-3)
    assert found.total_ohm == pytest.approx(0.175, rel=5e-3)
    at = np.array([0.1, 0.4])
    assert found.rest_v(at) == pytest.approx(54.0 - 1.3 * at, abs=0.01)
    assert found.quick_std_ohm == pytest.approx(0.01 * 0.1, rel=0.02)
    assert found.total_std_ohm == pytest.approx(0.03 * 0.175, rel=0.05)
    assert found.line_std_v < 1e-3


def test_only_readings_of_the_voltage_count_but_all_of_the_current() -> None:
    time_s, amps, drawn, volts = circuit(np.random.default_rng(2), SLOW_SHARES, 0.0)
    read = time_s % 3 == 0
    found = split_voltage(time_s, amps, np.where(read, volts, 0.0), drawn, read)
    assert found.quick_ohm == pytest.approx(0.1, rel=2e-3) and found.total_ohm == pytest.approx(
        0.175, rel=5e-3
    )


@pytest.mark.parametrize("alike", [0.0, 0.8])
def test_uncertainties_are_those_with_which_true_resistances_are_missed(alike: float) -> None:
    """Packs drawn from what is expected before a log, with noise that is its own or like its neighbour's: the
    misses over their uncertainties, less the 1 % and 3 % that these packs do not have, are one on average."""
    rng = np.random.default_rng(5)
    missed = []
    for _ in range(80):
        shares = np.array([0.2, 0.25, 0.3]) + rng.standard_normal(3) * [0.25, 0.25, 0.3]
        time_s, amps, drawn, volts = circuit(rng, shares, 0.1 * rng.standard_normal())
        noise = rng.standard_normal(len(volts))
        for i in range(1, len(noise)):
            noise[i] = alike * noise[i - 1] + math.sqrt(1 - alike**2) * noise[i]
        found = split_voltage(time_s, amps, volts + 0.05 * noise, drawn)
        quick_std = math.sqrt(found.quick_std_ohm**2 - (0.01 * found.quick_ohm) ** 2)
        total_std = math.sqrt(found.total_std_ohm**2 - (0.03 * found.total_ohm) ** 2)
        true_ohm = 0.1 * (1.0 + shares.sum())
        missed.append([(found.quick_ohm - 0.1) / quick_std, (found.total_ohm - true_ohm) / total_std])
        assert found.line_std_v == pytest.approx(0.3 * 0.05, rel=0.5)
    quick, total = np.sqrt(np.mean(np.square(missed), axis=0))
    assert total == pytest.approx(1.0, abs=0.2)
    assert 0.45 < quick < 1.2, "noise that wanders tells less of a level, but as much of what changes at once"


def test_a_load_that_never_changes_leaves_the_resistance_unknown() -> None:
    """A constant current shows nothing of the quick resistance."""
    drawn = np.linspace(0.0, 1.0, 200)
    basis = spline_basis(drawn, knots := _knots(drawn))
    drives = np.column_stack([np.full(200, 5.0)] * 4)
    found = _least_squares(basis, knots, drives, drawn - 0.5, 50.0 - drawn)
    assert found.quick_std_ohm > 0.02
