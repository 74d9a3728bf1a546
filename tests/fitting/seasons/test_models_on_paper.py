"""Models of seasons against the same models written out in full, and their small steps by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from estimator.fitting.seasons import fade
from estimator.fitting.seasons.capacity_history import CapacityHistory, _drawn_ah, _run_down, _trend_std
from estimator.fitting.seasons.comparisons import GroupChange, _change, _with_sentence
from estimator.fitting.seasons.discharge_curves import DischargeCurve, voltage_at, voltage_std_at
from estimator.fitting.seasons.fade import FadeSeries, _members, _thinned, _walk, fade_draws, fade_series
from estimator.fitting.seasons.mean_curve import curve_spread, mean_curve
from estimator.fitting.seasons.measures import CAPACITY, ENERGY, Observed
from estimator.fitting.seasons.relative_capacity import (
    _alike,
    _common_curve,
    _each_mow,
    _Laid,
    _lay,
    _Own,
)
from estimator.fitting.seasons.season_curves import _change as curve_change
from estimator.fitting.seasons.spline_basis import spline_basis

X = np.array([1.0, 2.0, 4.0, 8.0, 9.0])
Y = np.array([1.01, 1.0, 0.985, 0.99, 0.97])
VAR = np.array([1e-5, 4e-5, 1e-5, 2e-5, 1e-5])


def fade_in_full(bend: float, fades_in: float, size: float, noise: float) -> tuple[np.ndarray, ...]:
    """Mean and covariance of (new capacity, loss so far, excursion now, readings) before any reading:
    capacity about the median of the first five ± 0.15, a loss of 0.0004 ± 0.002 a mow (and ± 0.01), an
    excursion that dies away, and the readings' own errors."""
    span = X[-1]
    worn = (X / span) ** bend
    design = np.zeros((3 + len(X), 2 + len(X)))
    design[0, 0] = design[1, 1] = design[2, -1] = 1.0
    design[3:, 0], design[3:, 1], design[3:, 2:] = 1.0, -worn, np.eye(len(X))
    kernel = size**2 * np.exp(-np.abs(X[:, None] - X) / fades_in)
    before = np.zeros((2 + len(X),) * 2)
    before[0, 0], before[1, 1] = 0.15**2, (0.002 * span) ** 2 + 0.01**2
    before[2:, 2:] = kernel
    mean = design @ np.array([np.median(Y[:5]), 0.0004 * span, *np.zeros(len(X))])
    covariance = design @ before @ design.T
    covariance[3:, 3:] += np.diag(VAR + noise**2)
    return mean, covariance


def test_candidates_of_a_fade_weigh_as_their_likelihood_and_are_conditioned_as_a_normal_law() -> None:
    """Every combination of bend, excursion and noise: its weight is its prior times the normal density of the
    readings; level and loss follow by conditioning (Bishop 2006, 2.3.1), and the excursion given them."""
    members = _members(X, Y, VAR)
    logs, found = [], []
    for fades_in in fade.EXCURSION_MOWS:
        for size in fade.EXCURSIONS:
            for noise in fade.NOISES:
                for bend in fade.BENDS:
                    mean, covariance = fade_in_full(bend, fades_in, size, noise)
                    likely = multivariate_normal(mean[3:], covariance[3:, 3:]).logpdf(Y)
                    prior = NormalDist(0, 0.30).pdf(math.log(bend)) * NormalDist(0, 1.2).pdf(
                        math.log(size / 0.008)
                    )
                    logs.append(likely + math.log(prior))
                    found.append((bend, size, fades_in, noise))
    weight = np.exp(np.array(logs) - max(logs))
    weight /= weight.sum()
    kept = [k for k, each in enumerate(weight) if each > 1e-5]
    assert [member.weight for member in members] == pytest.approx(weight[kept].tolist(), rel=1e-6)
    for member, k in list(zip(members, kept, strict=True))[::7]:
        bend, size, fades_in, noise = found[k]
        assert (member.bend, member.excursion, member.fades_in) == (bend, size, fades_in)
        mean, covariance = fade_in_full(bend, fades_in, size, noise)
        gain = covariance[:3, 3:] @ np.linalg.inv(covariance[3:, 3:])
        after = mean[:3] + gain @ (Y - mean[3:])
        left = covariance[:3, :3] - gain @ covariance[3:, :3]
        assert member.mean == pytest.approx(after[:2], rel=1e-6)
        assert member.root @ member.root.T == pytest.approx(left[:2, :2], rel=1e-6, abs=1e-12)
        # the excursion now, given level and loss
        slope = left[2, :2] @ np.linalg.inv(left[:2, :2])
        assert member.state_gain == pytest.approx(slope, abs=1e-6)
        assert member.state_offset + member.state_gain @ after[:2] == pytest.approx(after[2], abs=1e-8)
        assert member.state_std**2 == pytest.approx(left[2, 2] - slope @ left[:2, 2], rel=1e-4, abs=1e-9)


