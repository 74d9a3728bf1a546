"""Amps and minutes without volts: the pack's usual volts stand in, with a band that holds."""

from __future__ import annotations

import csv
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from planted_packs import open_circuit_v

from estimator.descriptions import Lawn, Pack
from estimator.errors import InputError
from estimator.fitting.by_hand.spot_charge import spot_charge
from estimator.fitting.by_hand.spot_volts import with_usual_volts
from estimator.fitting.by_hand.weighing import weigh
from estimator.fitting.load.features import mow_features
from estimator.fitting.pack.pack_fit import fit_pack
from estimator.importer.by_hand.amps import mean_current
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.importer.log import SpotNotes
from estimator.mow import Mow

LAWN = Lawn("apple rows", 420)
CRATE = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, name="crate")
NOTES = SpotNotes(idle_a=1.5, typical_a=4.4, highest_a=12.0, minutes=26)
SAMPLES = Path(__file__).parents[3] / "sample_logs"


def test_four_numbers_make_a_mow() -> None:
    """4.4 A typical and 1.5 A idle are 4.08 A on average, 1.77 Ah in 26 min; from full at some 52.4 V."""
    found = mow_features(Mow(log_from_spot(NOTES), LAWN, pack=CRATE))
    mean = mean_current(NOTES)
    assert found.energy_wh == pytest.approx(mean.amps * 26 / 60 * 52.2, rel=0.03)
    assert found.typical_v == pytest.approx(52.2, abs=0.4)
    assert found.whole and found.spot
    assert found.peak_1s_w > found.mean_w


def test_a_start_that_is_known_narrows_and_moves_the_volts() -> None:
    full, half = (spot_charge(NOTES, CRATE, start) for start in (1.0, 0.5))
    assert full.wh / full.ah > half.wh / half.ah + 2
    # 1.77 of 10 Ah used from one half: the middle of the mow is near 0.41
    assert half.wh / half.ah == pytest.approx(13 * float(open_circuit_v("nmc", 0.41)), abs=1.0)


def test_missing_volts_widen_the_energy_and_stay_within_it() -> None:
    read = SpotNotes(**{**vars(NOTES), "load_v": 51.0})
    without, with_volts = (mow_features(Mow(log_from_spot(one), LAWN, pack=CRATE)) for one in (NOTES, read))
    assert without.energy_log_std > with_volts.energy_log_std
    assert abs(math.log(without.energy_wh / with_volts.energy_wh)) < without.energy_log_std


def test_what_stands_in_is_said_with_its_band() -> None:
    log = with_usual_volts(log_from_spot(NOTES), CRATE)
    assert re.fullmatch(
        r"No volts were read: 5[12]\.\d V within ± \d\.\d V \(90 % band\), usual for crate under this load, "
        r"stand in\.",
        log.notes[-1],
    )
    assert log.readings["voltage_v"].notna().all()
    assert with_usual_volts(log, CRATE) is log


def test_volts_that_were_read_are_left_alone() -> None:
    log = log_from_spot(SpotNotes(typical_a=5, minutes=20, load_v=50))
    assert with_usual_volts(log, CRATE) is log


def test_without_a_pack_the_missing_number_is_named_and_what_else_would_do() -> None:
    with pytest.raises(InputError) as refused:
        mow_features(Mow(log_from_spot(NOTES, "note.csv"), LAWN))
    assert str(refused.value) == (
        "note.csv: volts are missing, and no pack is known whose usual volts could stand in; note volts at "
        "rest before or after, or while cutting, or describe the pack and name it"
    )


def test_a_fit_is_not_handed_volts_that_nobody_read() -> None:
    with pytest.raises(InputError) as refused:
        fit_pack([log_from_spot(NOTES, "note.csv")], CRATE)
    assert str(refused.value) == ("note.csv: volts are missing; note them, or take those usual for the pack")


NO_WATCH = SpotNotes(typical_a=4.4, idle_a=1.5, rest_before_v=54.3, rest_after_v=49.6, rested_minutes=30)


def test_minutes_that_nobody_noted_come_out_of_volts_at_rest_and_amps() -> None:
    """49.6 V at rest are 3.82 V a cell: the charge that the curve says was used by then, at 4.08 A."""
    at = np.linspace(0.2, 1.0, 200)
    left = np.interp(49.6 / 13, open_circuit_v("nmc", at), at)
    minutes = 60 * (1 - left) * CRATE.capacity_ah / mean_current(NO_WATCH).amps
    log = with_usual_volts(log_from_spot(NO_WATCH), CRATE, 1.0)
    assert log.readings["time_s"].iloc[-1] / 60 == pytest.approx(minutes, rel=0.2)
    assert re.fullmatch(
        r"Minutes were not noted: \d+ \(\d+ to \d+ in 90 of 100 cases\), by the amps and what was used, "
        r"stand in\.",
        log.notes[-1],
    )
    assert with_usual_volts(log, CRATE, 1.0) is log


def test_a_mow_without_minutes_tells_its_energy_and_hardly_its_pace() -> None:
    timed = replace(NO_WATCH, minutes=60)
    without, noted = (
        mow_features(Mow(log_from_spot(one), LAWN, pack=CRATE, start_charge=1.0)) for one in (NO_WATCH, timed)
    )
    assert noted.energy_log_std < without.energy_log_std < 0.3
    assert without.pace_log_std > 2 * noted.pace_log_std == pytest.approx(0.2)
    assert without.hand_ratio is None  # the person's habit cannot be told from the minutes
    assert without.mean_w == pytest.approx(3600 * without.energy_wh / without.motor_s)


def test_minutes_that_no_pack_can_tell_are_asked_for() -> None:
    with pytest.raises(InputError) as refused:
        mow_features(Mow(log_from_spot(NO_WATCH, "note.csv"), LAWN))
    assert str(refused.value) == (
        "note.csv: minutes are missing, and no pack is known that could tell them; note them, or describe "
        "the pack and name it"
    )


def orchard() -> list[tuple[SpotNotes, Pack, float, float]]:
    """Mean amps and minutes, the pack, the true start and the true mean volts of the invented mows."""
    crate = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    box = Pack(chemistry="lfp", series=12, capacity_ah=10.0, cut_off_v=30.0)
    found = []
    for row in csv.DictReader((SAMPLES / "truth" / "mows.csv").read_text().splitlines()):
        ah, wh, minutes = (float(row[name]) for name in ("used_ah", "used_wh", "mowing_minutes"))
        notes = SpotNotes(mean_a=60 * ah / minutes, minutes=minutes)
        found.append((notes, crate if wh / ah > 42 else box, float(row["start_charge"]), wh / ah))
    return found


def test_the_invented_orchard_lies_in_the_band() -> None:
    """Of its 34 mows 29 began full; for every third the start is told."""
    mows = orchard()
    full = [mow for mow in mows if mow[2] == 1.0]
    assert (len(mows), len(full)) == (34, 29)
    for notes, pack, start, true_v in mows[::3]:
        found = weigh(notes, pack, start)
        volts = found.wh / found.ah
        assert abs(true_v - np.median(volts)) <= 2.6 * volts.std()


def test_the_rest_of_hand_readings_does_not_lift_the_volts_under_load() -> None:
    """97 % of the mean of 54 and 52 V is 51.41 V; with the rests before and after included it was 52.0 V."""
    notes = SpotNotes(typical_a=5, minutes=20, rest_before_v=54, rest_after_v=52)
    assert mow_features(Mow(log_from_spot(notes), LAWN)).typical_v == pytest.approx(51.41)
