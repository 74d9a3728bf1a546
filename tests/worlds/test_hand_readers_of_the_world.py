"""People who log nothing: their packs, loads and notes, and what is true of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from days_to_come import END_OF_LIFE, RESERVE
from hand_mows import CHEMISTRIES, Outing, draw_hand_owner, draw_outing, make_mows
from hand_readers import Happened, Notes, Reader, draw_reader, highest_of, write
from hand_seasons import HandSeason, make_season, need_of, true_of
from load_habits import HABITS, HERTZ, clamp_shows, ripple
from owners import draw_day, hurried, seeds
from patchy_mowing import Day

EXACT = {
    "clamp_gain": 0.0, "clamp_zero_a": 0.0, "clamp_step_a": 0.01, "eye": 1.0, "round_a": 0.01, "ripple": 0.0,
    "catches_surge": False, "volt_gain": 0.0, "volt_step_v": 0.1, "watch_min": 1.0, "meter_gain": 0.0,
    "forgets": 0.0,
}  # fmt: skip
UNWRITTEN = Notes(date=date(2025, 5, 3), lawn="bank")


def exact_reader(seed: int = 0, **other: object) -> Reader:
    """Somebody whose instruments have no error but the steps of their display."""
    return replace(draw_reader(np.random.default_rng(seed), 20.0, False), **(EXACT | other))  # type: ignore[arg-type]


def steady(amps: float, seconds: int = 1200) -> Happened:
    """A mow at one constant current."""
    return Happened(
        amps=np.full(seconds, amps),
        cutting=np.arange(seconds) > 20,
        idle=slice(4, 20),
        most_a=10 * amps,
        load_v=np.full(seconds, 48.04),
        before_v=51.3,
        rested_before_min=60.0,
        after_v=49.1,
        rested_after_min=10.0,
        whole_min=25.0,
        clear_min=20.0,
        share_before=1.0,
        share_after=0.5,
        gauge_v=(45.0, 51.0),
        full_ah=7.0,
        full_wh=330.0,
    )


@pytest.fixture(scope="module", params=CHEMISTRIES)
def season(request) -> HandSeason:
    return make_season(4, request.param, 5)


@pytest.mark.parametrize("habit", HABITS)
def test_every_habit_mows_the_lawn_once_within_what_the_controller_gives(habit):
    owner = draw_hand_owner(0, "nmc")
    day = draw_day(np.random.default_rng(3))
    power, area = HABITS[habit](np.random.default_rng(5), owner.crew, owner.fields[0], day)
    assert len(power) == len(area)
    assert area[-1] == pytest.approx(owner.fields[0].area_m2) and (np.diff(area) >= 0).all()
    assert power.min() > 0 and power.max() <= 1.2 * owner.crew.most_w


def test_habits_differ_in_how_mean_median_and_highest_lie():
    owner = draw_hand_owner(0, "nmc")
    field = replace(owner.fields[0], area_m2=1500.0)
    crew = replace(owner.crew, most_w=100 * owner.crew.most_w)
    shape = {}
    for name, walk in HABITS.items():
        power, area = walk(np.random.default_rng(8), crew, field, Day(25.0, 0.1))
        cut = power[np.diff(area, prepend=0.0) > 0]
        shape[name] = cut.mean() / np.median(cut), cut.max() / cut.mean()
    assert shape["tufts"][0] > 1.1 and shape["tufts"][1] > 2 * shape["clogging"][1]
    assert all(0.9 < ratio < 1.1 for ratio, _ in (shape["strokes"], shape["hills"], shape["clogging"]))


def test_swings_within_a_second_leave_its_mean_and_a_slow_clamp_holds_less_of_them():
    swing = ripple(np.random.default_rng(0), 600, 0.3)
    assert swing.shape == (600, HERTZ) and swing.mean(1) == pytest.approx(np.ones(600))
    held = [clamp_shows(swing.ravel(), tau).max() for tau in (0.1, 0.2, 0.3)]
    assert held[0] > held[1] > held[2] > 1.0
    step = clamp_shows(np.ones(100), 0.2)
    assert step[1] == pytest.approx(1 - np.exp(-1)) and step[-1] == pytest.approx(1.0)


@pytest.mark.parametrize("lean", [0.0, 1.0])
def test_a_constant_load_is_typical_mean_and_highest_alike(lean):
    reader = exact_reader(lean=lean, writes=frozenset(Notes.__dataclass_fields__), early=False, gauge="")
    notes = write(np.random.default_rng(1), reader, steady(17.5), UNWRITTEN)
    assert notes.idle_a == notes.typical_a == notes.highest_a == pytest.approx(17.5, abs=0.011)
    assert (notes.load_volts_v, notes.volts_before_v, notes.volts_after_v) == (48.0, 51.3, 49.1)
    assert notes.gauge_before is None and notes.put_back_ah == pytest.approx(7.0, abs=0.11)
    assert notes.socket_wh > notes.pack_wh >= 330


def test_who_holds_from_before_the_start_writes_the_surge_and_who_forgets_a_break_too_many_minutes():
    rng = np.random.default_rng
    calm = highest_of(rng(2), exact_reader(), steady(10.0))
    surge = highest_of(rng(2), exact_reader(catches_surge=True, surge=6.0, clamp_tau_s=0.1), steady(10.0))
    assert calm == pytest.approx(10.0, abs=0.011) and 20 < surge < 60
    every = frozenset({"minutes"})
    minutes = [
        write(rng(3), exact_reader(keeps_break=keeps, writes=every), steady(10.0), UNWRITTEN).minutes
        for keeps in (False, True)
    ]
    assert minutes[1] - minutes[0] == 5.0


def test_what_is_not_usually_written_is_missing_and_the_rest_stands_on_the_steps_of_its_display(season):
    assert len(season.notes) == len(season.truths) == 5
    for notes in season.notes:
        written = {name for name, value in vars(notes).items() if value is not None}
        assert written <= season.reader.writes | {"date", "lawn"}
        for value, step in (
            (notes.typical_a, season.reader.round_a),
            (notes.minutes, season.reader.watch_min),
            (notes.volts_after_v, 0.1),
        ):
            assert value is None or value / step == pytest.approx(round(value / step), abs=1e-6)


def test_charge_energy_and_minutes_of_the_truth_add_up(season):
    owner = season.owner
    for true in season.truths:
        in_break_ah = 0.4 * (true.whole_minutes - true.minutes) / 60
        assert -0.01 <= true.charge_ah - true.mean_a * true.minutes / 60 <= in_break_ah + 0.01
        volts = true.energy_wh / true.charge_ah
        assert owner.cut_off_v < volts < season.owner.series * 4.2
        spent = (true.charge_start - true.charge_end) * season.usable_ah
        assert spent == pytest.approx(true.charge_ah, abs=1e-4)
        assert true.idle_a < true.mean_a < true.highest_a and true.mean_a <= true.cutting_a * 1.001
        assert true.mean_a <= 2.0 * owner.label_ah
        assert true.left_half_min == pytest.approx(true.left_end_min + true.minutes / 2)
        if true.left_end_min > 0:
            assert not true.cut and true.to_cut_ah > true.charge_ah


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_minutes_left_shrink_by_the_minutes_mown_down_to_nothing_at_the_cut_off(chemistry):
    owner = draw_hand_owner(2, chemistry)
    rng = np.random.default_rng(4)
    whole = draw_outing(rng, owner, "strokes", owner.fields[0], Day(25.0, 0.1))
    clear = np.ones(len(whole.power_w), bool)
    clear[whole.pause] = False
    load = np.concatenate([whole.power_w[clear], whole.on_w])
    cutting = np.concatenate([whole.cutting[clear], np.ones(len(whole.on_w), bool)])

    def stopped_at(second: int) -> Outing:
        parts = {"power_w": load[:second], "on_w": load[second:], "cutting": cutting[:second]}
        return replace(whole, **parts, area_m2=np.arange(second) * 1.0, pause=slice(0, 0))

    stops = [200, 600, 1000, 8 * (len(load) // 8)]
    outings = [stopped_at(s) for s in stops]
    truths = [true_of(o, make_mows(owner, [o]), 0, 10.0) for o in outings]
    total = [t.minutes + t.left_end_min for t in truths]
    assert total == pytest.approx([total[-1]] * 4, abs=0.6)
    assert truths[-1].cut and truths[-1].left_end_min == 0.0
    assert truths[-1].to_cut_ah == truths[-1].charge_ah
    assert [t.to_cut_ah for t in truths] == pytest.approx([truths[-1].charge_ah] * 4, rel=0.02)


def test_energy_is_what_the_load_asked_for_and_open_volts_rise_with_rest():
    owner = draw_hand_owner(0, "nmc")
    owner = replace(owner, crew=replace(owner.crew, droop=0.0))
    outing = draw_outing(np.random.default_rng(1), owner, "patchy", owner.fields[0], Day(25.0, 0.1))
    went = make_mows(owner, [outing])
    assert true_of(outing, went, 0, 1.0).energy_wh == pytest.approx(outing.power_w.sum() / 3600, rel=2e-3)
    volts = [went.rested_v(0, minutes) for minutes in (1.0, 10.0, 60.0)]
    assert float(went.mowing.voltage_v[0, -1]) < volts[0] < volts[1] < volts[2]


def test_a_seed_says_the_same_every_time_a_longer_season_begins_alike_and_halves_share_none():
    first, again, longer, other = (
        make_season(s, "lead-acid", n) for s, n in ((6, 2), (6, 2), (6, 3), (7, 2))
    )
    assert first.notes == again.notes and first.truths == again.truths
    assert [t.mean_a for t in longer.truths[:2]] == pytest.approx([t.mean_a for t in first.truths], rel=1e-3)
    assert first.truths != other.truths
    assert not set(seeds("open", 9)) & {other.owner.seed}


@pytest.mark.parametrize("chemistry", ["nmc", "lead-acid"])
def test_the_need_of_days_is_more_than_their_energy_and_grows_with_it(chemistry):
    season = make_season(4, chemistry, 1)
    season = replace(season, owner=hurried(season.owner, 0.2))
    need, owner = need_of(season, days=6), season.owner
    full_v = 4.2 if chemistry == "nmc" else 2.15
    left = END_OF_LIFE * (1 - RESERVE) * owner.series * 3600
    assert (need.needs_ah * left * full_v > need.energy_j).all()
    assert np.corrcoef(need.needs_ah, need.energy_j)[0, 1] > 0.8