def test_a_first_mow_leaves_the_loss_that_is_believed_of_one_mow() -> None:
    for number, loss in ((1.0, 0.0004), (5.0, 0.0020)):
        members = _members(np.array([number]), np.array([1.0]), np.array([1e-5]))
        assert [member.mean[1] for member in members] == pytest.approx([loss] * len(members), rel=0.05)


def test_a_walk_ahead_is_the_curve_and_an_excursion_that_dies_away() -> None:
    """From 10 lost by 0.1 over 9 mows as the root of use, and an excursion of 0.02 that falls to 1/e in ten
    mows while new ones of 0.05 come."""
    member = fade._Member(1.0, np.zeros(2), np.eye(2), 0.5, 0.05, 10.0, np.array([0.0, 0.1]), 0.01, 0.0)
    n = 40_000
    ahead = 9.0 + np.array([0.0, 1.0, 2.0, 3.0])
    drawn = _walk(member, np.tile([1.0, 0.1], (n, 1)), ahead, 9.0, np.random.default_rng(1))
    curve = 1.0 - 0.1 * np.sqrt(ahead / 9.0)
    away = np.exp(-np.arange(4) / 10.0)
    assert drawn.mean(axis=0) == pytest.approx(curve + 0.02 * away, abs=1e-3)
    assert drawn.std(axis=0) == pytest.approx(0.05 * np.sqrt(1 - away**2), rel=0.02, abs=1e-9)
    gaining = _walk(member, np.tile([1.0, -0.1], (5, 1)), ahead[:1], 9.0, np.random.default_rng(1))
    assert gaining[:, 0] == pytest.approx([1.0] * 5), "a pack does not grow: no loss, and an excursion of 0"


@pytest.mark.parametrize("n", [120, 121, 300])
def test_long_histories_keep_their_latest_forty_and_average_what_came_before(n: int) -> None:
    values = np.arange(float(n))
    thin = _thinned(values)
    assert len(thin) == 120 and thin[-40:].tolist() == values[-40:].tolist()
    sizes = np.array([len(each) for each in np.array_split(values[:-40], 80)])
    assert sizes @ thin[:80] == pytest.approx(values[:-40].sum()) and np.all(np.diff(thin) > 0)


def test_a_shared_error_scales_all_futures_alike() -> None:
    seen = fade_series([1, 2, 3, 4], [10.0, 9.9, 10.1, 10.0], 0.05, 0.04)
    alone = fade_draws(FadeSeries(seen.number, seen.capacity_ah, seen.std_ah, 0.0), horizon=3)
    shared = fade_draws(seen, horizon=3)
    factor = shared.capacity_ah / alone.capacity_ah
    assert np.ptp(factor, axis=1) == pytest.approx(np.zeros(2000), abs=1e-9)
    assert np.log(factor[:, 0]).std() == pytest.approx(0.04, rel=0.05)
    assert shared.mows.tolist() == [4.0, 5.0, 6.0, 7.0] and shared.faded.tolist() == alone.faded.tolist()


@pytest.mark.parametrize(
    ("numbers", "fine"), [([1, 2, 3], True), ([1, 2, 2], False), ([1, 3, 2], False), ([1, 2], False)]
)
def test_mow_numbers_must_rise_with_the_capacities(numbers: list[int], fine: bool) -> None:
    if fine:
        assert fade_series(numbers, [10.0, 9.9, 9.8]).std_ah.tolist() == [0.0] * 3
    else:
        with pytest.raises(Exception, match="mow numbers do not rise with the capacities"):
            fade_series(numbers, [10.0, 9.9, 9.8])


def curve(rest_v: list[float], reach_ah: float, start_ah: float = 0.0, **more: Any) -> DischargeCurve:
    known = {
        "load_a": 5.0, "resistance_ohm": 0.13, "resistance_std_ohm": 0.01, "quick_ohm": 0.1,
        "quick_std_ohm": 0.002, "line_std_v": 0.02, "temperature_c": 20.0, "temperature_std_c": 3.0,
        "start_ah": start_ah, "start_std_ah": 0.05,
    }  # fmt: skip
    drawn = np.linspace(0.0, reach_ah, len(rest_v))
    return DischargeCurve(tuple(drawn.tolist()), tuple(rest_v), **{**known, **more})


