"""Capacity mow by mow: from mows compared by rest voltage, or from a chain of fits."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from asked_fade import fade_forecast
from yearly_change import yearly_change

from estimator.descriptions import USUAL_CUT_OFF_V, Pack
from estimator.errors import InputError
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.log_share import CAPACITY_WALK
from estimator.fitting.pack.prior import LABEL_STD
from estimator.fitting.seasons.capacity_history import SCALE_LOG_STD, CapacityHistory, capacity_history
from estimator.fitting.seasons.discharge_curves import DischargeCurve, discharge_curve
from estimator.fitting.seasons.fade import fade_series
from estimator.fitting.seasons.measures import CAPACITY, capacity_observed
from estimator.fitting.seasons.relative_capacity import SLOW_LOG_STD, relative_capacity
from estimator.importer.read import read_log

SERIES = 13
SAMPLES = Path(__file__).parents[3] / "sample_logs"


def rest_v(charge: np.ndarray) -> np.ndarray:
    """An invented sloping open-circuit curve of 13 cells."""
    return SERIES * (3.45 + 0.55 * charge + 0.12 * charge**4 + 0.05 * np.tanh(8 * (charge - 0.45)))


def planted(
    capacity_ah: float, depth: float, rng: np.random.Generator, start: float | None = 0.0
) -> DischargeCurve:
    drawn = np.linspace(0.0, depth * capacity_ah, 60)
    gain = 1 + 0.01 * rng.standard_normal()
    off = 0.04 * rng.standard_normal()
    rest = rest_v(1 - drawn / capacity_ah) + off + 0.015 * rng.standard_normal() * np.sin(drawn)
    return DischargeCurve(
        tuple(drawn * gain), tuple(rest), 5.0, 0.1, 0.004, 0.08, 0.001, 0.02, 20.0, 1.0, start
    )  # fmt: skip


def days_of(n: int) -> list[date]:
    return [date(2024, 4, 1) + timedelta(days=14 * k) for k in range(n)]


def test_ratios_between_mows_are_found_and_their_bands_hold() -> None:
    scores, misses = [], []
    for seed in range(25):
        rng = np.random.default_rng(seed)
        true = 10 * np.exp(-0.012 * np.arange(14))
        curves = [planted(c, rng.uniform(0.12, 0.65), rng) for c in true]
        found = relative_capacity(curves, days_of(14), SERIES, 1.0)
        truth = np.log([true[o.place] for o in found])
        weight = np.array([o.log_std for o in found]) ** -2.0
        truth -= np.average(truth, weights=weight)
        error = np.log([o.value for o in found]) - truth
        scores += list(error * np.sqrt(weight))
        misses.append(float(np.sqrt(np.average(error**2, weights=weight))))
    assert np.mean(np.abs(scores) < 1.645) >= 0.85
    assert np.median(misses) < 0.025


def as_uncertain_as_said(capacity_ah: float, depth: float, rng: np.random.Generator) -> DischargeCurve:
    """A mow with the assumed errors: 1.5 % from day to day, 4 mV a cell as a whole, 3 mV a cell in shape,
    drawn again every 0.6 Ah, and what its own curve claims (0.02 V for each of the last two). What neighbours
    share comes on top."""
    drawn = np.linspace(0.0, depth * capacity_ah, 60)
    gain = 1 + 0.015 * rng.standard_normal()
    off = math.hypot(SERIES * 0.004, 0.02) * rng.standard_normal()
    places = np.arange(0.0, depth * capacity_ah + 1.2, 0.6)
    shape = math.hypot(SERIES * 0.003, 0.02) * rng.standard_normal(len(places))
    rest = rest_v(1 - drawn / capacity_ah) + off + np.interp(drawn, places, shape)
    return DischargeCurve(
        tuple(drawn * gain), tuple(rest), 5.0, 0.1, 0.004, 0.08, 0.001, 0.02, 20.0, 1.0, 0.0
    )  # fmt: skip


def test_bands_between_mows_are_neither_too_narrow_nor_too_wide() -> None:
    scores = []
    for seed in range(25):
        rng = np.random.default_rng(seed)
        true = 10 * np.exp(-0.012 * np.arange(14))
        warmth = SLOW_LOG_STD * math.sqrt(2) * np.sin(np.arange(14) / 1.5 + rng.uniform(0, 6))
        curves = [
            as_uncertain_as_said(c * math.exp(w), rng.uniform(0.12, 0.65), rng)
            for c, w in zip(true, warmth, strict=True)
        ]
        found = relative_capacity(curves, days_of(14), SERIES, 1.0)
        weight = np.array([o.log_std for o in found]) ** -2.0
        error = np.log([o.value / true[o.place] for o in found])
        of_two_effects = math.sqrt(14 / 12)  # depth and ratio take up two of fourteen errors
        scores += list(of_two_effects * (error - np.average(error, weights=weight)) * np.sqrt(weight))
    assert len(scores) == 350
    assert 0.87 < np.mean(np.abs(scores) < 1.645) < 0.96
    assert 0.82 < np.std(scores) < 1.12


@pytest.mark.parametrize("loss", [0.0, 0.012])
def test_a_curve_read_lower_at_its_end_makes_no_shallow_mow_a_smaller_pack(loss: float) -> None:
    """Once seen: where every curve ends 1 V too low, as lags make it, shallow mows showed less than deep
    ones: capacities scattered by .074 here and by .12 (nmc) in `tests/worlds`, where it is now .05."""
    scatter, slopes = [], []
    for seed in range(12):
        rng = np.random.default_rng([seed, 4])
        true = 10 * np.exp(-loss * np.arange(16))
        curves = []
        for capacity in true:
            one = planted(capacity, rng.uniform(0.3, 0.9), rng)
            lag = np.linspace(0.0, 1.0, len(one.rest_v)) ** 3
            curves.append(replace(one, rest_v=tuple(np.array(one.rest_v) - lag)))
        error = np.log(
            [o.value / true[o.place] for o in relative_capacity(curves, days_of(16), SERIES, 10.0)]
        )
        scatter.append(float(np.std(error)))
        slopes.append(float(np.polyfit(np.arange(16), error, 1)[0]))
    assert float(np.median(scatter)) < 0.03
    assert abs(float(np.mean(slopes))) < 0.001, "a fade is not taken for depth"


def test_mows_that_draw_the_same_from_a_fading_pack_show_all_of_its_fade() -> None:
    """With one lawn, each mow goes deeper as the pack fades; a pack always emptied gives less and less."""
    for depth in (lambda ah: 5.0 / ah, lambda ah: 0.97):
        faded = []
        for seed in range(8):
            rng = np.random.default_rng([seed, 6])
            true = 10 * np.exp(-0.01 * np.arange(16))
            curves = [planted(ah, depth(ah), rng) for ah in true]
            seen = relative_capacity(curves, days_of(16), SERIES, 10.0)
            faded.append(float(np.polyfit(np.arange(16), np.log([o.value for o in seen]), 1)[0]))
        assert float(np.mean(faded)) == pytest.approx(-0.01, abs=0.0015)


def test_thick_patches_that_end_mows_anywhere_leave_it_to_the_rest_voltage() -> None:
    """Once seen: ten of forty mows ended early in tall grass, scattered by .07, and hid a fade that the other
    thirty showed."""
    rng = np.random.default_rng(9)
    true = 10 * np.exp(-0.01 * np.arange(24))
    curves = [planted(ah, rng.uniform(0.5, 0.9), rng) for ah in true]
    wild = [replace(c, used_ah=tuple(np.array(c.used_ah) * rng.uniform(0.7, 1.3))) for c in curves]
    ends = [k % 3 == 0 for k in range(24)]
    mixed = [w if end else c for c, w, end in zip(curves, wild, ends, strict=True)]
    steady = capacity_history(days_of(24), [9.0] * 24, [0.2] * 24, curves, SERIES, 10.0, [True] * 24)
    found = capacity_history(days_of(24), [9.0] * 24, [0.2] * 24, mixed, SERIES, 10.0, ends)
    assert steady.shown_by == "run down from full" and found.shown_by == "rest voltage"
    assert len(found.observed) == 24 and fade_forecast(found.series(), 5.0).shows_fade


def test_a_deeper_mow_tells_more() -> None:
    rng = np.random.default_rng(1)
    curves = [planted(10.0, depth, rng) for depth in (0.2, 0.3, 0.4, 0.5, 0.6, 0.6)]
    found = relative_capacity(curves, days_of(6), SERIES, 10.0)
    stds = [o.log_std for o in found]
    assert stds == sorted(stds, reverse=True)


def test_flat_curves_and_unknown_starts_tell_nothing() -> None:
    rng = np.random.default_rng(2)
    flat = [
        DischargeCurve(
            tuple(np.linspace(0, 5, 60)), (39.5,) * 60, 5.0, 0.1, 0.004, 0.08, 0.001, 0.02, 20.0, 1.0, 0.0
        )
        for _ in range(5)
    ]
    assert relative_capacity(flat, days_of(5), 12, 10.0) == ()
    lost = [planted(10.0, 0.5, rng, start=None) for _ in range(5)]
    assert relative_capacity(lost, days_of(5), SERIES, 10.0) == ()
    assert relative_capacity([planted(10.0, 0.5, rng)] * 2, days_of(2), SERIES, 10.0) == ()


def kalman(readings: list[float], own_std: float, walk: float) -> tuple[list[float], list[float]]:
    """A textbook scalar Kalman filter on the logarithm, with a prior of 10 Ah known as well as a label."""
    mean, variance, means, stds = math.log(10.0), LABEL_STD**2, [], []
    for k, value in enumerate(readings):
        variance += walk**2 if k else 0.0
        gain = variance / (variance + own_std**2)
        mean, variance = mean + gain * (math.log(value) - mean), (1 - gain) * variance
        means.append(math.exp(mean))
        stds.append(math.exp(mean) * math.sqrt(variance))
    return means, stds


def test_a_filter_gives_its_readings_back() -> None:
    readings = [9.7, 10.2, 9.9, 9.5, 9.8]
    means, stds = kalman(readings, 0.04, CAPACITY_WALK)
    found = capacity_observed(means, stds, days_of(5), 10.0)
    assert [o.value for o in found] == pytest.approx(readings, rel=1e-6)
    assert [o.log_std for o in found] == pytest.approx([0.04] * 5, rel=1e-6)
    assert [o.place for o in found] == [0, 1, 2, 3, 4]


@pytest.mark.parametrize("chemistry", ["nmc", "lfp", "lead_acid"])
def test_a_label_is_no_reading(chemistry: str) -> None:
    """Once seen: a first mow that taught nothing about the pack showed the label's capacity within 10 %."""
    untold = as_fitted(Pack(chemistry, 12, 10.0, 12 * USUAL_CUT_OFF_V[chemistry]))
    assert capacity_observed([untold.capacity_ah], [untold.capacity_std_ah], days_of(1), 10.0) == ()


