"""The equations of the circuit against closed forms, worked examples and a reference library."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants
from scipy.integrate import solve_ivp

from estimator.fitting.pack.circuit import (
    TRANSFER_V_PER_K,
    constant_power_voltage,
    pair_voltage,
    peukert_lag,
)
from estimator.fitting.pack.prior import arrhenius


def test_plett_pair_by_hand():
    """Plett 2004, J. Power Sources 134, 262: i_R[k+1] = exp(-dt/RC) i_R[k] + (1 - exp(-dt/RC)) i[k].

    By hand for R = 0.02 ohm, RC = 10 s, dt = 10 s, 5 A: 0.1 V (1 - e^-1) = 0.063212, 0.1 V (1 - e^-2) =
    0.086466.
    """
    v = pair_voltage(np.full(3, 0.02 * 5.0), 10.0, 10.0)
    assert v.tolist() == pytest.approx([0.0, 0.0632121, 0.0864665], abs=1e-7)


def test_plett_coulomb_count_by_hand():
    """Plett 2004: z[k+1] = z[k] - eta dt i / C. By hand: 10 Ah, 8 A for 900 s takes 0.2."""
    from estimator.descriptions import Pack
    from estimator.fitting.pack.fitted_pack import as_fitted
    from estimator.fitting.pack.log_model import N_JOINT, START, charge_along

    joint = np.zeros(N_JOINT)
    joint[START] = 0.9
    fitted = as_fitted(Pack("nmc", 13, 10.0, 39.0))
    charge = charge_along(joint, fitted, np.array([0.0, 2.0]), np.array([0.0, 0.25]))
    assert charge.tolist() == pytest.approx([0.9, 0.7])


def test_pair_follows_a_ramp_exactly():
    """Drive that rises in a straight line: the exact answer of dv/dt = (k t - v)/tau is
    k (t - tau + tau e^(-t/tau))."""
    t = np.arange(0, 200.0, 7.0)
    exact = 0.01 * (t - 30 + 30 * np.exp(-t / 30))
    assert pair_voltage(0.01 * t, 7.0, 30.0) == pytest.approx(exact, abs=1e-12)


def test_step_response_agrees_with_thevenin():
    """`thevenin` 0.2 (NREL, BSD-3): two pairs, 1 A steps, isothermal."""
    thevenin = pytest.importorskip("thevenin")
    params = {
        "num_RC_pairs": 1,
        "soc0": 1.0,
        "capacity": 1.0,
        "ce": 1.0,
        "gamma": 0.0,
        "mass": 1.0,
        "isothermal": True,
        "Cp": 1.0,
        "T_inf": 298.15,
        "h_therm": 0.0,
        "A_therm": 1.0,
        "ocv": lambda soc: 3.0 + soc,
        "M_hyst": lambda soc: 0.0,
        "R0": lambda soc, T_cell: 0.05,
        "R1": lambda soc, T_cell: 0.03,
        "C1": lambda soc, T_cell: 15.0 / 0.03,
    }
    model = thevenin.Simulation(params)
    demand = thevenin.Experiment()
    demand.add_step("current_A", 1.0, (300.0, 5.0))
    found = model.run(demand)
    time_s, voltage = found.vars["time_s"], found.vars["voltage_V"]
    grid = np.arange(0, 301.0, 1.0)
    ours = 4.0 - grid / 3600 - 0.05 - pair_voltage(np.full(len(grid), 0.03), 1.0, 15.0)
    after = time_s > 0
    assert np.interp(time_s[after], grid, ours) == pytest.approx(voltage[after], abs=2e-4)


@settings(max_examples=100, deadline=None)
@given(st.floats(10.0, 100.0), st.floats(0.001, 0.5), st.floats(-0.9, 0.99))
def test_constant_power_solves_its_quadratic(emf, ohm, share):
    power = share * emf**2 / (4 * ohm)
    v = float(constant_power_voltage(np.array(emf), np.array(ohm), np.array(power)))
    assert v * (emf - v) / ohm == pytest.approx(power, rel=1e-6, abs=1e-6)
    assert v >= emf / 2


def test_peukert_worked_example():
    """Peukert's law t = H (C / (I H))^k. 100 Ah at the 20 hour rate, k = 1.2, 10 A: 20 (100/200)^1.2 = 8.706
    h, which is 87.06 Ah (the usual worked example; arithmetic by hand)."""
    delivered = 100 * (1 - float(peukert_lag(np.array(10.0 / 100.0), 1.2)))
    assert delivered == pytest.approx(10.0 * 20 * (100 / (10 * 20)) ** 1.2, rel=1e-9)
    assert delivered == pytest.approx(87.06, abs=0.01)


def test_arrhenius_is_one_at_25_degrees_and_grows_in_the_cold():
    assert float(arrhenius(25.0, 3.0)) == pytest.approx(1.0)
    inverse = 1 / 268.15 - 1 / 298.15
    assert float(arrhenius(-5.0, 2.5)) == pytest.approx(np.exp(2500 * inverse), rel=1e-12)


def test_pair_agrees_with_a_general_solver():
    t = np.linspace(0, 100, 101)
    drive = 0.2 * np.sin(t / 9.0)
    answer = solve_ivp(
        lambda s, v: (np.interp(s, t, drive) - v) / 15.0, (0, 100), [0.0], t_eval=t, max_step=0.2, rtol=1e-8
    )
    assert pair_voltage(drive, 1.0, 15.0) == pytest.approx(answer.y[0], abs=1e-5)


def test_power_out_of_reach_leaves_half_the_source():
    """E²/4R = 50²/0.4 = 6250 W is the most that 0.1 ohm lets through, at half of 50 V."""
    volts = constant_power_voltage(np.array([50.0, 50.0]), np.array([0.1, 0.1]), np.array([6250.0, 9000.0]))
    assert volts.tolist() == [25.0, 25.0]


def test_scale_of_the_charge_transfer_is_between_one_electrode_and_two():
    """kT/e = 25.693 mV at 25 °C (CODATA by scipy.constants): between twice and four times it."""
    thermal_v = constants.Boltzmann * 298.15 / constants.elementary_charge
    assert thermal_v == pytest.approx(0.025693, abs=1e-6)
    assert pytest.approx((2 * thermal_v + 4 * thermal_v) / 2, rel=1e-3) == TRANSFER_V_PER_K * 298.15