def test_a_mean_curve_is_that_of_all_mows_and_their_offsets_at_once() -> None:
    """The same penalised least squares with every mow's offset as an unknown of its own."""
    curves = [
        curve([54.0, 53.3, 52.9, 52.0, 51.7], 1.0), curve([53.8, 53.2, 52.4, 52.1, 51.0], 1.2, 0.25),
        curve([54.1, 53.6, 52.9], 0.6, 0.05),
    ]  # fmt: skip
    series, power_w, spread_v = 13, 250.0, 0.07
    found = mean_curve(curves, series, power_w, 25.0, spread_v)
    grid = found.grid
    m, mows = len(grid), len(curves)
    assert grid == pytest.approx(0.1 * np.arange(m)) and grid[-1] == pytest.approx(1.1)
    rows, seen, weight = [], [], []
    for k, one in enumerate(curves):
        places, volts = np.array(one.used_ah) + (one.start_ah or 0.0), voltage_at(one, power_w, 25.0)
        steep = np.gradient(volts, places)
        for i, at in enumerate(grid):
            if places[0] - 1e-9 <= at <= places[-2] + 1e-9:
                row = np.zeros(m + mows)
                row[i] = row[m + k] = 1.0
                rows.append(row)
                seen.append(np.interp(at, places, volts))
                weight.append(1 / ((0.003 * series) ** 2 + (np.interp(at, places, steep) * 0.05) ** 2))
    design = np.array(rows)
    assert found.count.tolist() == design[:, :m].sum(axis=0).astype(int).tolist()
    bend = np.zeros((m - 2, m + mows))
    bend[:, :m] = np.diff(np.eye(m), n=2, axis=0) / (0.4 * series * 0.1**1.5)
    own = np.zeros((mows, m + mows))
    own[:, m:] = np.diag([1 / math.hypot(spread_v, voltage_std_at(one, power_w, 25.0)) for one in curves])
    information = design.T @ (design * np.array(weight)[:, None]) + bend.T @ bend + own.T @ own
    covariance = np.linalg.inv(information)
    assert found.covariance == pytest.approx(covariance[:m, :m], rel=1e-5, abs=1e-9)
    assert found.mean == pytest.approx((covariance @ (design.T @ (np.array(weight) * seen)))[:m], rel=1e-8)


def test_the_spread_of_curves_counts_what_their_own_uncertainty_leaves() -> None:
    """Two curves 0.4 V apart: their squares about the mean are 0.08, less their own uncertainty; with a guess
    of 5 mV a cell that counts as three. A group of one, and curves that nowhere meet, add nothing."""
    two = [curve([54.0, 52.0], 2.0, load_a=5.0), curve([53.6, 51.6], 2.0)]
    own = voltage_std_at(two[0], 250.0, 20.0) ** 2, voltage_std_at(two[1], 250.0, 20.0) ** 2
    volts = [voltage_at(each, 250.0, 20.0) for each in two]
    apart = float(np.mean(np.interp(np.linspace(0, 2, 20), [0, 2], volts[0] - volts[1])))
    total = 3 * (0.005 * 13) ** 2 + max(apart**2 / 2 - (own[0] + own[1]) / 2, 0.0)
    apart_groups = [curve([54.0, 52.0], 1.0), curve([52.0, 51.0], 1.0, 1.5)]
    found = curve_spread([two, two[:1], apart_groups], 13, 250.0, 20.0)
    assert found.freedom == 4.0 and found.volts == pytest.approx(math.sqrt(total / 4), rel=1e-3)
    assert curve_spread([], 13, 250.0, 20.0).volts == pytest.approx(0.065)