def test_a_step_that_learnt_nothing_is_left_out() -> None:
    means, stds = kalman([9.7, 9.9], 0.04, CAPACITY_WALK)
    std_grown = means[1] * math.hypot(stds[1] / means[1], CAPACITY_WALK)
    found = capacity_observed([*means, means[1]], [*stds, std_grown], days_of(3), 10.0)
    assert [o.place for o in found] == [0, 1]


def test_history_takes_the_rest_voltage_where_it_tells_and_else_the_fit() -> None:
    rng = np.random.default_rng(5)
    means, stds = kalman([9.9] * 8, 0.04, CAPACITY_WALK)
    curves = [planted(9.9, 0.5, rng) for _ in range(8)]
    by_rest = capacity_history(days_of(8), means, stds, curves, SERIES, 10.0)
    assert by_rest.shown_by == "rest voltage" and 0 < by_rest.scale_std < 0.05
    assert np.exp(np.mean(np.log([o.value for o in by_rest.observed]))) == pytest.approx(9.9, rel=0.01)
    by_fit = capacity_history(days_of(8), means, stds, [None] * 8, SERIES, 10.0)
    assert by_fit.shown_by == "fit" and by_fit.scale_std == SCALE_LOG_STD, "eight fits share their model"
    assert by_fit.series().number.tolist() == [1, 2, 3, 4, 5, 6, 7, 8]
    assert capacity_history(days_of(8), means, stds, [None] * 8, SERIES, 10.0, [True] * 8) == by_fit


