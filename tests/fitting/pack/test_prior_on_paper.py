"""The belief about a pack before any log: its tables, read where they can be read on paper."""

from __future__ import annotations

import numpy as np
import pytest

from estimator.descriptions import USUAL_CUT_OFF_V, Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.prior import _walk_from, half_full_ohm, lag_basis, resistance_table

NMC = Pack("nmc", 13, 10.0, 39.0)
ACID = Pack("lead_acid", 12, 20.0, 21.0)
EMPTY_TO_FULL = (0.0, 0.05, 0.10, 0.20, 0.40, 0.70, 1.0)


def test_resistance_at_half_charge_is_a_third_of_the_way_from_40_to_70_percent_in_logarithms():
    """0.1 and 0.8 ohm at the two: 0.1 · 8^(1/3) = 0.2 ohm; a quick pair of 0.05 everywhere is added."""
    parameters = np.zeros(prior.N_PARAMETERS)
    parameters[prior.OHMIC] = np.log([9, 9, 9, 9, 0.1, 0.8, 9])
    parameters[prior.QUICK] = np.log(0.05)
    assert half_full_ohm(parameters) == pytest.approx(0.25)
    ohmic, quick = resistance_table(parameters)
    half = int(np.searchsorted(GRID, 0.5))
    assert (ohmic[half], quick[half]) == pytest.approx((0.2, 0.05))
    for charge, at in zip(EMPTY_TO_FULL, np.exp(parameters[prior.OHMIC]), strict=True):
        assert np.interp(charge, GRID, ohmic) == pytest.approx(at)


def test_lag_is_joined_by_straight_lines_to_what_it_is_at_half_charge():
    """Nodes empty, 15 % and full; at half charge the lag is its own measure."""
    for charge, row in (
        (0.0, (1, 0, 0)), (0.075, (0.5, 0.5, 0)), (0.15, (0, 1, 0)), (0.325, (0, 0.5, 0)), (0.5, (0, 0, 0)),
        (0.75, (0, 0, 0.5)), (1.0, (0, 0, 1)),
    ):  # fmt: skip
        assert [np.interp(charge, GRID, column) for column in lag_basis().T] == pytest.approx(row, abs=1e-9)


@pytest.mark.parametrize(
    ("pack", "ohmic", "quick"),
    [
        (NMC, 0.08 * 13 / 10, 0.02 * 13 / 10),
        (Pack("lfp", 12, 20.0, 30.0), 0.05 * 12 / 20, 0.02 * 12 / 20),
        (Pack("nmc", 13, 10.0, 39.0, resistance_ohm=0.1), 0.08, 0.02),
    ],
)
def test_resistance_rises_towards_empty_by_as_much_as_pulse_tests_show(pack, ohmic, quick):
    """80 + 20 mV a cell at the one-hour rate (LFP 50 + 20), or what was measured; 1.6 and 2.8 times empty."""
    mean = prior.prior_mean(pack)
    assert np.exp(mean[prior.OHMIC]) == pytest.approx(ohmic * np.array([1.6, 1.3, 1.15, 1.05, 1, 1, 1]))
    assert np.exp(mean[prior.QUICK]) == pytest.approx(quick * np.array([2.8, 2.2, 1.7, 1.35, 1, 1, 1]))
    assert half_full_ohm(mean) == pytest.approx(ohmic + quick)


def test_resistance_of_lead_acid_rises_alike_in_both_parts():
    mean = prior.prior_mean(ACID)
    rise = np.array([1.6, 1.3, 1.15, 1.05, 1, 1, 1])
    assert np.exp(mean[prior.OHMIC]) == pytest.approx(0.06 * 12 / 20 * rise)
    assert np.exp(mean[prior.QUICK]) == pytest.approx(0.03 * 12 / 20 * rise)


@pytest.mark.parametrize(
    ("chemistry", "whole_s"),
    [("nmc", 100), ("nca", 100), ("lco", 60), ("lfp", 60), ("lithium", 90), ("lead_acid", 250)],
)
def test_lag_is_shared_among_its_time_constants_by_warburgs_law(chemistry, whole_s):
    """As the square roots of 6, 30, 150 and, since it ends there, 300 s: 2.45, 5.48, 12.25, 17.32 of 37.5."""
    lag_s = np.exp(prior.prior_mean(Pack(chemistry, 12, 10.0, 12 * USUAL_CUT_OFF_V[chemistry]))[prior.LAG])
    assert lag_s == pytest.approx(whole_s * np.array([2.449, 5.477, 12.247, 17.321]) / 37.495, rel=1e-3)


