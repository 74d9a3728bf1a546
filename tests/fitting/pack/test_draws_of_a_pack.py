"""Draws of a pack: how they are picked, scaled and aged, and what each of their tables is made of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from estimator.descriptions import Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.circuit import TRANSFER_V_PER_K
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted, open_circuit_table
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws, draw_pack, draws_of
from estimator.fitting.warmth import Warmth

PACK = Pack("nmc", 13, 10.0, 42.0)
MANY = 4000


def told_apart() -> PackDraws:
    """Four draws whose every number says which of them it is."""
    drawn = draw_pack(PACK, 4, np.random.default_rng(1)).at_temperature(5.0)
    which = np.arange(4.0)
    return replace(
        drawn, charge=which, quick_v=which, rates_c=np.tile(which, (4, 1)),
        warmth=Warmth(which, which + 10, which + 20),
    )  # fmt: skip


def test_draws_are_taken_whole_and_as_often_as_they_are_named():
    drawn, kept = told_apart(), [2, 0, 2]
    taken = drawn.taken(np.array(kept))
    assert taken.n == 3 and drawn.n == 4
    for name in ("capacity_ah", "tables", "lag_shape", "slow_share", "transfer_share", "charge", "quick_v"):
        assert np.array_equal(getattr(taken, name), getattr(drawn, name)[kept]), name
    for name in ("temperature_c", "clamp_zero_a"):
        assert np.array_equal(getattr(taken, name), getattr(drawn, name)[kept]), name
    for name in ("lag_h", "activation_kk", "rates_c"):
        assert np.array_equal(getattr(taken, name), getattr(drawn, name)[:, kept]), name
    warmth = (taken.warmth.around_c, taken.warmth.kelvin_per_joule, taken.warmth.tau_s)
    assert [each.tolist() for each in warmth] == [[2, 0, 2], [12, 10, 12], [22, 20, 22]]
    assert np.array_equal(drawn.first(3).charge, [0, 1, 2]) and drawn.first(9).n == 4


@pytest.mark.parametrize("warmth", [None, Warmth(20.0, 1e-4, 3000.0)])
def test_warmth_that_all_draws_share_stays_as_it_is(warmth):
    assert replace(told_apart(), warmth=warmth).taken(np.array([1])).warmth is warmth


@pytest.mark.parametrize("beside", [2.0, np.array([1.0, 2.0, 4.0, 0.5])])
def test_packs_side_by_side_hold_more_and_resist_and_warm_less(beside):
    drawn = told_apart()
    both, times = drawn.scaled(beside), np.broadcast_to(beside, 4)
    assert both.capacity_ah == pytest.approx(drawn.capacity_ah * times)
    assert both.tables[:, :, 0] == pytest.approx(drawn.tables[:, :, 0])
    assert both.tables[:, :, 1:] == pytest.approx(drawn.tables[:, :, 1:] / times[:, None, None])
    assert both.rates_c == pytest.approx(drawn.rates_c / times)
    assert both.warmth.kelvin_per_joule == pytest.approx(drawn.warmth.kelvin_per_joule / times)
    assert both.warmth.tau_s is drawn.warmth.tau_s and both.quick_v is drawn.quick_v


def test_a_pack_that_ages_holds_less_and_resists_more():
    drawn = told_apart()
    aged = drawn.aged(0.8, np.array([1.0, 1.5, 2.0, 3.0]))
    assert aged.capacity_ah == pytest.approx(0.8 * drawn.capacity_ah)
    assert aged.tables[:, :, 0] == pytest.approx(drawn.tables[:, :, 0])
    assert aged.tables[2, :, 1:] == pytest.approx(2 * drawn.tables[2, :, 1:])
    assert np.array_equal(drawn.aged().tables, drawn.tables)
    assert np.array_equal(drawn.aged().capacity_ah, drawn.capacity_ah)


def test_a_pack_at_rest_elsewhere_has_neither_sag_nor_lag():
    drawn = told_apart()
    there = drawn.at_temperature(-3.0).starting_at(0.7)
    assert set(there.charge) == {0.7} and set(there.temperature_c) == {-3.0}
    assert not there.quick_v.any() and not there.rates_c.any()
    assert set(there.warmth.around_c) == {-3.0} and there.warmth.tau_s is drawn.warmth.tau_s
    usual = draw_pack(PACK, 4, np.random.default_rng(1))
    assert set(usual.charge) == {1.0} and set(usual.temperature_c) == {25.0}
    assert not usual.clamp_zero_a.any() and not usual.quick_v.any() and usual.rates_c.shape == (4, 4)
    assert set(draw_pack(PACK, 4, np.random.default_rng(1), 0.4).charge) == {0.4}


def sure(chemistry: str, cut_off_v: float, n: int = MANY) -> tuple[FittedPack, PackDraws]:
    """Draws of a pack of which all is known: they differ by what no log shows near empty."""
    fitted = as_fitted(Pack(chemistry, 13, 10.0, cut_off_v))
    parameters = np.tile(fitted.mean, (n, 1))
    state = np.arange(5.0)[:, None] * np.ones(n)
    rest = (np.full(n, 0.9), state, np.full(n, 20.0), np.full(n, 0.05))
    return fitted, draws_of(fitted, parameters, *rest, np.random.default_rng(2))


@pytest.mark.parametrize("charge", [0.0, 0.12, 0.5, 1.0])
def test_usable_charge_counts_from_where_the_curve_meets_the_cut_off(charge):
    """The model's own charge is 1 − usable · (1 − usable charge), for curve, resistances and lag alike; near
    empty they scatter by 18 mV a cell, 7 and 30 %, by e times less for every 0.12 of charge."""
    fitted, drawn = sure("nmc", 44.2)
    assert fitted.usable < 0.97, "else nothing is shown of it"
    own = 1 - fitted.usable * (1 - charge)
    place, fades = int(np.searchsorted(GRID, charge - 1e-9)), np.exp(-charge / 0.12)
    curve = 13 * np.interp(own, GRID, open_circuit_table(fitted, fitted.mean))
    volts = drawn.tables[:, place, 0]
    assert np.median(volts) == pytest.approx(curve, abs=0.03 * fades + 1e-3)
    assert volts.std() == pytest.approx(13 * 0.018 * fades, rel=0.05, abs=1e-5)
    for part, table in enumerate(prior.resistance_table(fitted.mean), start=1):
        ohm = np.log(drawn.tables[:, place, part])
        basis = np.interp(own, GRID, np.log(table))
        assert np.median(ohm) == pytest.approx(basis, abs=0.005 * fades + 1e-4)
        assert ohm.std() == pytest.approx(0.07 * fades, rel=0.05, abs=1e-5)
    lag = np.log(drawn.lag_shape[:, place])
    assert np.median(lag) == pytest.approx(
        np.interp(own, GRID, prior.lag_basis() @ fitted.mean[prior.LAG_SHAPE]), abs=0.02 * fades + 1e-4
    )
    assert lag.std() == pytest.approx(0.3 * fades, rel=0.05, abs=1e-5)


def test_below_empty_the_errors_grow_no_further_and_the_pack_is_dead_beyond_the_grid():
    _, drawn = sure("nmc", 42.0)
    empty = int(np.searchsorted(GRID, -1e-9))
    off = drawn.tables[:, :, 0] - np.median(drawn.tables[:, :, 0], axis=0)
    assert off[:, empty - 20].std() == pytest.approx(off[:, empty].std(), rel=1e-3)
    assert not drawn.tables[:, 0, 0].any() and drawn.tables[:, 1, 0].all()


def test_a_pack_that_stops_by_itself_is_dead_below_its_empty():
    fitted = replace(as_fitted(PACK), stops_at=0.3, usable=0.7)
    drawn = draw_pack(fitted, 5, np.random.default_rng(1)).tables[:, :, 0]
    assert not drawn[:, GRID < 0].any() and drawn[:, GRID >= 0].all()


@pytest.mark.parametrize(("chemistry", "cut_off_v"), [("nmc", 42.0), ("lead_acid", 22.75)])
def test_parameters_become_what_is_simulated(chemistry, cut_off_v):
    fitted, drawn = sure(chemistry, cut_off_v)
    assert drawn.capacity_ah == pytest.approx(10.0)
    assert drawn.lag_h[:, 0] * 3600 == pytest.approx(np.exp(fitted.mean[prior.LAG]))
    assert drawn.activation_kk[:, 0] == pytest.approx(fitted.mean[prior.ACTIVATIONS])
    assert drawn.slow_share == pytest.approx(0.15)
    assert drawn.transfer_share == pytest.approx(0.25)
    assert drawn.transfer_v_per_k == pytest.approx(13 * TRANSFER_V_PER_K)
    assert set(drawn.quick_v) == {0.0} and drawn.rates_c[:, 0].tolist() == [1, 2, 3, 4]
    assert (set(drawn.charge), set(drawn.temperature_c), set(drawn.clamp_zero_a)) == ({0.9}, {20.0}, {0.05})
    assert drawn.lead_acid is (chemistry == "lead_acid")
    if drawn.lead_acid:  # Peukert's exponent 1.175, its law off by a tenth
        assert drawn.lag_shape.shape == (MANY, 1)
        law = np.log(drawn.lag_shape[:, 0] - 1)
        assert (np.median(law), law.std()) == pytest.approx((np.log(0.175), 0.10), rel=0.05)


def test_no_draw_resists_less_in_the_cold():
    fitted = as_fitted(PACK)
    parameters = np.tile(fitted.mean, (2, 1))
    parameters[:, prior.ACTIVATION_OHM] = (-1.0, 2.0)
    one = np.ones(2)
    drawn = draws_of(fitted, parameters, one, np.zeros((5, 2)), one, one, np.random.default_rng(1))
    assert drawn.activation_kk[0].tolist() == [0.0, 2.0]


def test_no_draw_lags_by_hours_however_little_is_known_of_the_lag():
    """A doubt of a factor of four: one draw in fifty would lag sixteen times as long as usual, two hours."""
    known = as_fitted(PACK)
    covariance = known.covariance.copy()
    covariance[prior.LAG, prior.LAG] += 2.0 * np.eye(4)
    usual_h = np.exp(prior.prior_mean(PACK)[prior.LAG]) / 3600
    drawn = draw_pack(replace(known, covariance=covariance), MANY, np.random.default_rng(3))
    assert (drawn.lag_h <= 7.4 * usual_h[:, None]).all()
    assert np.median(drawn.lag_h, axis=1) == pytest.approx(usual_h, rel=0.1)
    assert ((drawn.lag_h > 2 * usual_h[:, None]).mean(axis=1) > 0.2).all(), "the doubt itself stays"