def histories_of(loss: float, packs: int = 12) -> list[CapacityHistory]:
    """Ten mows each, all stopped at the cut-off with 1 to 8 % of the charge left."""
    found = []
    for seed in range(packs):
        rng = np.random.default_rng([seed, 3])
        true = 10 * (1 - loss * np.arange(10) / 9)
        curves = [planted(c, rng.uniform(0.92, 0.99), rng) for c in true]
        found.append(capacity_history(days_of(10), true, 0.02 * true, curves, SERIES, 10.0, [True] * 10))
    return found


def test_mows_that_a_thick_patch_stopped_are_held_against_each_other_at_one_rest_voltage() -> None:
    """What they drew scatters by about 2 %; down to one rest voltage, by the clamp's 1 % from mow to mow."""
    scatter = [float(np.std(np.log([one.value for one in each.observed]))) for each in histories_of(0.0)]
    assert {each.shown_by for each in histories_of(0.0, 2)} == {"run down from full"}
    assert float(np.median(scatter)) < 0.017


def test_a_fade_of_some_per_cent_is_shown_and_none_where_there_is_none() -> None:
    """Once seen: most packs that lost a twentieth in twenty mows showed no fade. In `tests/worlds` a last mow
    is named for 32 of 35 that fade (wanted .80) and 4 of 47 that do not (at most .20)."""
    shown = [
        sum(fade_forecast(each.series(), 5.0).shows_fade for each in histories_of(loss, 24))
        for loss in (0.0, 0.05)
    ]
    assert shown[0] <= 6 and shown[1] >= 18


