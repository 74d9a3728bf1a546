"""Where a log starts, by its first volts, and where the cut-off stopped it: worked out on paper."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from planted_packs import planted_log
from scipy import integrate

from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.fitting.pack import pack_fit, prior, start_charge
from estimator.fitting.pack.fitted_pack import as_fitted, curve_slopes, open_circuit_table
from estimator.fitting.pack.log_grid import Trace, trace_of
from estimator.fitting.pack.log_model import N_JOINT, START, lag_parts, ohmic_part
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_fit import settled
from estimator.fitting.pack.start_charge import Start, _likelihood, met_cut_off, start_of
from estimator.importer.log import Log, MeterError

NMC = as_fitted(Pack("nmc", 13, 10.0, 42.0))
CHARGES = GRID[(GRID >= 0) & (GRID <= 1)]


def laid_out(amps, volts, celsius=25.0, apart_s=60.0, zero_v=0.0) -> Trace:
    n = max(np.size(amps), np.size(volts))
    frame = pd.DataFrame({"time_s": apart_s * np.arange(n), "current_a": amps, "voltage_v": volts})
    return trace_of(Log(frame, error=MeterError(voltage_zero_v=zero_v), longest_step_s=900.0), celsius)


MOW = laid_out(8.0, np.linspace(53.0, 45.0, 30))


@pytest.mark.parametrize(
    ("given", "std", "full"),
    [(1.0, 0.006, True), (0.995, 0.006, True), (0.99, 0.02, False), (0.4, 0.02, False)],
)
def test_a_charge_that_is_given_counts_from_where_the_curve_meets_the_cut_off(given, std, full):
    found = start_of(NMC, MOW, given)
    assert found == Start(1 - (1 - given) * NMC.usable, std, full)
    with pytest.raises(InputError):
        start_of(NMC, MOW, 1.1)


def test_a_start_that_is_given_keeps_an_end_only_where_the_pack_seems_worn():
    """8 A from full: after 6.5 of 10 Ah at the cut-off more than 18 % would be left, after 9.5 less."""
    for hours, worn in ((6.5 / 8, True), (9.5 / 8, False)):
        n = int(hours * 60) + 1
        end = start_of(NMC, laid_out(8.0, np.linspace(53.0, 42.0, n)), 1.0).end
        assert (end is not None) is worn
        if worn:
            assert end.reading == n - 1
    half = laid_out(8.0, np.linspace(49.0, 42.0, int(1.6 / 8 * 60) + 1))
    assert start_of(NMC, half, 0.5).end is not None and start_of(NMC, half, 0.15).end is None


def test_the_resistance_is_what_volts_follow_the_amps_by_in_the_minute_before():
    """0.3 ohm for a minute while the volts sink by 1 V; 0.1 ohm before it counts no more."""
    amps = np.array([5.0, 9.0] * 60)
    volts = 50.0 - np.where(np.arange(120) < 59, 0.1, 0.3) * amps - np.arange(120) / 60
    trace = laid_out(amps, volts, apart_s=1.0)
    assert start_charge.shown_ohm(trace, 119) == pytest.approx(0.3, rel=0.01)
    assert start_charge.shown_ohm(trace, 40) == pytest.approx(0.1, rel=0.05)
    assert start_charge.shown_ohm(laid_out(5.0, volts, apart_s=1.0), 119) == 0.0, "steady amps tell nothing"


@pytest.mark.parametrize("seed", range(3))
def test_a_peak_that_a_sound_pack_does_not_carry_is_no_sign_that_it_is_worn(seed):
    log, truth = planted_log(np.random.default_rng(seed), ohm=0.4, cut_off_v=42.0)
    assert truth[-1] > 0.6, "thick grass stopped the motor long before the pack was empty"
    found = pack_fit.fit_pack([log], Pack("nmc", 13, 10.0, 42.0), [1.0])
    assert found.by_its_label and abs(found.capacity_ah - 10.0) < 1.645 * found.capacity_std_ah


def test_a_worn_pack_of_usual_resistance_is_still_found():
    log, truth = planted_log(np.random.default_rng(1), ohm=0.12, capacity_ah=6.5)
    assert truth[-1] < 0.05
    found = pack_fit.fit_pack([log], Pack("nmc", 13, 10.0, 39.0), [1.0])
    assert found.capacity_ah == pytest.approx(6.5, rel=0.03)


def start_by(monkeypatch, likely) -> Start:
    monkeypatch.setattr(start_charge, "_likelihood", lambda *_: np.asarray(likely, float))
    return start_of(NMC, MOW, None)


FULL = Start(1.0, 0.006, True, share=0.5)


def test_first_volts_that_only_a_full_pack_shows_are_those_of_a_full_pack(monkeypatch):
    assert start_by(monkeypatch, np.exp(-0.5 * ((1 - CHARGES) / 0.003) ** 2)) == FULL
    # one peak beside full, eight times as likely there as on the whole: full as well
    assert start_by(monkeypatch, np.exp(-0.5 * ((0.99 - CHARGES) / 0.05) ** 2)) == FULL


@pytest.mark.parametrize(("likelier", "surely"), [(1.0, False), (3.8, False), (4.3, True), (8.0, True)])
def test_a_full_pack_four_times_as_likely_as_any_other_start_counts_as_full(monkeypatch, likelier, surely):
    """The rest is 1 on average over all charges: searched from full, and from seven quantiles of the rest."""
    rest = np.where(0.93 - 0.07 * (likelier - 1) > CHARGES, 1.0, 0.0)
    found = start_by(monkeypatch, np.where(CHARGES > 0.93, likelier, rest))
    assert found.full is surely and len(found.tries) == 8
    first, *rest = found.tries
    assert first == replace(FULL, full=surely, readings_of_all=30.0)
    assert {(one.charge, one.std, one.full, one.share, one.readings_of_all) for one in rest} == {
        (0.5, 0.35, False, 0.5, 30.0)
    }


def test_searches_begin_at_seven_quantiles_of_what_is_likely(monkeypatch):
    found = start_by(monkeypatch, np.ones(len(CHARGES)))
    begins = [one.begin for one in found.tries[1:]]
    assert begins == pytest.approx([0.03, 0.15, 0.30, 0.50, 0.70, 0.85, 0.97], abs=0.006)
    assert found.tries[0].begin is None


def test_volts_that_no_full_pack_shows_are_searched_from_all_other_charges(monkeypatch):
    found = start_by(monkeypatch, CHARGES < 0.8)
    assert not found.full and len(found.tries) == 7 and found.begin == found.tries[0].begin
    assert found.share == 0.5 and found.end is None


@pytest.mark.parametrize(("width", "one_peak"), [(0.10, True), (0.13, False)])
def test_one_peak_is_searched_once_and_not_believed(monkeypatch, width, one_peak):
    found = start_by(monkeypatch, np.exp(-0.5 * ((CHARGES - 0.5) / width) ** 2))
    assert (not found.tries) is one_peak
    if one_peak:
        assert found == Start(0.5, 0.35, False, 1.0, pytest.approx(0.5), (), 30.0, None)


@pytest.mark.parametrize(
    ("full", "found", "settled_as"),
    [
        (True, 0.986, Start(1.0, 0.006, True)),  # within two and a half times 0.6 %
        (True, 0.984, Start(0.5, 0.35, False, begin=0.984)),
        (False, 0.990, Start(0.5, 0.35, False, begin=0.990)),
    ],
)
def test_one_of_several_starts_is_settled_by_its_own_log(monkeypatch, full, found, settled_as):
    """Before several logs are fitted at once, each begins where its own fit says."""
    tries = (FULL, Start(0.5, 0.35, False, begin=0.2), Start(0.5, 0.35, False, begin=0.7))
    mean = np.zeros(N_JOINT)
    mean[START] = found
    monkeypatch.setattr(pack_fit, "fit_log", lambda *_: SimpleNamespace(mean=mean))
    assert settled(NMC, MOW, replace(FULL, full=full, tries=tries)) == settled_as
    assert settled(NMC, MOW, FULL) is FULL


def curve_std(charge: float) -> float:
    """One cell's curve: 10 mV about its family and the family's own modes, at one charge."""
    at = np.array([np.interp(charge, GRID, each) for each in curve_slopes(NMC).T])
    places = [*range(*prior.CURVE.indices(99)), *range(*prior.FAMILY.indices(99))]
    return float(np.sqrt(at @ NMC.covariance[np.ix_(places, places)] @ at))


@pytest.mark.parametrize(("amps", "zero_v"), [(0.0, 0.0), (0.0, 0.65), (6.0, 0.0)])
def test_volts_are_as_likely_as_curve_meter_and_sag_allow(amps, zero_v):
    """Rest within 20 mV a cell, the meter's zero over the cells, the curve, and a sag known to a factor."""
    rest_v = 13 * 3.75
    trace = laid_out(
        [30.0, amps, 20.0, 20.0, 20.0, 0.0], [40.0, rest_v, 41.0, 41.0, 41.0, 52.0], 10.0, zero_v=zero_v
    )
    for charge in (0.4, 0.55, 0.7):
        spread = np.sqrt(0.02**2 + (zero_v / 13) ** 2 + curve_std(charge) ** 2)
        emf = float(np.interp(charge, GRID, open_circuit_table(NMC, NMC.mean)))
        ohm = float(np.interp(charge, GRID, prior.resistance_table(NMC.mean)[0]))
        part = ohmic_part(NMC.mean, 13, np.array([ohm]), np.array([10.0]), np.array([amps]))
        middle = prior.OHMIC.start + 4
        std = np.sqrt(NMC.covariance[middle, middle] + 0.1**2)

        def of(unit, emf=emf, sag=float(part.sag_v[0]) / 13, spread=spread, std=std):
            off = (rest_v / 13 - emf + sag * np.exp(std * unit)) / spread
            return np.exp(-0.5 * off**2 - 0.5 * unit**2) / np.sqrt(2 * np.pi)

        expected = integrate.quad(of, -5, 5)[0] / spread * 0.02
        place = int(np.argmin(np.abs(CHARGES - charge)))
        assert _likelihood(NMC, trace, CHARGES)[place] == pytest.approx(expected, rel=0.01, abs=1e-9)


