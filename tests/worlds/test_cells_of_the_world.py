"""The world's cells obey the laws that they are made from: charge, energy, diffusion, heat."""

from __future__ import annotations

import numpy as np
import pytest
from balanced_cells import Cells, Make, draw_cells, draw_make, joined
from discharging import AT_ONCE, EIGEN, GAIN, Run, at_rest, discharge, slow_capacity_ah
from half_cells import CURVES, GRID, blended, table
from scipy.integrate import trapezoid

SERIES, LABEL_AH = 10, 8.0


def packs(chemistry: str, health: float = 1.0) -> tuple[list[Make], Cells]:
    """Six makes side by side."""
    makes, cells = [], []
    for seed in range(6):
        rng = np.random.default_rng([seed, 99])
        makes.append(draw_make(rng, chemistry))
        cells.append(draw_cells(rng, makes[-1], LABEL_AH, SERIES, health))
    return makes, joined(cells)


def pulled(cells: Cells, amps: float, seconds: int, **settings: object) -> Run:
    """A constant current drawn from full packs at 25 °C."""
    n = len(cells)
    return discharge(
        cells,
        at_rest(cells, 25.0),
        np.full((n, seconds), amps),
        np.full(n, 25.0),
        as_current=True,
        **settings,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("name", CURVES)
def test_every_half_cell_curve_falls_as_it_fills(name):
    assert (np.diff(table(name)) < 0).all()


def test_a_blend_of_nothing_is_the_first_material_and_one_with_silicon_lies_above_it_when_nearly_empty():
    graphite, silicon = table("safari graphite"), table("silicon")
    inside = (GRID > 0.01) & (GRID < 0.97)
    assert blended(graphite, silicon, 0.0)[inside] == pytest.approx(graphite[inside], abs=2e-3)
    low = np.searchsorted(GRID, 0.1)
    assert blended(graphite, silicon, 0.1)[low] > graphite[low] + 0.02


@pytest.mark.parametrize("chemistry", ["nmc", "lfp"])
@pytest.mark.parametrize("health", [1.0, 0.85])
def test_open_circuit_runs_from_full_to_the_cut_off_over_just_the_capacity(chemistry, health):
    makes, cells = packs(chemistry, health)
    ends = np.tile([0.0, LABEL_AH * health], (6, 1))
    volts = cells.equilibrium_v(ends)
    assert volts[:, 0] == pytest.approx([m.full_v for m in makes], abs=0.003)
    drawn = np.tile(np.linspace(0.97, 1.03, 601) * LABEL_AH * health, (6, 1))
    reached = [
        np.interp(-m.cut_v, -v, d) for m, v, d in zip(makes, cells.equilibrium_v(drawn), drawn, strict=True)
    ]
    assert reached == pytest.approx([LABEL_AH * health] * 6, rel=0.003)


@pytest.mark.parametrize("chemistry", ["nmc", "lfp"])
def test_a_slower_and_slower_discharge_gives_the_equilibrium_capacity(chemistry):
    makes, cells = packs(chemistry)
    cut_off_v = np.array([m.cut_v for m in makes]) * SERIES
    in_20_h, in_200_h = slow_capacity_ah(cells, cut_off_v), slow_capacity_ah(cells, cut_off_v, hours=200.0)
    assert in_200_h == pytest.approx(np.full(6, LABEL_AH), rel=0.004)
    assert (in_20_h < in_200_h).all() and (in_20_h > 0.96 * in_200_h).all()


def test_the_surface_follows_the_square_root_law_at_first_and_the_parabola_at_last():
    # Crank 1975, eq. 6.45 and its limits: at short times 2 sqrt(t/(pi tau)), at long 1/5, in units of u tau/3
    assert np.tan(EIGEN) == pytest.approx(EIGEN)
    theta = np.array([0.004, 0.01])  # time over radius²/diffusivity
    above_mean = AT_ONCE + (GAIN * (1 - np.exp(-np.outer(theta, EIGEN**2)))).sum(1)
    above_start = above_mean + 3 * theta
    sphere = 2 * np.sqrt(theta / np.pi) + theta  # the next term of the expansion for a sphere
    assert above_start == pytest.approx(sphere, rel=0.08)

    _, cells = packs("nmc")
    run = pulled(cells, 4.0, 4000, wind=1e4)  # kept at 25 °C
    share = 4.0 / (3600 * cells.q_neg_ah)
    shortage = run.state.short[:, 1].sum(1) + AT_ONCE * share * cells.tau_s[:, 1] / 3
    assert shortage == pytest.approx(share * cells.tau_s[:, 1] / 15, rel=1e-3)


def test_charge_drawn_is_the_current_over_time():
    _, cells = packs("nmc")
    run = discharge(cells, at_rest(cells, 15.0), np.full((6, 1200), 200.0), np.full(6, 15.0))
    assert run.drawn_ah[:, -1] == pytest.approx(run.current_a.sum(1) / 3600, rel=1e-5)
    assert run.current_a * run.voltage_v == pytest.approx(np.full((6, 1200), 200.0), rel=5e-3)


@pytest.mark.parametrize("chemistry", ["nmc", "lfp"])
def test_what_the_stored_energy_lost_and_the_motor_did_not_get_is_heat(chemistry):
    _, cells = packs(chemistry)
    run = pulled(cells, 8.0, 1800, wind=0.0)
    over = np.linspace(0, 1, 2001) * run.drawn_ah[:, -1:]
    stored_j = trapezoid(cells.equilibrium_v(over), over, axis=1) * SERIES * 3600
    given_j = (run.current_a * run.voltage_v).sum(1)
    warmed_j = (run.temp_c[:, -1] - 25.0) * cells.heat_j_k
    assert (warmed_j > 0).all()
    assert warmed_j == pytest.approx(stored_j - given_j, rel=0.02)


def test_a_warm_pack_at_rest_cools_with_its_time_constant_and_faster_in_wind():
    _, cells = packs("nmc")
    calm = discharge(cells, at_rest(cells, 35.0), np.zeros((6, 600)), np.full(6, 20.0), as_current=True)
    seconds = cells.heat_j_k / cells.loss_w_k
    assert calm.temp_c[:, -1] == pytest.approx(20 + 15 * np.exp(-600 / seconds), abs=0.02)
    windy = discharge(
        cells, at_rest(cells, 35.0), np.zeros((6, 600)), np.full(6, 20.0), as_current=True, wind=2.0
    )
    assert (windy.temp_c[:, -1] < calm.temp_c[:, -1]).all()


def test_cold_and_fast_give_less_and_more_cells_in_parallel_give_in_proportion():
    makes, cells = packs("nmc")
    cut = np.array([m.cut_v for m in makes]) * SERIES
    held = {}
    for amps, air in ((2.0, 25.0), (8.0, 25.0), (8.0, 5.0)):
        run = discharge(
            cells,
            at_rest(cells, air),
            np.full((6, 800), amps),
            np.full(6, air),
            step_s=20.0,
            as_current=True,
            cut_off_v=cut,
        )
        held[amps, air] = run.drawn_ah[np.arange(6), run.end - 1]
    assert (held[8.0, 25.0] < held[2.0, 25.0]).all() and (held[8.0, 5.0] < held[8.0, 25.0]).all()
    twice = cells.scaled(np.full(6, 2.0))
    assert slow_capacity_ah(twice, cut) == pytest.approx(2 * slow_capacity_ah(cells, cut), rel=1e-3)


def test_the_motor_stops_once_the_volts_stayed_under_the_cut_off_for_the_hold_time_and_rests_from_then_on():
    makes, cells = packs("lfp")
    cut = np.array([m.cut_v for m in makes]) * SERIES
    stops = []
    for hold_s in (1.0, 4.0):
        run = discharge(
            cells,
            at_rest(cells, 20.0, 0.93 * LABEL_AH),
            np.full((6, 1200), 200.0),
            np.full(6, 20.0),
            cut_off_v=cut,
            hold_s=hold_s,
            stop_at=np.full(6, 10**9),
        )
        assert run.cut.all()
        for k, end in enumerate(run.end):
            assert (run.current_a[k, end:] == 0).all() and run.current_a[k, end - 1] > 0
            assert (run.voltage_v[k, end - int(hold_s) - 1 : end] < cut[k]).all()
        stops.append(run.end)
    assert (stops[1] == stops[0] + 3).all()


def test_hysteresis_leaves_the_charging_branch_and_arrives_on_that_of_discharging():
    _, cells = packs("lfp")
    run = pulled(cells, 4.0, 2400)
    assert (at_rest(cells, 20.0).branch == 1).all()
    assert (run.state.branch < -0.9).all() and (run.state.branch >= -1).all()
