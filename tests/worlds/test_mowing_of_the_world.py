"""The world's mowing, meters and seeds do what they say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from cheap_meters import Meters, read_off
from owners import draw_day, draw_owner, hurried, judged, seeds, stream
from pack_trials import draw_plan, make_mows, true_capacity_ah
from patchy_mowing import Day, grass_map, mow, walk, work_factor
from scipy.integrate import trapezoid

EXACT = Meters(
    every_s=1,
    gain=0.0,
    zero_a=0.0,
    drift_a=0.0,
    noise_a=0.0,
    step_a=0.01,
    volt_gain=0.0,
    step_v=0.01,
    sensor_off_c=None,
)


@pytest.mark.parametrize(("rows", "columns"), [(120, 80), (25, 30)])
def test_grass_is_dense_one_on_average_and_neighbours_are_alike(rows, columns):
    field = replace(draw_owner(0, "nmc").fields[0], patch_sigma=0.4, patch_m=2.0)
    maps = [grass_map(np.random.default_rng(k), rows, columns, 0.4, field) for k in range(60)]
    assert np.mean(maps) == pytest.approx(1.0, abs=0.05)
    assert np.std([m.mean() for m in maps]) < 0.2  # a lawn with few patches has nearly the same mean
    near = np.mean([np.corrcoef(m[:-1].ravel(), m[1:].ravel())[0, 1] for m in maps])
    assert near > 0.7
    if rows > 100:
        far = np.mean([np.corrcoef(m[:-60].ravel(), m[60:].ravel())[0, 1] for m in maps])
        assert abs(far) < 0.2


def test_a_lawn_is_walked_row_by_row_in_the_time_that_width_and_pace_ask_for():
    owner = draw_owner(2, "nmc")
    crew = replace(owner.crew, slowing=0.0, turn_s=4.0, box_m3=0.0, pace_spread=0.0)
    field = replace(owner.fields[0], area_m2=400.0, aspect=2.0)
    power, area = walk(np.random.default_rng(1), crew, field, Day(growth_mm=25, wetness=0.1))
    row_m = crew.width_m * (1 - crew.overlap)
    length = np.sqrt(800.0)
    rows = np.ceil(400 / length / row_m)
    assert len(power) == pytest.approx(rows * length / crew.pace_m_s + 4 * (rows - 1), rel=0.03)
    assert (np.diff(area) >= 0).all() and area[-1] == pytest.approx(400.0)


def test_longer_wetter_grass_and_dull_blades_ask_for_more():
    owner = draw_owner(2, "nmc")
    usual = Day(growth_mm=25, wetness=0.0)
    field = owner.fields[0]
    base = work_factor(owner.crew, field, usual)
    assert base == pytest.approx(field.density)
    for harder in (replace(usual, growth_mm=40), replace(usual, wetness=0.8), replace(usual, dullness=1.2)):
        assert work_factor(owner.crew, field, harder) > base
    power, done = mow(np.random.default_rng(0), owner.crew, [field, field], usual, least_j=1e6)
    assert len(done) == 2 and done[0] < done[1] <= len(power) and power.sum() >= 1e6
    assert power.max() <= owner.crew.most_w


def test_a_volunteer_is_about_right_about_the_grass():
    rng = np.random.default_rng(5)
    days = [draw_day(rng) for _ in range(400)]
    said = [judged(rng, d) for d in days]
    off = [np.log(g / d.growth_mm) for (g, _), d in zip(said, days, strict=True) if g is not None]
    assert abs(np.mean(off)) < 0.05 and 0.15 < np.std(off) < 0.35
    wet = [d.wetness for (_, m), d in zip(said, days, strict=True) if m == "wet"]
    dry = [d.wetness for (_, m), d in zip(said, days, strict=True) if m == "dry"]
    assert np.mean(wet) > 0.6 > 0.2 > np.mean(dry)


def test_meters_err_as_they_are_made_to():
    truth = np.full(600, 5.0), np.full(600, 48.0), np.full(600, 20.0)
    plain = read_off(np.random.default_rng(0), EXACT, *truth)
    assert list(plain) == ["time_s", "current_a", "voltage_v"]
    assert plain["current_a"] == pytest.approx(5.0) and plain["voltage_v"] == pytest.approx(48.0, abs=0.011)
    slow = read_off(np.random.default_rng(0), replace(EXACT, every_s=5, gain=0.02, sensor_off_c=1.0), *truth)
    assert len(slow["time_s"]) == 120 and slow["time_s"][-1] == 595
    assert slow["current_a"] == pytest.approx(5.1) and slow["temperature_c"].mean() == pytest.approx(
        21, abs=0.1
    )


def test_halves_share_no_seed_and_a_seed_says_the_same_every_time():
    assert not set(seeds("open", 500)) & set(seeds("closed", 500))
    first, again, other = draw_owner(6, "lfp"), draw_owner(6, "lfp"), draw_owner(8, "lfp")
    assert first.crew == again.crew and (first.cells.up == again.cells.up).all()
    assert first.crew != other.crew
    assert stream(6, 2).normal() == stream(6, 2).normal() != stream(6, 3).normal()


def test_a_mow_stops_where_it_should_and_the_truth_goes_on_to_the_cut_off():
    owners = [hurried(draw_owner(s, "nmc")) for s in (0, 2, 4)]
    truth = true_capacity_ah(owners)
    assert truth == pytest.approx([o.new_ah * o.health for o in owners], rel=0.03)
    plans = [draw_plan(owners, k, j, 3, truth[k], full=j == 0) for k in range(3) for j in range(2)]
    for made in make_mows(owners, plans, 3):
        which = made.plan.owner
        assert made.cut == np.isinf(made.plan.stop_ah) or made.stop_s == made.cut_s
        assert made.cut_s >= made.stop_s and made.usable_ah < 1.02 * truth[which]
        time, amps = made.columns["time_s"], made.columns["current_a"]
        after = amps[time > made.stop_s + 2]
        assert abs(after.mean()) < 0.1 * amps.max()
        mowing = time <= made.stop_s
        counted = trapezoid(amps[mowing], time[mowing]) / 3600
        assert counted == pytest.approx(made.drawn_ah[made.stop_s - 1], rel=0.08, abs=0.1)
