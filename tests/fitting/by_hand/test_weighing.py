"""All hand readings of one mow together: limits on paper, planted mows, contradictions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hand_read_mows import noted_mow, planted_pack
from hypothesis import given, settings
from hypothesis import strategies as st
from planted_mows import plant
from scipy.special import ndtr

from estimator.descriptions import Grass, Pack
from estimator.errors import InputError
from estimator.fitting.by_hand.hand_model import GAUGE_STD
from estimator.fitting.by_hand.spot_charge import spot_charge
from estimator.fitting.by_hand.spot_volts import with_usual_volts
from estimator.fitting.by_hand.weighing import weigh
from estimator.fitting.pack.open_circuit import GRID, grid_open_circuit_v
from estimator.importer.by_hand.amps import AVERAGE_STD, Habit, mean_current
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.importer.log import SpotNotes

NMC = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
LFP = Pack(chemistry="lfp", series=16, capacity_ah=10.0, cut_off_v=40.0)
LEAD = Pack(chemistry="lead_acid", series=24, capacity_ah=20.0, cut_off_v=42.0)
AMPS = SpotNotes(idle_a=4, typical_a=10, highest_a=28, minutes=30)


@pytest.mark.parametrize("pack", [NMC, LFP, LEAD], ids=lambda pack: pack.chemistry)
def test_amps_and_minutes_alone_are_amps_times_minutes(pack):
    found, mean = spot_charge(AMPS, pack, 1.0), mean_current(AMPS)
    assert found.ah == pytest.approx(mean.amps / 2, rel=0.03)
    assert mean.log_std < found.ah_std / found.ah < 1.25 * mean.log_std  # the watch, perhaps a break
    assert found.charge_before - found.charge_after == pytest.approx(found.ah / pack.capacity_ah, rel=0.1)
    assert found.wh / found.ah < spot_charge(replace(AMPS, minutes=2), pack, 1.0).wh / 0.28


def test_charge_put_back_is_the_charge_used_where_the_pack_was_full():
    """5.0 Ah put back into lithium cells mean that 5.0 Ah times 0.995 were used, within the meter's 2 %."""
    found = spot_charge(replace(AMPS, put_back_ah=5.0), NMC, 1.0)
    assert found.ah == pytest.approx(0.995 * 5.0, rel=0.02)
    assert found.ah_std / found.ah < 0.035
    assert found.mean_a == pytest.approx(2 * found.ah, rel=0.02)


def test_charge_put_back_tells_a_mow_whose_amps_nobody_read():
    """5.0 Ah put back after half an hour from full: 0.995 of that was used, at twice as many amps."""
    found = spot_charge(SpotNotes(put_back_ah=5.0, minutes=30), NMC, 1.0)
    assert found.ah == pytest.approx(0.995 * 5.0, rel=0.02)
    assert found.ah_std / found.ah < 0.05  # counted once: a wide belief in the amps, and the charger


def test_lead_acid_takes_more_than_it_gave():
    lithium, lead = (spot_charge(replace(AMPS, put_back_ah=5.0), pack, 1.0) for pack in (NMC, LEAD))
    assert lead.ah / lithium.ah == pytest.approx(0.87 / 0.995, rel=0.05)


def test_energy_at_the_socket_says_less_than_at_the_pack():
    """300 Wh at the socket are 261 Wh at the pack through a charger of 87 %."""
    socket = spot_charge(replace(AMPS, socket_wh=300.0), NMC, 1.0)
    at_pack = spot_charge(replace(AMPS, put_back_wh=0.87 * 300.0), NMC, 1.0)
    assert socket.ah == pytest.approx(at_pack.ah, rel=0.03)
    assert at_pack.ah_std < socket.ah_std < spot_charge(AMPS, NMC, 1.0).ah_std


def test_a_charger_that_began_with_less_than_full_put_back_more():
    """Of 6 Ah put back after a start at 80 %, 2 Ah had been missing before."""
    found = spot_charge(replace(AMPS, put_back_ah=6.0), NMC, 0.8)
    assert found.ah == pytest.approx(4.0, abs=0.35)


def test_volts_at_rest_narrow_the_charge_of_nmc_and_hardly_that_of_lfp():
    def narrowed(pack: Pack, after_v: float) -> float:
        both = spot_charge(replace(AMPS, rest_after_v=after_v, rested_minutes=30), pack, 1.0)
        return both.charge_after_std / spot_charge(AMPS, pack, 1.0).charge_after_std

    assert narrowed(NMC, 13 * 3.83) < 0.8
    assert narrowed(LFP, 16 * 3.27) > 0.8


def test_a_start_that_nobody_told_is_read_from_the_volts():
    half = spot_charge(replace(AMPS, minutes=5, rest_before_v=13 * 3.75), NMC)
    full = spot_charge(replace(AMPS, minutes=5, rest_before_v=13 * 4.17), NMC)
    assert half.charge_before == pytest.approx(0.5, abs=0.1)
    assert full.charge_before > 0.97


def test_one_slip_does_not_outvote_the_rest():
    """A slipped decimal point, 50 Ah for 5.0: the answer hardly moves away from the amps, and is no surer."""
    plain, slip = (spot_charge(one, NMC, 1.0) for one in (AMPS, replace(AMPS, put_back_ah=50.0)))
    assert slip.ah / plain.ah < 1.6
    assert weigh(replace(AMPS, put_back_ah=50.0), NMC, 1.0).surprise["put_back_ah"] > 5


def test_a_habit_that_is_known_moves_and_narrows_the_mean():
    told = spot_charge(AMPS, NMC, 1.0, habit=Habit(-0.2, 0.03, 0.05))
    assert told.mean_a == pytest.approx(np.exp(-0.2) * mean_current(AMPS).amps, rel=0.02)
    assert told.mean_a_std < 0.5 * spot_charge(AMPS, NMC, 1.0).mean_a_std


