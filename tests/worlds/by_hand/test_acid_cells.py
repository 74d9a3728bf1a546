"""The lead-acid packs of the world obey the laws that they are made from."""

from __future__ import annotations

import numpy as np
import pytest
from acid_cells import (
    AT_ONCE,
    EIGEN,
    GAIN,
    AcidCells,
    acid_at_rest,
    discharge_acid,
    draw_acid,
    slow_charge_ah,
)
from scipy.integrate import trapezoid

SERIES, NEW_AH = 18, 20.0


def acid_packs(health: float = 1.0) -> AcidCells:
    """Five packs side by side."""
    packs = [draw_acid(np.random.default_rng([k, 7]), NEW_AH, SERIES, health) for k in range(5)]
    return AcidCells(**{name: np.concatenate([getattr(p, name) for p in packs]) for name in vars(packs[0])})


def test_acid_at_the_plates_follows_the_square_root_law_at_first_and_the_parabola_at_last():
    # Crank 1975, section 4.3.5: a plane sheet with constant flux at one face
    theta = np.array([0.005, 0.02, 0.05])
    below_mean = AT_ONCE + (GAIN * (1 - np.exp(-np.outer(theta, EIGEN**2)))).sum(1)
    assert below_mean + theta == pytest.approx(2 * np.sqrt(theta / np.pi), rel=0.06)
    assert AT_ONCE + GAIN.sum() == pytest.approx(1 / 3) and 0 < AT_ONCE < 0.03
    cells = acid_packs()
    run = discharge_acid(
        cells, acid_at_rest(cells, 25.0), np.full((5, 9000), 1.0), np.full(5, 25.0), as_current=True, wind=1e3
    )
    lag = run.state.short.sum(1) + AT_ONCE * cells.tau_s / (3600 * cells.acid_ah)
    assert lag == pytest.approx(cells.tau_s / (3600 * cells.acid_ah) / 3, rel=2e-3)


def test_acid_packs_hold_what_they_were_drawn_with_and_less_when_pulled_fast_or_cold():
    cut = np.full(5, 1.75 * SERIES)
    for health in (1.0, 0.8):
        assert slow_charge_ah(acid_packs(health), cut) == pytest.approx(np.full(5, NEW_AH * health), rel=2e-3)
    cells, given = acid_packs(), {}
    for amps, air in ((4.0, 25.0), (20.0, 25.0), (20.0, 5.0)):
        load = np.full((5, 4000), amps)
        run = discharge_acid(
            cells, acid_at_rest(cells, air), load, np.full(5, air), step_s=5.0, cut_off_v=cut, as_current=True
        )
        given[amps, air] = run.drawn_ah[np.arange(5), run.end - 1] / NEW_AH
    assert (given[4.0, 25.0] > given[20.0, 25.0]).all() and (given[20.0, 25.0] > given[20.0, 5.0]).all()
    assert 0.85 < np.median(given[4.0, 25.0]) < 1.0  # 5 h: common practice
    assert 0.5 < np.median(given[20.0, 25.0]) < 0.85


def test_no_more_charge_comes_out_than_there_is_acid_however_low_the_cut_off():
    cells = acid_packs()
    held = [slow_charge_ah(cells, np.full(5, volts * SERIES)) for volts in (1.85, 1.75, 1.60, 1.0)]
    assert (np.diff(held, axis=0) > 0).all() and (held[3] < 1.05 * cells.acid_ah).all()


def test_acid_packs_keep_charge_power_and_heat():
    cells = acid_packs()
    run = discharge_acid(
        cells, acid_at_rest(cells, 20.0), np.full((5, 1200), 300.0), np.full(5, 20.0), wind=0.0
    )
    assert run.drawn_ah[:, -1] == pytest.approx(run.current_a.sum(1) / 3600, rel=1e-5)
    assert run.current_a * run.voltage_v == pytest.approx(np.full((5, 1200), 300.0), rel=5e-3)
    over = np.linspace(0, 1, 2001) * run.drawn_ah[:, -1:]
    open_v = cells.volts_of(1 - (over / cells.acid_ah[:, None]).T).T
    stored_j = trapezoid(open_v, over, axis=1) * SERIES * 3600
    warmed_j = (run.temp_c[:, -1] - 20.0) * cells.heat_j_k
    assert warmed_j == pytest.approx(stored_j - (run.current_a * run.voltage_v).sum(1), rel=0.03)
    rested = discharge_acid(cells, run.state, np.zeros((5, 900)), np.full(5, 20.0), step_s=20.0)
    assert rested.voltage_v[:, -1] == pytest.approx(
        SERIES * cells.volts_of(1 - run.drawn_ah[:, -1] / cells.acid_ah), abs=0.01
    )