def test_two_seasons_differ_by_the_mean_of_their_curves_where_both_are_known() -> None:
    from estimator.fitting.seasons.mean_curve import MeanCurve

    grid, count = 0.1 * np.arange(11), np.ones(11, np.int64)
    one = MeanCurve(grid, 54.0 - grid, 0.01**2 * np.ones((11, 11)), count)  # wholly alike along the curve
    two = MeanCurve(grid + 0.3, 53.5 - (grid + 0.3), 0.02**2 * np.ones((11, 11)), count)
    found = curve_change("2024", "2025", one, two, 2.0, 300.0)
    assert found is not None
    std = math.hypot(0.01, 0.02)
    assert (found.from_ah, found.to_ah) == pytest.approx((0.3, 1.0))
    assert (found.difference_v, found.low_v, found.high_v) == pytest.approx(
        (-0.5, -0.5 - 2 * std, -0.5 + 2 * std)
    )
    assert found.more_than_noise and "0.50 V lower than that of 2024" in found.sentence
    noisy = curve_change("2024", "2025", two, one, 30.0, 300.0)
    assert noisy is not None and not noisy.more_than_noise and "higher" in noisy.sentence
    for apart, compared in ((0.81, False), (0.79, True)):  # two tenths of an ampere-hour in common
        other = MeanCurve(grid + apart, two.mean, two.covariance, count)
        assert (curve_change("a", "b", one, other, 2.0, 300.0) is not None) is compared


def test_curves_are_laid_side_by_side_after_their_first_minute() -> None:
    """Sixteen points from 0.15 Ah to the end; the errors of points within 0.6 Ah go together."""
    laid = _lay([curve([54.0, 53.0, 52.0, 51.0], 3.0, 0.5), curve([54.0, 53.95, 53.9], 0.1)], 13)
    assert laid.drawn_ah[0] == pytest.approx(0.5 + np.linspace(0.15, 3.0, 16))
    assert laid.rest_v[0] == pytest.approx(54.0 - np.linspace(0.15, 3.0, 16))
    assert laid.drawn_ah[1] == pytest.approx(np.full(16, 0.1)), "a shorter curve has its end alone"
    point = math.hypot(0.003 * 13, 0.02)
    assert laid.point_std_v == pytest.approx([point * math.sqrt(16 * 0.6 / 3.0), point * math.sqrt(16)])
    assert laid.offset_std_v == pytest.approx([math.hypot(0.004 * 13, 5.0 * 0.01)] * 2)


def test_the_shared_curve_and_each_mows_place_on_it_are_least_squares() -> None:
    """Both steps as one stack of rows each, by a library's least squares."""
    rng = np.random.default_rng(4)
    drawn = np.sort(rng.uniform(0.2, 5.0, (3, 16)), axis=1)
    rest = 54.0 - drawn + 0.05 * rng.standard_normal(drawn.shape)
    laid = _Laid(drawn, rest, np.array([0.05, 0.1, 0.07]), np.array([0.05, 0.06, 0.08]))
    own = _Own(np.array([0.02, -0.03, 0.0]), np.array([0.1, -0.05, 0.02]), np.full(3, 0.15))
    knots = np.concatenate([[0.0] * 4, np.linspace(0, 7.5, 11)[1:-1], [7.5] * 4])
    found = _common_curve(laid, own, knots, 13)
    x, v = (drawn / np.exp(own.log_capacity)[:, None]).ravel(), (rest - own.offset_v[:, None]).ravel()
    weight = np.repeat(1 / laid.point_std_v, 16)
    basis = spline_basis(x, knots)
    m = basis.shape[1]
    rows = np.concatenate(
        [basis * weight[:, None], np.diff(np.eye(m), n=2, axis=0) / (0.05 * 13), 10**-4.5 * np.eye(m)]
    )
    wanted = np.concatenate([v * weight, np.zeros(2 * m - 2)])
    assert found == pytest.approx(np.linalg.lstsq(rows, wanted, rcond=None)[0], rel=1e-6)
    each = _each_mow(laid, own, knots, found)
    ratios, stds = [], []
    for k in range(3):
        place = drawn[k] / math.exp(own.log_capacity[k])
        here = spline_basis(place, knots) @ found
        step = 1e-6
        longer = spline_basis(place * math.exp(-step), knots) @ found  # the same charge of a larger pack
        slope = (longer - here) / step
        rows = np.stack([slope, np.ones(16)], axis=1) / laid.point_std_v[k]
        held = np.diag([1 / 0.15, 1 / laid.offset_std_v[k]])
        wanted = np.append((rest[k] - here + slope * own.log_capacity[k]) / laid.point_std_v[k], [0.0, 0.0])
        stack = np.concatenate([rows, held])
        ratio, offset = np.linalg.lstsq(stack, wanted, rcond=None)[0]
        assert each.offset_v[k] == pytest.approx(offset, abs=1e-5)
        ratios.append(ratio)
        stds.append(math.sqrt(np.linalg.inv(stack.T @ stack)[0, 0]))
    assert each.log_std == pytest.approx(stds, rel=1e-4)
    assert each.log_capacity == pytest.approx(
        ratios - np.average(ratios, weights=np.array(stds) ** -2.0), abs=1e-5
    )


