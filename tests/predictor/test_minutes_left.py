"""Minutes left for planted truths and for an electrochemical model's discharges (see `make_truths.py`)."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from planted_packs import FINE, part, planted_log

from estimator.descriptions import Pack
from estimator.fitting.pack.pack_fit import fit_pack
from estimator.importer.log import Log
from estimator.predictor.minutes import minutes_left

TRUTHS = Path(__file__).parent / "truths"
PACKS = {"nmc": Pack("nmc", 13, 10.0, 2.8 * 13), "lfp": Pack("lfp", 15, 9.2, 2.5 * 15)}


def truth(name):
    readings = pd.read_csv(TRUTHS / f"{name}.csv").assign(temperature_c=float(name.split("_")[1][:-1]))
    return Log(readings, error=FINE, name=name)


@pytest.fixture(scope="module")
def answers():
    """Answers half-way through every discharge that the fit has not seen: 20 of them."""
    rows = []
    for chemistry, rated in PACKS.items():
        fitted = fit_pack([truth(f"{chemistry}_25c_100_0"), truth(f"{chemistry}_10c_100_0")], rated)
        for warmth in (25, 10):
            for start, seed in [(100, 1), (100, 2), (60, 0), (60, 1), (60, 2)]:
                log = truth(f"{chemistry}_{warmth}c_{start}_{seed}")
                whole = log.readings["time_s"].iloc[-1]
                rest = part(log, from_s=whole / 2)
                rest = Log(rest.readings.drop(columns="temperature_c"), error=FINE)
                for load in (None, rest):
                    said = minutes_left(part(log, upto_s=whole / 2), fitted, start / 100, load, draws=600)
                    rows.append((chemistry, warmth, start, load is not None, whole / 120, whole / 60, said))
    return rows


@pytest.mark.parametrize(("chemistry", "allowed"), [("nmc", 0.03), ("lfp", 0.06)])
def test_half_way_with_the_load_known(answers, chemistry, allowed):
    errors = [
        abs(m.minutes - left) / whole
        for c, _, _, known, left, whole, m in answers
        if c == chemistry and known
    ]
    assert len(errors) == 10
    assert np.median(errors) < allowed
    assert np.max(errors) < 2.5 * allowed


@pytest.mark.parametrize(("chemistry", "allowed"), [("nmc", 0.03), ("lfp", 0.06)])
def test_half_way_with_the_load_as_before(answers, chemistry, allowed):
    errors = [
        abs(m.minutes - left) / whole
        for c, _, _, known, left, whole, m in answers
        if c == chemistry and not known
    ]
    assert np.median(errors) < allowed


def test_the_band_holds_about_as_often_as_it_says(answers):
    inside = [m.low <= left <= m.high for _, _, _, known, left, _, m in answers if not known]
    assert len(inside) == 20
    assert np.mean(inside) >= 0.75  # 15 of 20 or more: if 90 % is true, this fails once in ninety times
    width = [(m.high - m.low) / whole for _, _, _, known, _, whole, m in answers if not known]
    assert np.median(width) < 0.25


@pytest.fixture(scope="module")
def planted():
    rng = np.random.default_rng(11)
    logs = [planted_log(rng)[0] for _ in range(3)]
    fitted = fit_pack(logs[:2], Pack("nmc", 13, 10.5, 39.0))
    return logs[2], fitted


def test_answers_repeat_and_hardly_depend_on_the_draws(planted):
    log, fitted = planted
    half = part(log, upto_s=log.readings["time_s"].iloc[-1] / 2)
    first, second = minutes_left(half, fitted, 1.0), minutes_left(half, fitted, 1.0)
    assert first.minutes == second.minutes and first.low == second.low
    other = minutes_left(half, fitted, 1.0, seed=2)
    assert 0 < abs(other.minutes - first.minutes) < 0.04 * first.minutes


def test_the_answer_names_what_limits_it(planted):
    log, fitted = planted
    said = minutes_left(part(log, upto_s=600), fitted, 1.0)
    assert said.doubts[0].cause == "load"
    assert said.doubts[0].measure.startswith("Log more of this mowing")
    assert sum(one.share for one in said.doubts) <= 1.0 + 1e-9


def test_a_known_load_is_followed_and_repeated(planted):
    log, fitted = planted
    half = part(log, upto_s=900)
    light = pd.DataFrame({"time_s": [0.0, 600.0], "current_a": 2.0, "voltage_v": 50.0})
    heavy = light.assign(current_a=12.0)
    slow = minutes_left(half, fitted, 1.0, Log(light, error=FINE))
    fast = minutes_left(half, fitted, 1.0, Log(heavy, error=FINE))
    assert 5.0 < slow.minutes / fast.minutes < 8.0


def test_thicker_grass_on_the_way_weighs_more_than_the_start(planted):
    _, fitted = planted
    time_s = np.arange(0, 1801.0)
    rng = np.random.default_rng(3)
    amps = np.where(time_s < 1200, 5.0, 10.0) * rng.lognormal(0, 0.05, len(time_s))
    frame = pd.DataFrame(
        {"time_s": time_s, "current_a": amps, "voltage_v": 52.0 - 0.15 * amps - time_s / 1800}
    )
    said = minutes_left(Log(frame, error=FINE), fitted, 1.0)
    assert said.mean_power_w > 460  # the last third draws about 500 W, the whole log 350 W


def test_a_wide_prior_gives_a_wide_band(planted):
    log, fitted = planted
    half = part(log, upto_s=900)
    rated = Pack("nmc", 13, 10.5, 39.0)
    wide, narrow = minutes_left(half, rated, 1.0), minutes_left(half, fitted, 1.0)
    assert wide.high - wide.low > narrow.high - narrow.low
    tired = replace(rated, cut_off_v=45.0)
    assert minutes_left(half, tired, 1.0).minutes < wide.minutes


def test_a_load_beyond_the_pack_stops_it_within_the_seconds_that_a_controller_looks_at():
    """60 A near the end: the only doubt left is over how many seconds a controller judges the voltage, a
    handful by common practice. No stop is known to the second."""
    log = planted_log(np.random.default_rng(4))[0]
    near = part(log, upto_s=log.readings["time_s"].iloc[-1] - 100)
    heavy = pd.DataFrame({"time_s": [0.0, 60.0], "current_a": 60.0, "voltage_v": 40.0})
    said = minutes_left(near, Pack("nmc", 13, 10.5, 39.0), 1.0, Log(heavy, error=FINE), draws=300)
    assert said.minutes == pytest.approx(0.0, abs=0.02)
    assert 3.0 < 60 * said.high < 8.0


def test_what_the_clamp_reads_too_high_is_not_drawn_from_the_pack(planted):
    """10 A read for 9 A that flow: what is left lasts as long as it does at 9 A."""
    _, fitted = planted
    log, _ = planted_log(np.random.default_rng(12), zero_a=1.0)
    unsure = replace(FINE, current_zero_a=1.0)
    whole = log.readings["time_s"].iloc[-1]
    half, rest = part(log, upto_s=whole / 2), part(log, from_s=whole / 2)
    said = minutes_left(replace(half, error=unsure), fitted, 1.0, replace(rest, error=unsure))
    assert said.minutes == pytest.approx(whole / 120, rel=0.05)
