"""Curves of seasons compared: planted curves, bands that hold, changes distinguished from noise."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.fitting.seasons.discharge_curves import DischargeCurve, voltage_at
from estimator.fitting.seasons.mean_curve import curve_spread, mean_curve
from estimator.fitting.seasons.season_curves import season_curves, season_names, usual_power_w

SERIES = 13


def bent(drawn_ah: np.ndarray) -> np.ndarray:
    """An invented rest voltage: steep at first, then a slope, a shoulder at 5 Ah."""
    return 52.8 - 0.9 * drawn_ah + 0.8 * np.exp(-drawn_ah / 0.4) - 0.7 / (1 + np.exp(-(drawn_ah - 5.0)))


def planted(
    rng: np.random.Generator, shift_v: float = 0.0, spread_v: float = 0.05, line_v: float = 0.03
) -> DischargeCurve:
    """A mow of 1 to 7 Ah, whose whole curve is off by what the mow and its own fit add."""
    drawn = np.linspace(0.0, rng.uniform(1.0, 7.0), 60)
    off = shift_v + spread_v * rng.standard_normal() + line_v * rng.standard_normal()
    ripple = 0.015 * rng.standard_normal() * np.sin(drawn * rng.uniform(0.5, 2.0))
    rest = bent(drawn) + off + ripple
    return DischargeCurve(
        tuple(drawn), tuple(rest), 6.0, 0.12, 0.002, 0.09, 0.001, line_v, 25.0, 0.5, 0.0
    )  # fmt: skip


def season_days(year: int, count: int) -> list[date]:
    return [date(year, 4, 10) + timedelta(days=12 * k) for k in range(count)]


def true_v(drawn_ah: np.ndarray, shift_v: float = 0.0) -> np.ndarray:
    one = DischargeCurve(
        tuple(drawn_ah), tuple(bent(drawn_ah) + shift_v), 6.0, 0.12, 0, 0.09, 0, 0, 25.0, 0, 0.0
    )
    return voltage_at(one, 310.0, 25.0)


@pytest.mark.parametrize(
    ("spread_v", "least", "most"), [(0.04, 0.88, 1.0), (0.08, 0.85, 0.97), (0.16, 0.80, 0.96)]
)
def test_the_band_of_the_mean_curve_holds(spread_v: float, least: float, most: float) -> None:
    """About 0.07 V is expected before looking; the band must hold for half of that and twice as much."""
    inside = []
    for seed in range(150):
        rng = np.random.default_rng(seed)
        found = season_curves(
            [planted(rng, spread_v=spread_v) for _ in range(8)], season_days(2024, 8), SERIES, 310.0
        ).curves[0]
        at = np.array(found.used_ah)
        deep = at < 0.85 * at[-1]
        truth = true_v(at)
        inside.append(
            np.mean((np.array(found.low_v) <= truth)[deep] & (truth <= np.array(found.high_v))[deep])
        )
    assert least <= np.mean(inside) <= most


def test_no_change_is_seldom_called_real_and_a_real_one_mostly_is() -> None:
    called = {0.0: [], -0.30: []}
    sizes = []
    for seed in range(50):
        for shift in called:
            rng = np.random.default_rng(seed)
            curves = [planted(rng) for _ in range(7)] + [planted(rng, shift) for _ in range(7)]
            days = season_days(2024, 7) + season_days(2025, 7)
            change = season_curves(curves, days, SERIES, 310.0).changes[0]
            called[shift].append(change.more_than_noise)
            if shift:
                sizes.append(change.difference_v)
    assert np.mean(called[0.0]) <= 0.16
    assert np.mean(called[-0.30]) >= 0.95
    assert np.mean(sizes) == pytest.approx(-0.30, abs=0.03)


def test_one_mow_a_season_still_answers_widely() -> None:
    rng = np.random.default_rng(2)
    one = season_curves([planted(rng), planted(rng)], [date(2024, 5, 1), date(2025, 5, 1)], SERIES, 310.0)
    many = season_curves(
        [planted(rng) for _ in range(20)], season_days(2024, 10) + season_days(2025, 10), SERIES, 310.0
    )
    width = [np.mean(np.array(s.high_v) - np.array(s.low_v)) for s in (one.curves[0], many.curves[0])]
    assert [c.mows for c in one.curves] == [1, 1] and width[0] > 2 * width[1]


def test_the_sentence_names_size_direction_and_verdict() -> None:
    rng = np.random.default_rng(4)
    curves = [planted(rng) for _ in range(7)] + [planted(rng, -0.8) for _ in range(7)]
    change = season_curves(curves, season_days(2024, 7) + season_days(2025, 7), SERIES, 310.0).changes[0]
    assert change.sentence.startswith("At 310 W the voltage of 2025 runs 0.")
    assert "V lower than that of 2024" in change.sentence and change.sentence.endswith(
        "that is more than noise."
    )
    assert change.low_v < change.difference_v < change.high_v < 0


def test_mows_that_cannot_be_placed_are_left_out_and_counted() -> None:
    rng = np.random.default_rng(5)
    lost = replace(planted(rng), start_ah=None)
    found = season_curves([planted(rng), lost, planted(rng)], season_days(2024, 3), SERIES)
    assert found.left_out == 1 and found.curves[0].mows == 2
    with pytest.raises(InputError) as refused:
        season_curves([lost], [date(2024, 5, 1)], SERIES)
    mend = "log a mow straight from the charger"
    assert str(refused.value) == f"no logged mow starts from a known charge; {mend}"


def test_a_second_mow_on_the_charge_carries_the_curve_further() -> None:
    rng = np.random.default_rng(6)
    first = planted(rng)
    drawn = np.linspace(0.0, 2.0, 60)
    second = replace(first, used_ah=tuple(drawn), rest_v=tuple(bent(drawn + 7.0))).starting_at(7.0, 0.05)
    found = season_curves([first, second], season_days(2024, 2), SERIES, 310.0).curves[0]
    assert found.used_ah[-1] == pytest.approx(9.0, abs=0.11)
    truth = true_v(np.array(found.used_ah))
    assert np.array(found.voltage_v)[-1] == pytest.approx(truth[-1], abs=0.25)


def stretch(start_ah: float, end_ah: float) -> DischargeCurve:
    drawn = np.linspace(0.0, end_ah - start_ah, 60)
    whole = planted(np.random.default_rng(9))
    rest = tuple(bent(drawn + start_ah))
    return replace(whole, used_ah=tuple(drawn), rest_v=rest).starting_at(start_ah, 0.05)


def test_volts_that_rise_after_the_motor_stopped_bend_no_curve() -> None:
    """Once seen: each mow's last point was .1 V too high, and the mean jumped wherever a mow ended."""
    rng = np.random.default_rng(5)
    mows = [planted(rng) for _ in range(12)]
    bent_up = [replace(mow, rest_v=(*mow.rest_v[:-1], mow.rest_v[-1] + 0.5)) for mow in mows]
    plain, kicked = (season_curves(each, season_days(2025, 12), SERIES).curves[0] for each in (mows, bent_up))
    assert kicked.voltage_v == pytest.approx(plain.voltage_v, abs=0.02)


