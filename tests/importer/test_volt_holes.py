"""The voltmeter loses contact while the clamp goes on reading: charge and energy stay what they were."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import trapezoid

from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.fitting.charge_used import charge_used
from estimator.fitting.pack.log_grid import trace_of
from estimator.fitting.pack.pack_fit import fit_pack
from estimator.fitting.seasons.discharge_curves import discharge_curve
from estimator.importer.log import Log
from estimator.importer.meter_uncertainty import DRAWN_STD, energy_budget
from estimator.importer.read import Examined, examine_bytes

CRATE = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
RNG = np.random.default_rng(1)
SECONDS = np.arange(1200)
AMPS = np.round(np.where(SECONDS % 40 < 30, 6.0, 2.0) + RNG.normal(0, 0.3, 1200), 2)
VOLTS = np.round(54 - np.cumsum(AMPS) / 3600 * 1.5 - 0.1 * AMPS + RNG.normal(0, 0.02, 1200), 2)
AH = float(trapezoid(AMPS, SECONDS)) / 3600
WH = float(trapezoid(AMPS * VOLTS, SECONDS)) / 3600


def read(
    word: str = "0.0", *holes: tuple[int, int], amps: np.ndarray = AMPS, volts: np.ndarray = VOLTS
) -> Examined:
    """The log, with `word` in place of its volts in these holes [s]."""
    lost = np.zeros(1200, bool)
    for first, last in holes:
        lost[first:last] = True
    lines = [
        f"{t},{a},{word if gone else v}" for t, a, v, gone in zip(SECONDS, amps, volts, lost, strict=True)
    ]
    return examine_bytes([("mow.csv", "\n".join(["time_s,current_a,voltage_v", *lines]).encode())])


def said(found: Examined) -> str:
    return " ".join(found.log.notes)


@pytest.mark.parametrize("word", ["0.0", "", "----", "OL"])
@pytest.mark.parametrize("hole", [(500, 600), (1000, 1200), (10, 300), (300, 1000)])
def test_a_hole_in_the_volts_costs_no_charge(word: str, hole: tuple[int, int]) -> None:
    found = read(word, hole)
    used = charge_used(found.log)
    assert used.ah == pytest.approx(AH, abs=1e-9)
    assert used.gaps == ()
    assert len(found.log.readings) == 1200
    assert used.wh == pytest.approx(WH, rel=0.01)
    clean = charge_used(read().log)
    assert abs(used.wh - WH) < 2 * np.sqrt(used.wh_std**2 - clean.wh_std**2 + 0.02**2)


def test_what_is_said_of_a_dead_contact_is_one_sentence() -> None:
    found = read("0.0", (500, 600))
    gained = (
        energy_budget(found.log).value
        - trapezoid(AMPS * np.where((SECONDS >= 500) & (SECONDS < 600), 0.0, VOLTS), SECONDS) / 3600
    )
    assert (
        "100 readings with impossible volts (0.0 V) drawn straight across (for up to "
        "99 s at a time); their amps count, but the pack is not judged by them: "
        f"{gained:+.2f} Wh." in found.log.notes
    )
    assert "left out" not in said(found)


def test_volts_that_were_not_logged_are_spoken_of_alike() -> None:
    assert (
        "100 readings without volts: drawn straight across (for up to 99 s at a time); "
        "their amps count, but the pack is not judged by them." in read("", (500, 600)).log.notes
    )


@pytest.mark.parametrize(
    ("hole", "words"),
    [
        ((500, 501), "1 reading without volts: drawn straight across."),
        ((500, 520), "20 readings without volts: drawn straight across."),
    ],
)
def test_a_few_volts_missing_are_drawn_and_used(hole: tuple[int, int], words: str) -> None:
    found = read("", hole)
    assert words in found.log.notes
    assert "volts_drawn" not in found.log.readings


def test_the_hole_is_marked_and_has_no_weight_in_the_fit() -> None:
    log = read("0.0", (500, 600)).log
    drawn = log.readings["volts_drawn"].to_numpy()
    assert np.flatnonzero(drawn).tolist() == list(range(500, 600))
    weight = trace_of(log).weight
    assert weight.sum() == pytest.approx(1.0)
    assert not weight[drawn].any()
    assert (weight[~drawn] > 0).all()


def test_a_log_of_drawn_volts_throughout_keeps_its_weights() -> None:
    log = read().log
    every = Log(log.readings.assign(volts_drawn=True), error=log.error)
    assert np.array_equal(trace_of(every).weight, trace_of(log).weight)


def test_what_the_pack_learns_does_not_hang_on_the_straight_line() -> None:
    """Whatever is in the hole, the same pack results; without the mark it would not."""
    log = read("0.0", (500, 600)).log
    bent = log.readings.copy()
    bent.loc[500:599, "voltage_v"] -= 3.0
    found, other, fooled = (
        fit_pack([Log(readings, error=log.error)], CRATE, [1.0]).resistance_ohm
        for readings in (log.readings, bent, bent.drop(columns="volts_drawn"))
    )
    assert found == pytest.approx(other, rel=1e-6)
    assert abs(fooled - found) > 0.02 * found


def test_the_discharge_curve_is_that_of_the_volts_read() -> None:
    whole, holed = discharge_curve(read().log, 1.0), discharge_curve(read("0.0", (500, 600)).log, 1.0)
    assert holed.quick_ohm == pytest.approx(whole.quick_ohm, rel=0.02)
    assert holed.quick_ohm == pytest.approx(0.1, rel=0.05)
    assert np.allclose(holed.rest_v, whole.rest_v, atol=0.05)


def test_the_energy_of_a_hole_is_doubted() -> None:
    """The doubt is 3 % of the hole: about 5 A at 52 V for 100 s are 7 Wh, so 0.2 Wh."""
    log = read("0.0", (500, 600)).log
    part = float(trapezoid((AMPS * VOLTS)[500:600], SECONDS[500:600])) / 3600
    assert energy_budget(log).drawn == pytest.approx(DRAWN_STD * part, rel=0.03)
    assert energy_budget(read().log).drawn == 0.0
    assert energy_budget(log).std > energy_budget(read().log).std


def test_volts_gone_with_the_amps_at_the_end_are_the_management_s_doing() -> None:
    amps = AMPS.copy()
    amps[900:] = 0.0
    found = read("0.0", (900, 1200), amps=amps)
    assert len(found.log.readings) == 900
    assert "300 readings without volts at the end left out" in said(found)


@pytest.mark.parametrize(("fading_s", "left"), [(5, 900), (29, 900), (40, 940)])
def test_volts_that_capacitors_hold_behind_a_pack_that_is_off_are_not_the_pack_s(
    fading_s: int, left: int
) -> None:
    amps, volts = AMPS.copy(), VOLTS.copy()
    amps[900:] = 0.0
    volts[900 : 900 + fading_s] = np.linspace(25.0, 7.0, fading_s).round(2)
    found = read("0.0", (900 + fading_s, 1200), amps=amps, volts=volts)
    assert len(found.log.readings) == left
    assert f"{1200 - left} readings without volts at the end left out" in said(found)


def test_volts_gone_at_both_ends_only_one_of_them_at_rest() -> None:
    amps = AMPS.copy()
    amps[:100] = 0.0
    found = read("0.0", (0, 100), (1100, 1200), amps=amps)
    assert "100 readings without volts at the start left out" in said(found)
    assert len(found.log.readings) == 1100
    assert found.log.readings["volts_drawn"].sum() == 100


def test_a_rest_under_drawn_volts_is_no_place_for_the_clamp_s_zero() -> None:
    amps, volts = AMPS.copy(), VOLTS.copy()
    amps[500:600], volts[500:600] = 0.3, 53.0
    whole = read(amps=amps, volts=volts)
    assert len(whole.quiet) == 1
    assert read("", (500, 600), amps=amps, volts=volts).quiet == ()


def test_exchanged_columns_are_no_dead_contact() -> None:
    """What is taken for volts is then 0.4 A while idling, a quarter of the time."""
    swapped = np.where(SECONDS % 40 < 30, AMPS, 0.4)
    with pytest.raises(InputError, match="the columns seem to be swapped"):
        read(amps=VOLTS, volts=swapped)


def test_a_dead_contact_from_the_start() -> None:
    found = read("0.0", (0, 300))
    assert charge_used(found.log).ah == pytest.approx(AH, abs=1e-9)
    assert charge_used(found.log).wh == pytest.approx(WH, rel=0.01)
