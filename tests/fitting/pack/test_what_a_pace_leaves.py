"""What a pace of mowing leaves in a pack, the cut-off's share, and the usual pace, worked out on paper."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest
from planted_packs import holding

from estimator.descriptions import Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.circuit import peukert_lag
from estimator.fitting.pack.fitted_pack import (
    CURVE_AND_FAMILY,
    FittedPack,
    aged,
    as_fitted,
    assemble,
    charge_at_cut_off,
    curve_apart,
    curve_slopes,
    given_at_pace,
    left_at_pace,
    open_circuit_table,
    usable_slopes,
)
from estimator.fitting.pack.joint_fit import LogFit
from estimator.fitting.pack.log_facts import (
    pace_after,
    stop_after,
    stopped_by_battery,
    sure_down_to_stop,
)
from estimator.fitting.pack.log_grid import Pace
from estimator.fitting.pack.log_model import START, ZERO_A
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_fit import fit_of_log
from estimator.fitting.warmth import Warming
from estimator.importer.log import Log

NMC = as_fitted(Pack("nmc", 13, 10.0, 42.0))
ACID = as_fitted(Pack("lead_acid", 12, 20.0, 22.0))


@pytest.mark.parametrize("pace", [Pace(0.3, 0.8, 25.0), Pace(1.0, 2.0, 25.0), Pace(0.5, 1.5, 0.0)])
def test_left_is_what_the_peak_makes_of_the_curve_and_the_mean_of_the_lag(pace):
    """The charge, coming from full, where the curve less the sag of ohmic part and pairs meets the cut-off;
    the mean charge lies above that of the surface by the lag; of all this what is not usable at all."""
    mean = NMC.mean
    own_ah = 10.0 / NMC.usable
    warm = prior.arrhenius(pace.temperature_c, mean[prior.ACTIVATION_OHM])
    ohmic, quick = prior.resistance_table(mean)
    sag = own_ah * warm * (pace.peak_c * (ohmic + quick) + pace.mean_c * 0.15 * quick)
    loaded = 13 * open_circuit_table(NMC, mean) - sag
    surface = next(c for c, v in zip(GRID[::-1], loaded[::-1], strict=True) if v <= 42.0)
    shape = float(np.exp(np.interp(surface, GRID, prior.lag_basis() @ mean[prior.LAG_SHAPE])))
    lag = 100.0 * shape * pace.mean_c / 3600 * float(prior.arrhenius(pace.temperature_c, 3.0))
    left = (surface + lag - (1 - NMC.usable)) / NMC.usable
    assert 0.0 < left < 0.9
    assert left_at_pace(NMC, pace) == pytest.approx(left, rel=1e-6)


def test_lead_acid_leaves_peukerts_share_and_more_in_the_cold():
    pace = Pace(0.3, 0.301, 10.0)
    colder = float(prior.arrhenius(10.0, 5.2))
    gentle = left_at_pace(ACID, Pace(0.3, 0.0, 10.0))  # no peak: what Peukert's law leaves, by itself
    law = float(peukert_lag(np.array(0.3 * colder), 1.175))
    slow = float(
        GRID[(12 * open_circuit_table(ACID, ACID.mean) - sag_of(ACID, 0.3, 0.0, 10.0)) <= 22.0].max()
    )
    assert gentle == pytest.approx((slow + law - (1 - ACID.usable)) / ACID.usable, abs=1e-6)
    assert left_at_pace(ACID, pace) > gentle


def sag_of(pack: FittedPack, mean_c: float, peak_c: float, celsius: float) -> np.ndarray:
    ohmic, quick = prior.resistance_table(pack.mean)
    warm = prior.arrhenius(celsius, pack.mean[prior.ACTIVATION_OHM])
    own_ah = pack.rated.capacity_ah / pack.usable
    return own_ah * warm * (peak_c * (ohmic + quick) + mean_c * np.exp(pack.mean[prior.SLOW]) * quick)


def test_nothing_is_left_by_no_load_and_at_most_nine_tenths_by_any():
    assert left_at_pace(NMC, Pace(0.0, 0.0, 25.0)) == pytest.approx(0.0, abs=0.006)
    assert left_at_pace(NMC, Pace(5.0, 60.0, 0.0)) == 0.9
    assert given_at_pace(NMC, Pace(5.0, 60.0, 0.0)) == pytest.approx(0.7)
    assert given_at_pace(ACID, Pace(5.0, 60.0, 0.0)) == pytest.approx(0.1)


def test_what_a_mow_gave_counts_at_its_own_pace_and_never_over_all():
    hard, soft = Pace(0.8, 1.6), Pace(0.02, 0.04)
    left = left_at_pace(NMC, hard)
    assert given_at_pace(NMC, hard) == pytest.approx(1 - left)
    assert given_at_pace(NMC, replace(hard, gave=0.9, left=left)) == pytest.approx(0.9)
    assert given_at_pace(NMC, replace(soft, gave=0.99, left=left)) == 1.0
    more = (1 - left_at_pace(NMC, soft)) / (1 - left)
    assert given_at_pace(NMC, replace(soft, gave=0.5, left=left)) == pytest.approx(0.5 * min(more, 1.05))
    assert given_at_pace(NMC, replace(hard, gave=0.9, left=0.0)) == pytest.approx(0.9 * max(1 - left, 0.95))
    acid_left = left_at_pace(ACID, Pace(0.5, 1.0))
    assert given_at_pace(ACID, Pace(0.5, 1.0, gave=0.8, left=0.5)) == pytest.approx(
        min(0.8 * (1 - acid_left) / 0.5, 1.0)
    ), "lead-acid by the whole of what its law says"


@pytest.mark.parametrize("place", [prior.CAPACITY, prior.CURVE.start + 2, prior.FAMILY.start, prior.SLOW])
def test_usable_charge_changes_with_the_curve_as_differences_say(place):
    """Where the curve is steep at the cut-off, as it is at 3.23 V a cell."""

    def log_usable(mean):
        return mean[prior.CAPACITY] + np.log(1 - charge_at_cut_off(NMC, mean))

    step = np.where(np.arange(len(NMC.mean)) == place, 1e-4, 0.0)
    by_difference = (log_usable(NMC.mean + step) - log_usable(NMC.mean - step)) / 2e-4
    assert usable_slopes(NMC, NMC.mean)[place] == pytest.approx(by_difference, rel=0.15, abs=1e-6)


def test_a_flat_curve_at_the_cut_off_moves_the_charge_there_by_half_a_volt_a_unit_at_least():
    flat = as_fitted(Pack("lfp", 10, 10.0, 32.9))
    left = charge_at_cut_off(flat, flat.mean)
    basis = np.array([np.interp(left, GRID, each) for each in curve_slopes(flat).T])
    assert usable_slopes(flat, flat.mean)[CURVE_AND_FAMILY] == pytest.approx(basis / 0.5 / (1 - left))


def test_capacity_at_the_cut_off_is_that_of_the_label_and_of_the_parameters():
    mean = NMC.mean.copy()
    mean[prior.CAPACITY] = np.log(0.9)
    pack = assemble(NMC.rated, mean, NMC.covariance, usable=0.8, logs=3, chemistry="lfp")
    assert pack.capacity_ah == pytest.approx(7.2) and pack.chemistry == "lfp" and pack.logs == 3
    assert pack.resistance_ohm == pytest.approx(0.13) and pack.rated is NMC.rated
    assert NMC.capacity_ah == pytest.approx(10.0) and NMC.chemistry == "nmc" and NMC.logs == 0


def test_how_far_a_curve_is_off_is_counted_in_its_own_uncertainties():
    """Three of them along the first of its principal curves, whose variance is 1: nine."""
    prior_only = replace(NMC, covariance=prior.prior_covariance(NMC.rated))
    moved = NMC.mean.copy()
    moved[prior.FAMILY.start] += 3.0
    moved[prior.SLOW] += 9.0
    assert curve_apart(prior_only, moved) == pytest.approx(9.0)


@pytest.mark.parametrize(("known", "share"), [(1.0, 1.0), (0.5, 0.25), (2.0, 1.0)])
def test_age_counts_less_where_hand_readings_said_more_than_the_label(known, share):
    """Four years: a tenth lost, give or take six hundredths; by (std/label's)² of it, and all of it
    where hand readings of a battery that ran out leave more doubt than a label."""
    rated = replace(NMC.rated, first_year=2021)
    pack = replace(NMC, rated=rated, covariance=known**2 * NMC.covariance)
    day = date(2025, 7, 1)
    old = aged(pack, day)
    assert old.mean[prior.CAPACITY] - NMC.mean[prior.CAPACITY] == pytest.approx(-0.1 * share, rel=1e-3)
    assert old.capacity_ah == pytest.approx(10 * np.exp(-0.1 * share), rel=1e-3)
    wider = old.covariance - pack.covariance
    assert wider[prior.CAPACITY, prior.CAPACITY] == pytest.approx((0.06 * share) ** 2, rel=1e-2)
    assert np.count_nonzero(wider) == 1 and old.last_day == day
    assert aged(replace(pack, logs=1), day).mean is pack.mean
    assert aged(replace(pack, last_day=day), day).mean is pack.mean


def test_a_pack_comes_back_from_plain_numbers_as_it_was():
    warming = Warming((1.0, 2.0), (0.1, 0.02, 0.3))
    known = replace(
        NMC, logs=4, last_day=date(2031, 5, 1), warming=warming, chemistry="nca",
        pace=Pace(0.4, 0.9, 12.0, 0.93, 0.05, 33.0),
    )  # fmt: skip
    again = FittedPack.from_plain(known.as_plain())
    for name in ("rated", "chemistry", "usable", "pace", "logs", "last_day", "warming", "capacity_ah"):
        assert getattr(again, name) == getattr(known, name), name
    assert np.array_equal(again.mean, known.mean) and np.array_equal(again.covariance, known.covariance)
    assert FittedPack.from_plain(replace(known, last_day=None).as_plain()).last_day is None


@pytest.fixture(scope="module")
def fit() -> LogFit:
    """A quarter of an hour at 8 A, then at 16 A."""
    time_s = np.arange(0.0, 1800.0, 5.0)
    amps = np.where(time_s < 900, 8.0, 16.0)
    volts = np.linspace(53.5, 46.0, len(time_s))
    frame = pd.DataFrame({"time_s": time_s, "current_a": amps, "voltage_v": volts, "temperature_c": 15.0})
    return fit_of_log(Log(frame), NMC.rated, 1.0).found


def but(fit: LogFit, start=1.0, start_std=0.006, zero_a=0.0, ended=False) -> LogFit:
    mean, covariance = fit.mean.copy(), fit.covariance.copy()
    mean[START], mean[ZERO_A], covariance[START, START] = start, zero_a, start_std**2
    return replace(fit, mean=mean, covariance=covariance, ended=ended)


def test_the_usual_pace_takes_its_share_of_mean_and_peak_and_warmth(fit):
    own_ah = 10.0 * np.exp(fit.pack_mean[prior.CAPACITY])
    before = Pace(1.0, 2.0, 25.0, passed_a=11.0)
    whole, third = (pace_after(but(fit, 0.5), NMC, before, share) for share in (1.0, 0.3))
    assert whole.mean_c == pytest.approx(12.0 / own_ah, rel=0.01)
    assert whole.peak_c == pytest.approx(16.0 / own_ah, rel=0.01)
    assert whole.temperature_c == pytest.approx(15.0)
    for name in ("mean_c", "peak_c", "temperature_c"):
        expected = 0.7 * getattr(before, name) + 0.3 * getattr(whole, name)
        assert getattr(third, name) == pytest.approx(expected), name
    assert third.passed_a == pytest.approx(16.0)
    assert pace_after(but(fit), NMC, replace(before, passed_a=40.0), 0.3).passed_a == 40.0


def down_to(fit: LogFit, surface: float, ran_out=True, met=False, chemistry="nmc") -> LogFit:
    """A log whose surface charge fell to this; the battery stopped it, or the cut-off did, or nobody."""
    volts = np.where(np.arange(len(fit.surface)) < len(fit.surface) - 1, 46.0, 42.0 if met else 45.0)
    trace = replace(fit.trace, ran_out=ran_out, voltage_v=volts)
    fitted = replace(fit.fitted, chemistry=chemistry)
    return replace(
        fit, trace=trace, fitted=fitted, surface=np.linspace(0.9, surface, len(volts)), ended=False
    )


@pytest.mark.parametrize(
    ("surface", "how", "before", "stops_at"),
    [
        (0.3, {}, 0.0, 0.3),
        (0.3, {}, 0.5, 0.3),
        (0.95, {}, 0.0, 0.8),  # the highest charge that may be called empty
        (-0.1, {}, 0.2, 0.0),
        (0.46, {"ran_out": False}, 0.5, 0.46),  # it went on a little below
        (0.44, {"ran_out": False}, 0.5, 0.0),  # and so far that something else stopped it
        (0.3, {"ran_out": False}, 0.2, 0.2),
        (0.3, {"met": True}, 0.0, 0.0),  # that was the cut-off
        (0.3, {"chemistry": "lead_acid"}, 0.0, 0.0),  # in which nothing stops a motor
    ],
)
def test_a_battery_stops_the_motor_where_it_last_did_and_no_higher_than_a_mow_went_on(
    fit, surface, how, before, stops_at
):
    assert stop_after(down_to(fit, surface, **how), before) == pytest.approx(stops_at)
    assert stopped_by_battery(down_to(fit, surface, **how)) is (not how)
    assert not stopped_by_battery(replace(down_to(fit, surface), ended=True))


@pytest.mark.parametrize(
    ("start", "start_std", "known"), [(0.5, 0.02, 0.04), (1.0, 0.9, 0.07), (0.01, 0.001, 0.02)]
)
def test_what_a_battery_gave_until_it_stopped_the_motor_is_known_by_its_start(fit, start, start_std, known):
    """2 % of a half are 4 %; no less is known than before, here 7 %; its weak cell adds 5 % in any case."""
    told = down_to(but(fit, start, start_std), 0.3)
    told = replace(told, pack_covariance=NMC.covariance * (0.07**2 / NMC.covariance[0, 0]))
    sure = sure_down_to_stop(told, 0.3)
    assert np.sqrt(sure[prior.CAPACITY, prior.CAPACITY]) == pytest.approx(np.hypot(known, 0.05))
    before = told.pack_covariance
    along = before[prior.CAPACITY] / before[prior.CAPACITY, prior.CAPACITY]
    assert sure[prior.CAPACITY] == pytest.approx(along * sure[0, 0]), "all that went with it still does"
    assert sure - np.outer(along, along) * sure[0, 0] == pytest.approx(
        before - np.outer(along, along) * before[0, 0], abs=1e-12
    )
    free = down_to(but(fit, start, start_std), 0.3, ran_out=False)
    assert sure_down_to_stop(free, 0.0) is free.pack_covariance
    weak = replace(free, fitted=replace(free.fitted, stops_at=0.4))
    assert sure_down_to_stop(weak, 0.4) is weak.pack_covariance
    assert sure_down_to_stop(weak, 0.0)[0, 0] == pytest.approx(prior.LABEL_STD**2 + 0.05**2)


def test_a_pack_that_stops_by_itself_leaves_at_least_what_it_stops_at():
    weak = replace(NMC, stops_at=0.4, usable=0.6)
    gentle = Pace(0.01, 0.01, 25.0)
    lag = 100.0 * np.exp(np.interp(0.4, GRID, prior.lag_basis() @ NMC.mean[prior.LAG_SHAPE])) * 0.01 / 3600
    assert left_at_pace(weak, gentle) == pytest.approx(lag / 0.6, rel=1e-3)
    assert left_at_pace(replace(weak, stops_at=0.0), Pace(0.0, 0.0)) == 0.0
    assert FittedPack.from_plain(weak.as_plain()).stops_at == 0.4


@pytest.mark.parametrize(
    ("start", "start_std", "ended", "counts"),
    [
        (1.0, 0.006, True, True),
        (0.986, 0.0149, True, True),
        (0.984, 0.006, True, False),
        (1.0, 0.0151, True, False),
        (1.0, 0.006, False, False),
    ],
)
def test_what_a_mow_from_full_gave_is_a_fact_where_the_cut_off_ended_it(fit, start, start_std, ended, counts):
    """Full to two and a half times 0.6 %: 6 Ah of 10, and half an hour at a zero of 0.2 A, that is 5.9."""
    pace = pace_after(but(fit, start, start_std, 0.2, ended), NMC, Pace(gave=0.97, left=0.01), 1.0)
    own = Pace(pace.mean_c, pace.peak_c, 15.0)
    if counts:
        assert pace.gave == pytest.approx(0.59, rel=0.01)
        assert pace.left == pytest.approx(left_at_pace(NMC, own))
    else:
        assert (pace.gave, pace.left) == (0.97, 0.01)


def test_a_mow_that_drew_more_than_it_could_shows_that_the_pack_gives_it(fit):
    small = holding(NMC, 6.1)
    assert given_at_pace(small, Pace(1.2, 1.6, 15.0)) < 6.0 / 6.1
    assert pace_after(but(fit), small, Pace(), 1.0).gave == pytest.approx(6.0 / 6.1, rel=0.01)