def test_seasons_that_nowhere_meet_are_not_compared() -> None:
    apart = season_curves(
        [stretch(0.0, 2.0), stretch(5.0, 7.0)], [date(2024, 5, 1), date(2025, 5, 1)], SERIES
    )
    assert len(apart.curves) == 2 and apart.changes == ()


def test_a_mow_shorter_than_the_grid_changes_nothing() -> None:
    long = [stretch(0.0, 3.0), stretch(0.0, 4.0)]
    alone = season_curves(long, season_days(2024, 2), SERIES, 310.0).curves[0]
    beside = season_curves([*long, stretch(1.02, 1.08)], season_days(2024, 3), SERIES, 310.0).curves[0]
    assert beside.voltage_v == pytest.approx(alone.voltage_v) and beside.mows == 3


def test_points_in_a_band_are_ordered_and_counted() -> None:
    rng = np.random.default_rng(7)
    found = season_curves([planted(rng) for _ in range(6)], season_days(2024, 6), SERIES).curves[0]
    assert np.all(np.array(found.low_v) < np.array(found.voltage_v)) and max(found.mows_at) == 6
    assert list(found.mows_at) == sorted(found.mows_at, reverse=True)
    assert (found.first, found.last) == (season_days(2024, 6)[0], season_days(2024, 6)[-1])


def test_usual_power_is_the_median_load_in_round_figures() -> None:
    rng = np.random.default_rng(8)
    curve = planted(rng)
    assert usual_power_w([curve]) == round(6.0 * np.mean(curve.rest_v) / 10) * 10