@pytest.mark.parametrize(("pack", "kelvin"), [(NMC, (2300, 3000, 6000)), (ACID, (1500, 5200, 6000))])
def test_activation_temperatures_are_those_of_the_sources(pack, kelvin):
    """19 kJ/mol, 25 and 50 over the gas constant 8.314; of lead-acid IEEE 485 and its acid's conductance."""
    mean, cov = prior.prior_mean(pack), prior.prior_covariance(pack)
    assert mean[prior.ACTIVATIONS] * 1000 == pytest.approx(kelvin)
    sure = (400, 600, 1200) if pack is ACID else (700, 1000, 1200)
    assert np.sqrt(np.diag(cov)[prior.ACTIVATIONS]) * 1000 == pytest.approx(sure)


def test_a_walk_from_the_middle_adds_its_steps_on_either_side():
    """Variances 0.01 and 0.04 a step: near the middle one step, further off both, the first shared."""
    steps = np.array([0.1, 0.2])
    assert _walk_from(0, steps) == pytest.approx(np.array([[0, 0, 0], [0, 0.01, 0.01], [0, 0.01, 0.05]]))
    assert _walk_from(1, steps) == pytest.approx(np.diag([0.01, 0, 0.04]))
    assert _walk_from(2, steps) == pytest.approx(np.array([[0.05, 0.04, 0], [0.04, 0.04, 0], [0, 0, 0]]))


@pytest.mark.parametrize(("measured", "level"), [(None, 0.35), (0.2, 0.22)])
def test_resistance_is_least_known_near_empty(measured, level):
    """A factor of 1.4 or, measured, 1.25; and the steps of its shape from 40 % on, 15 % to 35 % each."""
    cov = prior.prior_covariance(Pack("nmc", 13, 10.0, 39.0, resistance_ohm=measured))
    shape = [0.2**2 + 0.25**2 + 0.3**2 + 0.35**2, 0.2**2 + 0.25**2 + 0.3**2, 0.2**2 + 0.25**2, 0.2**2]
    shape += [0.0, 0.15**2, 2 * 0.15**2]
    assert np.diag(cov)[prior.OHMIC] == pytest.approx(level**2 + np.array(shape))
    assert np.diag(cov)[prior.QUICK] == pytest.approx(0.35**2 + np.array(shape))
    empty, full, middle = prior.OHMIC.start, prior.OHMIC.stop - 1, prior.OHMIC.start + 4
    assert cov[empty, full] == cov[empty, middle] == pytest.approx(level**2), "they share their level only"


def test_lag_is_known_to_a_factor_of_two_together_and_its_shape_grows_apart_from_half_charge():
    cov = prior.prior_covariance(NMC)
    together = np.full((4, 4), 0.25) + 0.36 * np.eye(4)
    assert cov[prior.LAG, prior.LAG] == pytest.approx(together)
    shape = np.array([[0.18, 0.09, 0], [0.09, 0.09, 0], [0, 0, 0.09]])  # empty, 15 %, full
    assert cov[prior.LAG_SHAPE, prior.LAG_SHAPE] == pytest.approx(shape)


@pytest.mark.parametrize(("pack", "usual_v"), [(NMC, 0.010), (ACID, 0.020)])
def test_a_curve_departs_smoothly_from_its_family_and_most_near_empty(pack, usual_v):
    """Places .48 and .617 go together by (e^(-.137/.25) + e^(-.137/.08))/2 = .379."""
    cov = prior.prior_covariance(pack)[prior.CURVE, prior.CURVE]
    std = np.sqrt(np.diag(cov))
    assert std[[1, 2, 7]] == pytest.approx([2 * usual_v, 2 * usual_v, usual_v])
    assert std[[0, 3, 13]] == pytest.approx(1.5 * usual_v)
    assert cov[7, 8] / (std[7] * std[8]) == pytest.approx(0.379, abs=0.001)