def test_mows_are_made_alike_by_a_regression_on_depth_and_lasting_resistance() -> None:
    """Least squares of the logarithm on four columns, each with a row for what is believed of it: the effect
    of depth within 0.3 as far as depth and charge drawn vary together (r² of the two), that of a factor e
    of lasting over quick resistance within 0.3, a fade within 1 % a mow, any level. Depth is taken off as
    far as a mow lacks it of the deepest, the ratio from its mean."""
    values, reaches, starts = (
        [9.6, 9.9, 9.8, 10.1, 10.0],
        [4.0, 6.0, 5.0, 8.0, 7.5],
        [0.5, 0.0, 1.0, 0.0, 0.2],
    )
    ohms, places, std = [0.13, 0.15, 0.12, 0.16, 0.13], [0, 2, 3, 4, 6], [0.05, 0.06, 0.05, 0.07, 0.05]
    curves: list[DischargeCurve | None] = [None] * 7
    for place, reach, start, ohm in zip(places, reaches, starts, ohms, strict=True):
        curves[place] = curve([54.0, 53.0, 52.0], reach, start, resistance_ohm=ohm, quick_ohm=0.1)
    curves[2] = replace(curves[2], start_ah=None)  # type: ignore[type-var]
    seen = tuple(
        Observed(date(2024, 5, 1), value, each, place=place)
        for value, each, place in zip(values, std, places, strict=True)
    )
    drawn = np.array([4.5, 6.0, 6.0, 8.0, 7.7])
    depth, ratio = drawn / np.array(values), np.log(np.array(ohms) / 0.1)
    together = np.corrcoef(drawn, depth)[0, 1] ** 2
    effects = np.stack([depth / max(depth) - 1, ratio - ratio.mean()], axis=1)
    rows = np.column_stack([effects, places, np.ones(5)]) / np.array(std)[:, None]
    believed = np.diag([1 / (0.3 * together), 1 / 0.3, 1 / 0.01, 0.0])[:3]
    wanted = np.append(np.log(values) / np.array(std), [0.0] * 3)
    slopes = np.linalg.lstsq(np.concatenate([rows, believed]), wanted, rcond=None)[0][:2]
    found = _alike(seen, curves)
    assert np.log([one.value for one in found]) == pytest.approx(np.log(values) - effects @ slopes, abs=1e-6)
    # steps of 1 to 3 % are less than the 5 % of each: no more is shown, and 2 % that neighbours share
    assert [one.log_std for one in found] == pytest.approx([math.hypot(each, 0.02) for each in std])


def test_a_straight_trend_is_known_as_a_regression_says() -> None:
    seen = tuple(
        Observed(date(2024, 5, 1), 10.0, std, place=at)
        for at, std in ((0, 0.1), (1, 0.2), (4, 0.1), (9, 0.1))
    )
    design = np.stack([np.ones(4), [0, 1, 4, 9]], axis=1) / np.array([0.1, 0.2, 0.1, 0.1])[:, None]
    assert _trend_std(seen) == pytest.approx(math.sqrt(np.linalg.inv(design.T @ design)[1, 1]))
    assert _trend_std(seen[:3]) == math.inf


def test_mows_run_down_count_to_the_upper_quartile_of_their_ends() -> None:
    """Ends at 44, 45, 46 and 48 V: 46.5 V. From 54 V by 2 V/Ah that is 3.75 Ah, for the last of which its end
    goes on; with a start of 0.5 Ah below full, 4.25."""
    curves = [
        curve(np.linspace(54.0, end, 61).tolist(), (54.0 - end) / 2, start)
        for end, start in ((44.0, 0.0), (45.0, 0.0), (46.0, 0.5), (48.0, 0.0))
    ]
    days = [date(2024, 5, day) for day in (1, 2, 3, 4)]
    assert [_drawn_ah(each, 46.5) for each in curves] == pytest.approx([3.75, 3.75, 4.25, 3.75])
    found = _run_down([*curves, curves[0], None], [*days, days[0], days[0]], 9.0, [True] * 4 + [False, True])
    mean = (3.75**3 * 4.25) ** 0.25
    assert [one.value for one in found] == pytest.approx([9.0 * ah / mean for ah in (3.75, 3.75, 4.25, 3.75)])
    assert [one.log_std for one in found] == pytest.approx(
        [math.hypot(0.01, 0.05 / ah) for ah in (3.75, 3.75, 4.25, 3.75)]
    )
    flat = curve([54.0] * 30, 3.0)
    assert _drawn_ah(flat, 53.9) == pytest.approx(3.0 + 0.1 / 1e-3), "volts that do not fall end anywhere"


