"""Hand readings unlikely for the pack are reported, likely ones not; nothing is silently corrected."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from planted_packs import open_circuit_v

from estimator.descriptions import Grass, Lawn, Pack
from estimator.fitting.by_hand.pack_by_hand import learn_by_hand
from estimator.fitting.by_hand.spot_charge import spot_charge
from estimator.fitting.by_hand.spot_doubts import habit_doubts, spot_doubts
from estimator.fitting.load.features import mow_features
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.importer.log import SpotNotes
from estimator.mow import Mow

CRATE = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, current_limit_a=30.0, name="crate")


def said(pack: Pack = CRATE, **readings: float) -> tuple[str, ...]:
    return spot_doubts(SpotNotes(**{"typical_a": 4.4, "minutes": 20, **readings}), pack)


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        (
            {"typical_a": 44, "minutes": 6},
            "Typical amps are 44, over the limit of 30 A of crate: check them.",
        ),
        ({"mean_a": 34}, "Mean amps are 34, over the limit of 30 A of crate: check them."),
        ({"highest_a": 46}, "Highest amps are 46, over the limit of 30 A of crate: check them."),
        (
            {"minutes": 600},
            "4.4 A typical for 600 min are more than crate holds (10 Ah): check amps and minutes.",
        ),
        (
            {"rest_before_v": 36},
            "Volts at rest before are 36, below the cut-off of 39 V at which crate stops: check them.",
        ),
        (
            {"rest_after_v": 38.9},
            "Volts at rest after are 38.9, below the cut-off of 39 V at which crate stops: check them.",
        ),
        (
            {"rest_before_v": 57},
            "Volts at rest before are 57, but 13 nmc cells in series are full at 54.6 V: check them.",
        ),
        ({"rest_before_v": 52, "rest_after_v": 53.5}, "Volts at rest rise from 52 to 53.5 while mowing"),
        (
            {"rest_before_v": 52, "load_v": 53},
            "Volts while cutting are 53, above those at rest before (52): check them.",
        ),
        (
            {"gauge_before": 0.4, "gauge_after": 0.6},
            "The gauge rises from 40 to 60 % while mowing: check it.",
        ),
        (
            {"typical_a": 6, "minutes": 30, "put_back_ah": 25.0},
            "Ah put back are much higher than all other readings say: check them.",
        ),
        (  # a gauge that agrees with the amps is not the one that is named
            {"typical_a": 6, "minutes": 30, "put_back_ah": 25.0, "gauge_before": 0.9, "gauge_after": 0.6},
            "Ah put back are much higher than all other readings say: check them.",
        ),
    ],
)
def test_what_is_unlikely_is_said(readings: dict[str, float], words: str) -> None:
    assert any(words in sentence for sentence in said(**readings))


def test_amps_are_judged_by_the_capacity_where_no_limit_is_known() -> None:
    free = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, name="crate")
    assert said(free, typical_a=44, minutes=6) == (
        "40.6 A on average would empty crate of 10 Ah in 15 min: check the amps.",
    )
    assert said(free, typical_a=29, minutes=6) == ()


@pytest.mark.parametrize(
    "readings",
    [
        {},
        {"idle_a": 1.5, "highest_a": 12, "minutes": 26},
        {"rest_before_v": 54.2, "rest_after_v": 52.4, "load_v": 52.0},
        {"minutes": 4, "rest_before_v": 50, "rest_after_v": 50.1},
        {"highest_a": 44},
        {"typical_a": 32, "minutes": 10, "gauge_before": 0.9},
        {"minutes": 140},
        {"gauge_before": 0.8, "gauge_after": 0.8},
    ],
)
def test_what_is_likely_is_not_doubted(readings: dict[str, float]) -> None:
    assert said(**readings) == ()


def test_honest_readings_of_many_mows_are_hardly_ever_doubted() -> None:
    """Planted: charge by the curve, meters off by 0.1 V, amps by up to a quarter; few are doubted."""
    rng = np.random.default_rng(5)
    doubted = 0
    for _ in range(40):
        begin, minutes = rng.uniform(0.5, 1.0), rng.uniform(8, 40)
        amps = rng.uniform(3, 8)
        before, after = (
            13 * float(open_circuit_v("nmc", charge)) + rng.normal(0, 0.1)
            for charge in (begin, max(begin - amps * minutes / 600, 0.15))
        )
        minutes = min(minutes, (begin - 0.15) * 600 / amps)
        noted = amps * rng.normal(1, 0.15)
        readings = {"typical_a": noted, "idle_a": 0.35 * noted, "highest_a": 2.5 * noted, "minutes": minutes}
        doubted += bool(said(**readings, rest_before_v=before, rest_after_v=after))
    assert doubted <= 3


def test_rest_volts_that_rise_do_not_outweigh_the_amps() -> None:
    readings = {"rest_before_v": 36.0, "rest_after_v": 53.5}
    notes = SpotNotes(typical_a=4.4, minutes=20, **readings)
    found, alone = spot_charge(notes, CRATE), spot_charge(SpotNotes(typical_a=4.4, minutes=20), CRATE)
    assert found.ah == pytest.approx(alone.ah, rel=0.05)
    assert any("Volts at rest rise" in sentence for sentence in said(**readings))


def test_volts_in_doubt_teach_the_pack_nothing() -> None:
    odd = SpotNotes(typical_a=5, minutes=5, load_v=45, rest_before_v=36, rest_after_v=53.5)
    good = SpotNotes(typical_a=5, minutes=5, load_v=50, rest_before_v=54, rest_after_v=53.5)
    before = as_fitted(CRATE)
    assert learn_by_hand(CRATE, odd).resistance_ohm == before.resistance_ohm
    assert learn_by_hand(CRATE, good).resistance_ohm != before.resistance_ohm


def test_amps_that_a_person_never_read_before_are_called_odd_and_others_are_not():
    """Four mows at 12.5 to 13 A, one with 21.7 typed for 12.7: by log(21.7 / 12.7) = 0.54, where the spread,
    the usual 0.14 counting as four mows of eight, is 0.10 and a fifth mow adds an eighth: five of them."""
    crate = Pack(chemistry="nmc", series=13, capacity_ah=30, cut_off_v=39)

    def features(typical_a, **more):
        spot = SpotNotes(typical_a=typical_a, minutes=24, rest_before_v=54)
        mow = Mow(log_from_spot(spot), lawn=Lawn("orchard", 300), grass=Grass(), pack=crate, start_charge=1.0)
        return replace(mow_features(mow), **more)

    before = [features(amps) for amps in (12.5, 12.8, 12.6, 13.0)]
    (said,) = habit_doubts(features(21.7), before)
    assert said == (
        "The mean power is much more than in the other mows noted by hand (1.7 times the usual): "
        "check the amps."
    )
    assert "much less" in habit_doubts(features(6.0), before)[0]
    assert habit_doubts(features(15.0), before) == habit_doubts(features(21.7), before[:2]) == ()
    assert habit_doubts(features(21.7, machine="flail"), before) == ()