@pytest.mark.parametrize(
    ("days", "names"),
    [
        ([date(2024, 4, 1), date(2024, 10, 31), date(2025, 3, 20)], ("2024", "2024", "2025")),
        ([date(2024, 10, 1), date(2025, 1, 15), date(2025, 3, 30)], ("2024/25",) * 3),
        ([date(2024, 9, 1), date(2025, 2, 1), date(2025, 9, 20)], ("2024/25", "2024/25", "2025/26")),
        ([], ()),
    ],
)
def test_seasons_are_named_by_when_nobody_mows(days: list[date], names: tuple[str, ...]) -> None:
    assert season_names(days) == names


def straight(level_v: float, upto_ah: float = 2.0, from_ah: float = 0.0) -> DischargeCurve:
    """A curve that falls by 1 V an Ah, known without any uncertainty of its own."""
    used = np.linspace(0.0, upto_ah, 60)
    rest = level_v - used - from_ah
    return DischargeCurve(tuple(used), tuple(rest), 5.0, 0.1, 0.0, 0.1, 0.0, 0.0, 25.0, 0.0, from_ah)


def test_whole_curves_spread_as_they_lie_about_their_own_groups_mean() -> None:
    """Two of one group 0.2 V over and under it, three of another 0.3 V, nothing and -0.3 V, and three mows'
    worth of 5 mV a cell: (2 · 0.04 + 2 · 0.09 + 3 · 0.065²) over 1 + 2 + 3. What a curve does not know of
    itself is no spread."""
    groups = [
        [straight(50.2), straight(49.8)],
        [straight(53.3), straight(53.0), straight(52.7)],
        [straight(40.0)],
    ]
    found = curve_spread(groups, 13, 0.0, 25.0)
    assert found.freedom == 6.0
    assert found.volts**2 == pytest.approx((0.08 + 0.18 + 3 * 0.065**2) / 6)
    unsure = [[replace(each, line_std_v=0.1) for each in group] for group in groups]
    assert curve_spread(unsure, 13, 0.0, 25.0).volts ** 2 == pytest.approx(found.volts**2 - 3 * 0.01 / 6)
    apart = [[straight(50.0, 1.0), straight(47.0, 1.0, from_ah=1.5)]]
    assert curve_spread(apart, 13, 0.0, 25.0) == curve_spread([], 13, 0.0, 25.0)


def test_a_mean_curve_lies_between_its_mows_and_goes_on_along_the_longer() -> None:
    """Mows 0.2 V over and under: half-way as long as both are seen, known to their spread over the root of
    two. Where one has ended, the other's bend is followed, not its level."""
    both = mean_curve([straight(50.2, 2.0), straight(49.8, 3.0)], 13, 0.0, 25.0, 0.5)
    assert both.mean == pytest.approx(50.0 - both.grid, abs=1e-3)
    assert both.count.tolist() == [2] * 20 + [1] * 10  # a mow's last point, at rest again, does not count
    assert np.sqrt(both.covariance[10, 10]) == pytest.approx(0.5 / np.sqrt(2), rel=0.03)
    later = mean_curve([straight(50.0, 1.0, from_ah=1.5)], 13, 0.0, 25.0, 0.5)
    assert (later.grid[0], later.grid[-1]) == pytest.approx((1.5, 2.4))
    assert later.mean == pytest.approx(50.0 - later.grid, abs=1e-3)


@pytest.mark.parametrize("gap_ah", [3.0, 8.0])
def test_across_a_gap_a_curve_may_bend_as_a_thin_beam_does_whatever_the_step(gap_ah: float) -> None:
    """Known before and after: half-way, the integral of a Wiener process that is held with its slope at both
    ends has the variance bend² · gap³ / 192 (the middle of a beam clamped at both ends, Kimeldorf and Wahba
    1970, Ann. Math. Statist. 41, 495; both from memory); bend 0.4 V a cell. Where the mow across it began
    nobody knows."""
    known = [straight(50.0, gap_ah), straight(50.0, gap_ah, from_ah=2 * gap_ah)] * 200
    across = replace(straight(50.0, 3 * gap_ah), start_std_ah=1e4)
    found = mean_curve([*known, across], 13, 0.0, 25.0, 1e-4)
    middle = int(np.argmin(np.abs(found.grid - 1.5 * gap_ah)))
    expected = 0.4 * 13 * np.sqrt(gap_ah**3 / 192)
    assert np.sqrt(found.covariance[middle, middle]) == pytest.approx(expected, rel=0.12)
    assert found.grid[1] == pytest.approx(0.1 if gap_ah == 3.0 else 0.2, rel=0.01)