def test_a_history_is_anchored_by_its_level_after_the_last_mow() -> None:
    seen = tuple(Observed(date(2024, 5, day), 10.0, 0.002, place=day) for day in (1, 2, 3, 4, 5))
    history = CapacityHistory((1, 2, 3, 4, 5), seen, 0.02, "fit")
    found = history.anchored(8.0, 0.05)
    assert float(np.median(fade_draws(found.series()).capacity_ah[:, 0])) == pytest.approx(8.0)
    assert found.scale_std == 0.05 and history.anchored(8.0, 0.01).scale_std == 0.02
    assert found.series().std_ah == pytest.approx(0.002 * found.series().capacity_ah)


def test_a_change_between_groups_on_paper() -> None:
    """Drawn changes from -0.02 to 0.18 on the logarithm; the means of the groups differ by 0.2."""
    drawn = np.linspace(-0.02, 0.18, 2001)
    y = np.array([1.0, 1.0, 1.2, 1.2, 9.0])
    member = np.array([[1, 0], [1, 0], [0, 1], [0, 1], [0, 0]], float)
    found = _change(ENERGY, "a", "b", drawn, y, member, 0.9, ("from a to b", "of b"))
    assert (found.change, found.low, found.high) == pytest.approx(tuple(map(math.expm1, (0.08, -0.01, 0.17))))
    assert found.raw_change == pytest.approx(math.expm1(0.2)) and found.grass_change == pytest.approx(
        math.expm1(0.12)
    )
    assert found.grass_share == pytest.approx(0.6) and not found.more_than_noise
    std = float(drawn.std())
    assert found.tellable == pytest.approx(math.expm1((1.64485 + 0.8416) * std), rel=1e-4)
    assert found.more_mows is None, "two mows before are too few"
    sure = _change(ENERGY, "a", "b", drawn + 0.02, y, member, 0.9, ("from a to b", "of b"))
    assert sure.more_than_noise and sure.more_mows == 0
    assert "these few alone could not tell" not in sure.sentence
    pair = np.array([[1, 0], [0, 1], [0, 1], [0, 0], [0, 0]], float)
    fewer = _change(ENERGY, "a", "b", drawn + 0.02, y, pair, 0.9, ("from a to b", "of b"))
    assert "these few alone could not tell" in fewer.sentence, "three mows"
    falls = _change(ENERGY, "a", "b", -drawn - 0.02, y, member, 0.9, ("from a to b", "of b"))
    assert falls.more_than_noise
    for factor, share in ((0.99, False), (1.01, True)):  # half a deviation of raw change
        level = np.array([1.0, 1.0, *[1.0 + factor * std / 2] * 2, 9.0])
        part = _change(ENERGY, "a", "b", drawn, level, member, 0.9, ("", "")).grass_share
        assert (part is not None) is share


@pytest.mark.parametrize(
    ("more_than_noise", "more_mows", "tellable", "ends"),
    [
        (True, 0, 0.1, "that is more than noise."),
        (False, None, 1.0, "that is within the noise: too few mows to tell."),
        (False, None, 0.99, "that is within the noise, and these mows cannot tell a change under 99 %."),
        (False, 1, 0.1, "that is within the noise; about 1 more mow of b could tell a change of this size."),
        (False, 2, 0.1, "that is within the noise; about 2 more mows of b could tell a change of this size."),
    ],
)
def test_the_sentence_of_a_change(
    more_than_noise: bool, more_mows: int | None, tellable: float, ends: str
) -> None:
    change = GroupChange("a", "b", 0.1, -0.05, 0.2, 0.1, 0.0, None, more_than_noise, more_mows, tellable, "")
    said = _with_sentence(ENERGY, change, "from a to b", "of b", few=False).sentence
    assert said == (
        "Energy per area changed by +10 % (-5 % to +20 %) from a to b, after allowing for grass, lawn and "
        f"temperature; {ends}"
    )
    assert (
        "usual" not in said
        and "allowing" not in _with_sentence(CAPACITY, change, "", "of b", few=False).sentence
    )
