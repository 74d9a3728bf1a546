"""Where a log contradicts its pack or its lawn: what happens in sheds passes, what is impossible does not."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pandas as pd
import pytest

from estimator.contradictions import check_date, check_log_of_lawn, check_log_of_pack
from estimator.descriptions import Grass, Lawn, Machine, Pack
from estimator.errors import InputError
from estimator.fitting.pack.pack_fit import fit_pack
from estimator.importer.log import Log
from estimator.mow import Mow

CRATE = Pack("nmc", 13, 10.0, 39.0, name="crate")


def log_of(amps: object, volts: object = 48.0, step_s: float = 1.0, n: int = 600) -> Log:
    frame = pd.DataFrame({"time_s": step_s * np.arange(n), "current_a": amps, "voltage_v": volts})
    return Log(frame, name="mow.csv", longest_step_s=max(10.0, step_s))


def refused(log: Log, pack: Pack = CRATE) -> str:
    """The objection to a log; "" where it passes."""
    try:
        check_log_of_pack(log, pack)
    except InputError as error:
        return str(error)
    return ""


@pytest.mark.parametrize(
    ("volts", "cells"),
    [
        (13 * 4.35, None),  # fresh from a charger that ends at 4.35 V, or read 3 % too high
        (14 * 4.2, 14),  # one cell more
        (13 * 2.5, None),  # as empty as its cells may be
        (6 * 3.75, 6),  # half as many cells, half full
    ],
)
def test_volts_of_other_cells_are_refused_and_those_of_a_tired_or_fresh_pack_are_not(
    volts: float, cells: int | None
) -> None:
    said = refused(log_of(6.0, volts))
    assert (said == "") == (cells is None), said
    assert cells is None or f"about {cells}, by these volts" in said


def test_glitches_and_a_lead_that_came_off_are_no_other_pack() -> None:
    """One reading in a hundred is 99 V, and for a third of the time there are no volts."""
    glitches = np.where(np.arange(600) % 100 == 0, 99.0, 48.0)
    assert refused(log_of(6.0, glitches)) == ""
    assert refused(log_of(6.0, np.where(np.arange(600) < 200, 0.0, 48.0))) == ""


def test_a_few_high_readings_make_no_pack_of_half_the_cells_pass() -> None:
    volts = np.where(np.arange(600) % 100 == 0, 50.0, 6 * 3.75)
    assert "name another pack" in refused(log_of(6.0, volts))


def test_thousandths_of_a_volt_are_named_as_such() -> None:
    assert "columns={'voltage': 'TITLE[mV]'}" in refused(log_of(6.0, 48_000.0))
    assert "name another pack" in refused(log_of(6.0, 24_000.0))


@pytest.mark.parametrize(("drawn", "passes"), [(1.2, True), (1.5, False)])
def test_a_pack_gives_a_fifth_over_its_label_at_most(drawn: float, passes: bool) -> None:
    """Nine cells in ten are within 11 % of their label, a clamp reads up to a tenth high: together 1.2."""
    hour = log_of(10.0 * drawn, step_s=10.0, n=361)
    assert (refused(hour) == "") == passes
    assert passes or f"{10 * drawn:.1f} Ah were drawn in one go, and crate holds 10 Ah" in refused(hour)


@pytest.mark.parametrize(("times", "passes"), [(20.0, True), (40.0, False)])
def test_power_cells_give_their_charge_in_three_minutes_and_none_in_ninety_seconds(
    times: float, passes: bool
) -> None:
    """Data sheets of power cells end at about 20 times the capacity per hour (common practice)."""
    assert (refused(log_of(times * 10.0, n=60)) == "") == passes


@pytest.mark.parametrize(("times", "passes"), [(3.0, True), (6.0, False)])
def test_a_controllers_limit_may_be_the_steady_one_of_three_times_the_peak(
    times: float, passes: bool
) -> None:
    limited = Pack("nmc", 13, 10.0, 39.0, current_limit_a=20.0, name="crate")
    assert (refused(log_of(times * 20.0, n=60), limited) == "") == passes


def test_thousandths_of_an_amp_are_named_as_such() -> None:
    assert "columns={'current': 'TITLE[mA]'}" in refused(log_of(6000.0, n=60))
    assert refused(log_of(400.0, n=60)).endswith("check the unit of the amps")


@pytest.mark.parametrize(
    ("pause_s", "rise", "passes"),
    [
        (5400, 1.03, False),  # an hour and a half, 1.5 V more: a charger
        (5400, 1.01, True),  # cells recover a little by themselves
        (2700, 1.03, True),  # a lunch break: even a charger that was on it leaves one mow
    ],
)
def test_a_charge_between_two_mows_shows_in_the_rest_volts(pause_s: float, rise: float, passes: bool) -> None:
    time_s = np.concatenate([np.arange(600.0), 600 + pause_s + np.arange(600.0)])
    amps = np.tile(np.r_[np.full(30, 0.0), np.full(540, 6.0), np.full(30, 0.0)], 2)
    volts = np.where(amps > 0, 46.0, 48.0) * np.where(time_s < 600, 1.0, rise)
    frame = pd.DataFrame({"time_s": time_s, "current_a": amps, "voltage_v": volts})
    said = refused(Log(frame, name="mow.csv"))
    assert (said == "") == passes, said
    assert passes or "after a pause of 1.5 h the pack is fuller" in said


def test_a_clock_of_another_time_zone_passes_and_one_that_runs_ahead_by_days_does_not() -> None:
    for ahead_h, passes in ((26, True), (24 * 4, False)):
        log = Log(log_of(6.0, n=5).readings, started=datetime.now() + timedelta(hours=ahead_h))
        if passes:
            check_date(log, None)
        else:
            with pytest.raises(
                InputError, match=f"in the future \\(this computer's says {datetime.now():%Y-}"
            ):
                check_date(log, None)
            check_date(log, datetime(2031, 5, 1))


def refused_on(area_m2: float, minutes: float, watts: float, width_m: float | None = None) -> str:
    """The objection to a steady log of so many minutes on a lawn; "" where it passes."""
    log = log_of(watts / 48.0, n=round(60 * minutes) + 1)
    machine = None if width_m is None else Machine(cutting_width_m=width_m)
    try:
        check_log_of_lawn(log, Lawn("meadow", area_m2), machine)
    except InputError as error:
        return str(error)
    return ""


@pytest.mark.parametrize(
    ("area_m2", "minutes", "width_m", "passes"),
    [
        (4000, 20, None, True),  # 200 m² a minute: a ride-on mower 1.2 m wide at 10 km/h
        (4000, 10, None, False),  # twice that
        (1500, 20, 0.5, True),  # 75 m² a minute: half a metre at a run, 2.5 m/s
        (3500, 20, 0.5, False),  # half a metre at 5.8 m/s, three times a brisk walk
        (20, 40, None, True),  # half a square metre a minute: a bank, step by step
        (20, 120, None, False),  # two hours for a patch of 4 m by 5 m
    ],
)
def test_a_pace_that_a_mower_may_have(area_m2: float, minutes: float, width_m: float, passes: bool) -> None:
    said = refused_on(area_m2, minutes, 600.0, width_m)
    assert (said == "") == passes
    assert passes or "which no mower does" in said


@pytest.mark.parametrize(
    ("watts", "width_m", "passes"),
    [
        (15, 0.3, True),  # a small reel that hardly cuts: 50 W/m
        (3, 0.3, False),  # less than its motor takes by itself
        (12_000, None, True),  # a ride-on mower with two metres of blades
        (30_000, None, False),  # the power of a small car
        (3500, 0.5, True),  # a flail mower in tall grass: 7 kW/m
        (8000, 0.5, False),  # more than the engines of tractors give to each metre
    ],
)
def test_a_power_that_a_mower_may_take(watts: float, width_m: float | None, passes: bool) -> None:
    said = refused_on(400, 20, watts, width_m)
    assert (said == "") == passes
    assert passes or "is not the power of a mower" in said


def test_hardly_any_work_is_judged_by_nothing() -> None:
    """Half a minute to see that the clamp reads; two minutes are work."""
    assert refused_on(4000, 0.5, 600.0) == ""
    assert "which no mower does" in refused_on(4000, 2.0, 600.0)


def test_a_mow_that_stopped_short_has_no_pace_of_its_lawn() -> None:
    """Two minutes of a lawn of 4,000 m²: the motor stopped there."""
    check_log_of_lawn(log_of(12.0, n=120), Lawn("meadow", 4000.0), short=True)
    Mow(log_of(12.0, n=120), Lawn("meadow", 4000.0), Grass(), tags=("stopped short",))
    with pytest.raises(InputError, match="which no mower does"):
        Mow(log_of(12.0, n=120), Lawn("meadow", 4000.0), Grass())


def test_standing_about_with_the_controller_on_is_no_work() -> None:
    """4,000 m² in ten minutes of work, though the log lasts over an hour."""
    amps = np.r_[np.full(600, 12.0), np.full(3600, 0.9)]
    with pytest.raises(InputError, match="in 10 min of work would be 400 m²/min"):
        check_log_of_lawn(log_of(amps, n=4200), Lawn("meadow", 4000.0))


def test_a_clamp_s_zero_over_a_day_is_no_contradiction() -> None:
    """9 Ah at 0.3 A in 30 h, read 0.15 A (three sigma) too high: 13.5 Ah from a pack of 9 Ah."""
    slow = Pack("nmc", 13, 9.0, 39.0, name="slow")
    assert refused(log_of(0.45, step_s=60.0, n=1801), slow) == ""
    assert "drawn in one go" in refused(log_of(9.0, step_s=60.0, n=91), slow), "13.5 Ah in an hour and a half"


def test_a_pulsed_load_that_doubles_the_count_is_left_to_the_fit() -> None:
    """Sampled once a pulse, a load counts twice; the volts tell the fit. A wrong unit is refused."""
    twice, milli = log_of(10.0, step_s=10.0, n=700), log_of(6000.0, step_s=10.0, n=700)
    assert "drawn in one go" in refused(twice)
    assert fit_pack([twice], CRATE, start_charges=[1.0]).logs == 1
    with pytest.raises(InputError):
        fit_pack([milli], CRATE, start_charges=[1.0])