def test_a_meter_s_average_leaves_little_doubt():
    found = spot_charge(SpotNotes(mean_a=8.0, minutes=30), NMC, 1.0)
    assert found.mean_a == pytest.approx(8.0, rel=0.01)
    assert found.mean_a_std / 8.0 == pytest.approx(AVERAGE_STD, rel=0.1)


def test_what_is_missing_is_said():
    with pytest.raises(InputError, match="typical amps are missing"):
        spot_charge(SpotNotes(rest_before_v=54.0, minutes=20), NMC)
    with pytest.raises(InputError, match="minutes are missing"):
        spot_charge(SpotNotes(typical_a=5.0), NMC)


@settings(max_examples=25, deadline=None)
@given(
    st.floats(0.5, 60), st.floats(0.5, 300), st.none() | st.floats(25, 60), st.none() | st.floats(25, 60),
    st.none() | st.floats(0, 1), st.none() | st.floats(1, 5000), st.sampled_from([NMC, LFP, LEAD]),
)  # fmt: skip
def test_whatever_is_read_an_answer_is_finite(amps, minutes, before, after, gauge, back, pack):
    notes = SpotNotes(
        typical_a=amps, minutes=minutes, rest_before_v=before, rest_after_v=after, gauge_after=gauge,
        put_back_wh=back,
    )  # fmt: skip
    found = spot_charge(notes, pack)
    values = np.array([getattr(found, name) for name in found.__dataclass_fields__])
    assert np.isfinite(values).all()
    assert found.ah > 0 and found.wh > 0 and found.ah_std > 0


def test_bands_hold_on_planted_mows():
    """Packs and mows from plain ranges, read by a person with errors: bands of charge used hold."""
    off = []
    for seed in range(40):
        rng = np.random.default_rng(900 + seed)
        truth = replace(plant(rng, 1), level=0.35)
        pack = planted_pack(NMC, rng)
        mow = noted_mow(truth, replace(truth.lawns[0], area_m2=150.0), Grass("dry", 25), pack, rng)
        found = spot_charge(mow.notes, NMC)
        off.append((found.ah - mow.used_ah) / found.ah_std)
    assert np.mean(np.abs(off) < 1.645) >= 0.85
    assert abs(np.mean(off)) < 0.6


def test_an_nmc_pack_that_was_never_logged_rests_as_published_cells_do():
    """3.716 to 3.787 V when half full and 3.840 to 3.890 V at 65 %: Mohtat 2020, Chen 2020, Ecker 2015 and
    O'Regan 2022, worked out from their half-cell curves with an independent battery library."""
    for charge, volts in ((0.5, (3.751, 3.716, 3.787, 3.686)), (0.65, (3.890, 3.840, 3.842, 3.879))):
        rested = replace(
            AMPS, idle_a=None, highest_a=None, minutes=1, rest_after_v=13 * np.mean(volts), rested_minutes=600
        )
        found = spot_charge(rested, replace(NMC, cut_off_v=13 * 2.5))
        assert found.charge_after == pytest.approx(charge, abs=0.05)


def test_a_start_of_which_nothing_is_noted_is_full_nine_times_in_ten():
    """Otherwise it is anywhere from empty to full: mean .9 + .05, variance .9 * .1 / 4 + .1 / 12."""
    pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    found = spot_charge(SpotNotes(typical_a=5.0, minutes=1.0), pack)
    assert found.charge_before == pytest.approx(0.95, abs=0.01)
    assert found.charge_before_std == pytest.approx(0.176, abs=0.015)


@pytest.mark.parametrize("amps", [{}, {"idle_a": 3.0}])
def test_volts_at_rest_and_minutes_alone_tell_the_current(amps):
    """Half the charge of 10 Ah in half an hour is 10 A; the volts are the family's own at full and at half
    charge, after an hour of rest, so the truth is known but for how far cells of a family differ."""
    crate = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    full, half = (13 * float(np.interp(at, GRID, grid_open_circuit_v("nmc"))) for at in (1.0, 0.5))
    notes = SpotNotes(minutes=30.0, rest_before_v=full, rest_after_v=half, rested_minutes=60.0, **amps)
    found = spot_charge(notes, crate, 1.0)
    assert abs(found.mean_a - 10.0) < 1.645 * found.mean_a_std < 5.0


def test_no_amps_are_said_to_have_been_read():
    crate = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    log = log_from_spot(SpotNotes(minutes=30.0, rest_before_v=54.0, rest_after_v=50.0))
    stood_in = with_usual_volts(log, crate, 1.0)
    assert "No amps were read: " in stood_in.notes[-1]
    assert with_usual_volts(stood_in, crate, 1.0).notes == stood_in.notes


def test_a_gauge_at_three_quarters_leaves_a_full_pack_even_odds():
    """0.12 off as gauges are, two deviations: 0.9 · exp(-2.17) for full, 0.1 · 0.12 · √(2π) · Φ(2.08) for any
    other start: 77 %, and else 0.75, or 0.74 where no pack holds more than all."""
    found = spot_charge(SpotNotes(typical_a=5.0, minutes=1.0, gauge_before=0.75), NMC)
    full = 0.9 * np.exp(-0.5 * (0.25 / GAUGE_STD) ** 2)
    other = 0.1 * GAUGE_STD * np.sqrt(2 * np.pi) * ndtr(0.25 / GAUGE_STD)
    share = full / (full + other)
    assert found.charge_before == pytest.approx(share + (1 - share) * 0.74, abs=0.015)