@pytest.mark.parametrize(("usual", "wild"), [(0.01, 0.0), (0.05, 0.0), (0.01, 0.25)])
def test_what_a_mow_claims_is_what_mows_scatter_by(usual: float, wild: float) -> None:
    """Ten mows of a pack that does not fade, each off by `usual` and every fifth by `wild` more."""
    off, called = [], 0
    for seed in range(40):
        rng = np.random.default_rng([seed, 8])
        errors = usual * rng.standard_normal(10)
        errors[seed % 5 :: 5] += wild * rng.choice([-1.0, 1.0], 2)
        whole = [planted(10.0, 0.95, rng) for _ in errors]
        curves = [
            replace(c, used_ah=tuple(math.exp(e) * np.array(c.used_ah)))
            for c, e in zip(whole, errors, strict=True)
        ]
        seen = capacity_history(
            days_of(10), [10.0] * 10, [0.2] * 10, curves, SERIES, 10.0, [True] * 10
        ).observed
        value, std = np.log([one.value for one in seen]), np.array([one.log_std for one in seen])
        off.append(float(np.sqrt(np.mean(((value - value.mean()) / std) ** 2))))
        called += yearly_change(CAPACITY, seen).more_than_noise
    assert 0.75 < float(np.sqrt(np.mean(np.square(off)))) < 1.25
    assert called <= 8, "nominal: four of forty"


def test_no_mows_have_no_history() -> None:
    empty = capacity_history([], [], [], [], SERIES, 10.0)
    assert empty.observed == ()
    with pytest.raises(InputError) as refused:
        empty.series()
    assert str(refused.value) == "no capacity has been seen yet; add mows"


def test_a_mow_whose_start_only_its_voltage_tells_is_no_figure_of_its_own() -> None:
    rng = np.random.default_rng(3)
    curves = [planted(10.0, 0.5, rng, start) for start in (0.0, None, 0.0)]
    found = capacity_history(days_of(3), [9.8, 9.0, 9.1], [0.3, 0.2, 0.15], curves, SERIES, 10.0)
    assert found.shown_by == "fit" and found.mow_number == (1, 3)


def test_a_mow_that_tells_next_to_nothing_is_left_out() -> None:
    """A mow that narrows 10 % to 9.9 % knows the capacity itself to 1/sqrt(1/0.099² - 1/0.1²) = 70 %."""
    assert capacity_observed([12.0], [12.0 * 0.099], days_of(1), 10.0) == ()


def test_sample_pack_against_its_own_truth() -> None:
    """The invented 13-series pack fades by 8.5 % a year; its mows alone show it, each within its own
    uncertainty.
    """
    pack = next(p for p in json.loads((SAMPLES / "orchard.json").read_text())["packs"] if p["series"] == 13)
    truth = {t["mow"]: t for t in csv.DictReader((SAMPLES / "truth" / "mows.csv").read_text().splitlines())}
    curves: list[DischargeCurve] = []
    days, true_ah = [], []
    for line in csv.DictReader((SAMPLES / "mows.csv").read_text().splitlines()):
        if line["pack"] != pack["name"] or not line["start_charge"] or "notes" in line["files"]:
            continue
        log = read_log(*[SAMPLES / name for name in line["files"].split(";")])
        curves.append(discharge_curve(log, 1.0, float(line["temperature_c"])))
        days.append(date.fromisoformat(line["started"][:10]))
        true_ah.append(float(truth[line["mow"]]["capacity_ah"]))
    found = relative_capacity(curves, days, pack["series"], 1.0)
    assert len(found) >= 15
    log_true = np.log([true_ah[o.place] for o in found])
    weight = np.array([o.log_std for o in found]) ** -2.0
    score = (np.log([o.value for o in found]) - log_true + np.average(log_true, weights=weight)) * np.sqrt(
        weight
    )
    assert np.mean(np.abs(score) < 1.645) >= 0.8
    slope = yearly_change(CAPACITY, found)
    yearly = (true_ah[-1] / true_ah[0]) ** (365.25 / (days[-1] - days[0]).days) - 1
    assert slope.more_than_noise and slope.low - 0.01 <= yearly <= slope.high + 0.01
    scale = float(np.exp(np.average(log_true, weights=weight)))
    value = scale * np.array([o.value for o in found])
    number = np.array([o.place + 1 for o in found])
    series = fade_series(number, value, value * np.array([o.log_std for o in found]))
    # By the generator's own formula 10.3·(1 − 0.045·√y − 0.05·y) falls under 6.5 Ah in the year y = 5.31.
    mows_a_year = (number[-1] - 1) / ((days[found[-1].place] - days[0]).days / 365.0)
    crossing = mows_a_year * (5.31 - (days[0] - date(2024, 4, 1)).days / 365.0) + 1
    forecast = fade_forecast(series, 6.5)
    assert forecast.low <= crossing <= forecast.high
    assert forecast.mow == pytest.approx(crossing, rel=0.35)