@pytest.mark.parametrize(("celsius", "amps"), [(25.0, 10.0), (5.0, 10.0), (25.0, 3.0)])
def test_the_charge_at_the_cut_off_is_that_of_volts_and_sag_on_the_curve_and_the_lag(celsius, amps):
    """After an hour at one current both pairs and the slower lags have settled, but for those of 15 min."""
    trace = laid_out(amps, np.r_[np.full(59, 48.0), 42.2], celsius)
    end = met_cut_off(NMC, trace)
    mean, own_ah = NMC.mean, 10.0 / NMC.usable
    ohmic, quick = (float(np.interp(0.05, GRID, each)) for each in prior.resistance_table(mean))
    part = ohmic_part(mean, 13, np.array([ohmic]), np.array([celsius]), np.array([amps]))
    warm = float(prior.arrhenius(celsius, 2.3))
    sag = (float(part.sag_v[0]) + warm * quick * amps * 1.15) / 13
    curve = open_circuit_table(NMC, mean)
    surface = float(np.interp(42.2 / 13 + sag, curve, GRID))
    rates = (amps / own_ah) * (1 - np.exp(-3540 / np.array([[6.0], [30.0], [150.0], [900.0]])))
    lag = float(lag_parts(mean, False, np.array([surface]), np.array([celsius]), rates).sum())
    assert end.reading == 59 and end.charge == pytest.approx(surface + lag, rel=1e-4)
    slope = float(np.interp(surface, GRID, np.gradient(curve, 0.005)))
    doubt = np.hypot(curve_std(surface), 0.3 * sag) / slope
    assert end.std == pytest.approx(np.sqrt(0.03**2 + doubt**2 + (lag / 2) ** 2), rel=1e-3)


@pytest.mark.parametrize(("volts", "met"), [(42.4, True), (42.45, False)])
def test_the_cut_off_counts_as_met_up_to_a_hundredth_above_it(volts, met):
    assert (met_cut_off(NMC, laid_out(8.0, np.r_[np.full(20, 48.0), volts])) is not None) is met


@pytest.mark.parametrize(("back", "met"), [(1, True), (3, True), (4, False)])
def test_the_cut_off_ends_a_log_in_its_last_three_readings_under_load(back, met):
    volts = np.full(20, 48.0)
    volts[-back] = 41.0
    end = met_cut_off(NMC, laid_out(np.r_[np.full(20, 8.0), 0.0, 0.0], np.r_[volts, 50.0, 50.0]))
    assert (end is not None) is met
    assert not met or end.reading == 20 - back
