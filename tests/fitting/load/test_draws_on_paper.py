"""Drawn loads, needs and peaks: scaling, blocks, causes and the law of peaks, worked out on paper."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import fsolve

from estimator.descriptions import Grass, Lawn
from estimator.fitting.load.features import MowFeatures, mow_features
from estimator.fitting.load.load_draws import (
    SOURCES,
    _draw_relative,
    _highest,
    _pairs,
    _scaled,
    _Shapes,
    _shapes,
    coming_power,
    lay_out,
)
from estimator.fitting.load.mow_needs import MowNeeds, _Drawn, at_seen_power, draw_needs
from estimator.fitting.load.peak_law import PeakLaw, peak_law
from estimator.fitting.load.phases import RunTrace
from estimator.fitting.load.profile import LoadProfile, fit_profile
from estimator.importer.log import Log
from estimator.mow import Mow

LAWN = Lawn("orchard", 300.0)


@pytest.fixture(scope="module")
def steady() -> MowFeatures:
    """Ten minutes at 80 W and 320 W by turns, a minute each: 200 W on average."""
    power = np.tile(np.repeat([80.0, 320.0], 60), 5)
    frame = pd.DataFrame({"time_s": np.arange(600.0), "current_a": power / 40.0, "voltage_v": 40.0})
    return mow_features(Mow(Log(frame), LAWN))


def shapes(*pieces: list[float], by_hand=(False, False), mean_w=(100.0, 200.0), highest_w=(300.0, 500.0)):
    length = np.array([len(piece) for piece in pieces], np.int64)
    return _Shapes(
        np.concatenate(pieces).astype(np.float32), np.cumsum(length) - length, length,
        np.full(len(pieces), 1 / len(pieces)), np.array(mean_w), np.array(highest_w), np.array(by_hand),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("relative", "mine", "mean_w", "idle_w", "power"),
    [
        ([0, 1, 2, 3], [1, 1, 1, 1], 200.0, 80.0, [80, 160, 240, 320]),
        ([0, 1, 2, 9], [1, 1, 1, 0], 200.0, 80.0, [80, 200, 320, 0]),
        ([0, 1, 2, 3], [1, 1, 1, 1], 100.0, 80.0, [70, 90, 110, 130]),  # idle is 0.7 of the mean at most
        ([-1, 1, 1, 1], [1, 1, 1, 1], 200.0, 80.0, [26.667, 257.78, 257.78, 257.78]),  # as −0.3
        ([-0.3, 1, 1, 1], [1, 1, 1, 1], 200.0, 80.0, [26.667, 257.78, 257.78, 257.78]),
        ([-0.2, 0, 0, 0.2], [1, 1, 1, 1], 50.0, 10.0, [0, 10, 10, 170]),  # a twentieth stands for none
        ([0, 0, 0, 0], [1, 1, 1, 1], 200.0, 80.0, [200, 200, 200, 200]),
    ],
)
def test_what_lies_above_idle_is_scaled_to_the_mean(relative, mine, mean_w, idle_w, power):
    rows, mask = np.array([relative], np.float32), np.array([mine], bool)
    found = _scaled(rows, mask, np.array([mean_w]), idle_w)
    expected = np.array([power], float)
    assert found == pytest.approx(expected * mean_w * sum(mine) / expected.sum(), rel=1e-4)


def test_highest_second_is_that_of_a_draw_s_own_mows_lifted_by_the_law():
    """Mows of 100 and 200 W with 300 and 500 W at most, at 400 W and exponent 0.5: 600 and 707 W."""
    law, rng = PeakLaw(200.0, 600.0, 0.5, 0.0, 4), np.random.default_rng(1)
    pair, mean_w = np.array([[0, 0], [0, 1], [1, 1]]), np.full(3, 400.0)
    two = shapes([0.0] * 9, [1.0] * 9)
    assert _highest(law, two, pair, mean_w, rng) == pytest.approx([600, 500 * 2**0.5, 500 * 2**0.5])
    by_hand = replace(two, by_hand=np.array([True, False]))
    assert _highest(law, by_hand, pair, mean_w, rng) == pytest.approx([600 * 2**0.5] * 2 + [500 * 2**0.5])
    assert np.isinf(_highest(None, two, pair, mean_w, rng)).all()


@pytest.mark.parametrize(("step_s", "block"), [(1.0, 30), (10.0, 3), (40.0, 2)])
def test_power_comes_in_blocks_of_30_s_from_any_place_of_two_mows(step_s, block):
    """A mow of 40 seconds and one of 5, which goes round and round; the last block is cut off."""
    long, brief = list(np.arange(40.0)), list(100.0 + np.arange(5.0))
    both, rng = shapes(long, brief), np.random.default_rng(2)
    pair = np.tile([[0, 0], [1, 1], [0, 1]], (400, 1))
    drawn = _draw_relative(both, pair, 4 * block - 1, rng, step_s)
    assert drawn.shape == (1200, 4 * block - 1)
    firsts = drawn[:, ::block]
    assert set(firsts[pair[:, 1] == 0].ravel()) == set(range(40 - block + 1)), "every place, and none beyond"
    brief_rows = firsts[pair[:, 0] == 1]
    assert set(brief_rows.ravel()) == ({100.0} if block >= 5 else set(range(100, 106 - block)))
    of_both = firsts[2::3] >= 100
    assert of_both.mean() == pytest.approx(0.5, abs=0.05)
    steps = np.diff(drawn[:, :block], axis=1)
    assert set(steps[pair[:, 1] == 0].ravel()) == {1.0} and set(steps[pair[:, 0] == 1].ravel()) <= {1.0, -4.0}


def test_mows_are_drawn_by_their_likeness_two_for_each_draw():
    weighed = replace(shapes([0.0] * 9, [1.0] * 9), weight=np.array([0.8, 0.2]))
    pair = _pairs(weighed, 4000, np.random.default_rng(1))
    assert pair.shape == (4000, 2) and (pair == 1).mean() == pytest.approx(0.2, abs=0.02)


def test_blocks_come_from_the_forty_mows_most_like_the_one_to_come(steady):
    """One of another lawn counts a third; one that shows no power is left out."""
    other = replace(steady, lawn="meadow", peak_1s_w=700.0, spot=False)
    empty = replace(steady, trace=RunTrace.of(np.zeros(9)))
    profile = replace(fit_profile([steady]), loads=(other, empty, steady), idle_w=80.0)
    found = _shapes(profile, LAWN, Grass(), 1.0)
    assert found.weight == pytest.approx([0.75, 0.25])
    assert (found.highest_w.tolist(), found.length.tolist()) == ([320.0, 700.0], [599, 599])
    assert found.start.tolist() == [0, 599] and found.relative.size == 1198
    assert found.mean_w == pytest.approx(200.0, rel=0.01) and not found.by_hand.any()
    assert len(_shapes(replace(profile, loads=(steady,) * 50), LAWN, Grass(), 1.0).start) == SOURCES == 40
    nothing = _shapes(replace(profile, loads=()), LAWN, Grass(), 1.0)
    assert nothing.relative.mean() == pytest.approx(1.0) and nothing.weight.tolist() == [1.0]
    assert nothing.relative.max() == pytest.approx((500 - 80) / (250 - 80), rel=0.2), (
        "peaks of twice the mean"
    )
    assert np.isinf(nothing.highest_w).all() and nothing.relative.min() == pytest.approx(0.0, abs=1e-6)


@pytest.fixture(scope="module")
def profile(steady) -> LoadProfile:
    return fit_profile([steady])


def test_lawns_follow_each_other_and_take_what_was_drawn(profile):
    """Rounded to steps of 10 s, at least one; six hours at most."""
    needs = MowNeeds(np.array([[20.0, 1.0], [5.0, 40.0]]), np.array([[604.0, 2.0], [96.0, 1e6]]))
    lawns = [LAWN, Lawn("strip", 20.0)]
    day = lay_out(profile, lawns, [Grass()] * 2, needs, np.random.default_rng(1), 10.0)
    assert day.end_s.tolist() == [[600.0, 610.0], [100.0, 21700.0]] and day.step_s == 10.0
    assert day.power_w.shape == (2, 2170)
    assert day.power_w[0, :60].sum() / 360 == pytest.approx(20.0, rel=1e-4)
    assert day.power_w[0, 60] / 360 == pytest.approx(1.0, rel=1e-4) and not day.power_w[0, 61:].any()
    assert day.power_w[1, :10].sum() / 360 == pytest.approx(5.0, rel=1e-4)
    assert day.power_w[1].sum() / 360 == pytest.approx(45.0, rel=1e-4)
    assert day.energy_wh is needs.energy_wh


def test_power_to_come_idles_as_the_profile_says_and_comes_in_pieces(profile):
    pieces = list(coming_power(profile, 300, 1500.0, np.random.default_rng(1), LAWN))
    assert [piece.shape for piece in pieces] == [(300, 600), (300, 600), (300, 300)]
    power = np.concatenate(pieces, axis=1)
    idle = power.min(axis=1)
    assert profile.idle_w == pytest.approx(80.0)
    assert np.median(idle) == pytest.approx(80.0, rel=0.08), "what peaks lose goes to the rest"
    assert np.median(power.mean(1)) == pytest.approx(200.0, rel=0.1)
    brief = list(coming_power(profile, 2, 0.2, np.random.default_rng(1), LAWN))
    assert brief[0].shape == (2, 1)


@pytest.mark.parametrize(("seen", "scatter"), [([100.0], 0.2 * 2**0.5), ([50.0, 200.0], 0.2 * 1.5**0.5)])
def test_days_are_picked_by_how_well_they_agree_with_power_seen(seen, scatter):
    """Of 100 and of 130 W by the normal density of ln 1.3 to 1; powers are compared by their logarithms."""
    needs = MowNeeds(
        np.array([[50.0, 50.0], [65.0, 65.0]]), np.full((2, 2), 1800.0), {"grass": np.arange(2.0)}
    )
    kept = at_seen_power(needs, seen, np.random.default_rng(1), 20_000)
    agrees = np.exp(-0.5 * (np.log(1.3) / scatter) ** 2)
    assert kept.causes["grass"].mean() == pytest.approx(agrees / (1 + agrees), abs=0.01)
    assert kept.energy_wh[:, 0] == pytest.approx(50 + 15 * kept.causes["grass"])
    assert kept.motor_s.shape == (20_000, 2)
    assert len(at_seen_power(needs, seen, np.random.default_rng(1)).energy_wh) == 2


@pytest.mark.parametrize("never_mown", [False, True])
def test_causes_are_averaged_over_the_lawns_by_their_energy(never_mown):
    """Three quarters and one quarter; doubt of a lawn mown before counts with that of few mows."""
    parts = _Drawn(
        level=np.array([[1.0], [2.0]]), grass=np.array([[4.0, 8.0], [0.0, 4.0]]),
        lawn=np.array([[10.0, 30.0], [0.0, 0.0]]), day=np.array([[100.0], [200.0]]),
        mow=np.array([[1000.0, 2000.0], [0.0, 0.0]]),
    )  # fmt: skip
    assert parts.sum().tolist() == [[1115.0, 2139.0], [202.0, 206.0]]
    found = parts.causes(np.array([0.75, 0.25]), never_mown)
    few = {"few mows": [1, 2], "lawn never mown": [15, 0]} if never_mown else {"few mows": [16, 2]}
    rest = {"grass": [5, 1], "from day to day": [100, 200], "from mow to mow": [1250, 0]}
    assert {name: each.tolist() for name, each in found.items()} == few | rest


@pytest.mark.parametrize(
    ("names", "doubted"), [(("orchard",), False), (("orchard", "bank"), True), (("bank",), True)]
)
def test_one_lawn_never_mown_is_doubt_of_its_own(profile, names, doubted):
    lawns = [Lawn(name, 100.0) for name in names]
    needs = draw_needs(profile, lawns, [Grass()] * len(lawns), 9, np.random.default_rng(1))
    assert ("lawn never mown" in needs.causes) is doubted and needs.energy_wh.shape == (9, len(lawns))


def law_of(steady, mean_w, peak_w, **more) -> PeakLaw:
    law = peak_law(
        [replace(steady, mean_w=m, peak_1s_w=p, **more) for m, p in zip(mean_w, peak_w, strict=True)]
    )
    assert law is not None
    return law


@pytest.mark.parametrize(("doubt", "mows", "exponent"), [(0.0, 1, 0.5), (0.2, 1, 0.25), (0.4, 4, 0.25)])
def test_an_error_in_the_means_lifts_no_peak(steady, doubt, mows, exponent):
    """Of a scatter of 0.2 in mean power and as much error: half of the exponent stays."""
    law = law_of(steady, [200.0] * mows, [600.0] * mows, energy_log_std=doubt)
    assert law.exponent == pytest.approx(exponent) and law.mows == mows
    assert (law.mean_w, law.level_w) == pytest.approx((200.0, 600.0))


@pytest.mark.parametrize("peak_w", [(400.0, 600.0, 500.0), (300.0, 900.0, 600.0), (900.0, 500.0, 700.0)])
def test_exponent_and_scatter_solve_both_of_their_equations(steady, peak_w):
    """Slope of a regression with prior 0.5 ± 0.25; scatter with three degrees of freedom of 0.15."""
    mean_w = np.array([100.0, 200.0, 300.0])
    x, y = np.log(mean_w) - np.log(mean_w).mean(), np.log(peak_w) - np.log(peak_w).mean()

    def off(unknown):
        slope, variance = unknown
        rest = y - slope * x
        return (
            slope * (x @ x / variance + 16) - (x @ y / variance + 8),
            variance - (3 * 0.15**2 + rest @ rest) / (3 + 2),
        )

    slope, variance = fsolve(off, (0.5, 0.03))
    law = law_of(steady, mean_w, peak_w, energy_log_std=0.0)
    assert law.exponent == pytest.approx(np.clip(slope, 0, 1), abs=0.03), "three turns"
    assert law.log_std == pytest.approx(np.sqrt(variance), rel=0.03)
    assert (law.mean_w, law.level_w) == pytest.approx(
        (np.exp(np.log(mean_w).mean()), np.exp(np.log(peak_w).mean()))
    )


def test_only_mows_that_show_both_a_mean_and_a_highest_second_teach(steady):
    more = [replace(steady, mean_w=200.0, peak_1s_w=p) for p in (199.0, 200.0, 400.0)]
    assert peak_law(more).mows == 2
    noted = replace(steady, spot=True, peak_1s_w=900.0)
    assert peak_law([noted]).level_w == pytest.approx(noted.trace.highest)
