"""Hand readings: the three-point estimate, rest voltages, the gauge, and their combination."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import trapezoid

from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.fitting.by_hand.spot_charge import GAUGE_STD, charge_at_rest, spot_charge
from estimator.fitting.pack.open_circuit import open_circuit_v
from estimator.importer.by_hand.spot_notes import mean_current
from estimator.importer.log import SpotNotes
from estimator.importer.read import read_bytes

NMC = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
LFP = Pack(chemistry="lfp", series=16, capacity_ah=10.0, cut_off_v=40.0)


def read(text: str):
    return read_bytes([("notes.csv", text.encode())])


def test_three_point_estimate_by_hand() -> None:
    # Malcolm et al. 1959: (a + 4 m + b)/6 and (b - a)/6; here (4 + 40 + 28)/6 = 12 and 24/6 = 4.
    found = mean_current(SpotNotes(idle_a=4, typical_a=10, highest_a=28))
    assert (found.amps, found.std) == (12.0, 4.0)


def test_three_point_estimate_is_close_for_the_beta_distribution_it_stands_for() -> None:
    # The formula approximates the mean of a beta distribution with mode m on [a, b] and deviation (b - a)/6.
    rng = np.random.default_rng(2)
    alpha, beta = 1 + 4 * (10 - 4) / 24, 1 + 4 * (28 - 10) / 24
    draws = 4 + 24 * rng.beta(alpha, beta, 100_000)
    found = mean_current(SpotNotes(idle_a=4, typical_a=10, highest_a=28))
    assert abs(draws.mean() - found.amps) < 0.05
    assert 0.8 < draws.std() / found.std < 1.25


UPRIGHT = """what,value
idle amps,4.2
typical amps,11
highest amps,28
volts at rest before,53.8
volts at rest after,50.1
minutes,32
"""


@pytest.mark.parametrize(
    "text",
    [
        UPRIGHT,
        UPRIGHT.replace("what,value\n", "").replace(",", ": "),
        UPRIGHT.replace(",", ";").replace(".", ","),
        "idle_a,typical_a,highest_a,rest_before_v,rest_after_v,minutes\n4.2,11,28,53.8,50.1,32\n",
        "Leerlauf (A);4,2\nTypisch (A);11\nSpitze (A);28\nRuhespannung vorher;53,8\nRuhespannung "
        "nachher;50,1\nDauer (min);32\n",
        "ampères à vide,4.2\nampères typique,11\nampères maximal,28\ntension au repos "
        "avant,53.8\ntension au repos après,50.1\ndurée,32:00\n",
        "stroom stationair,4200 mA\nstroom gewoon,11 A\nstroom piek,28 A\nspanning in rust voor,53.8 "
        "V\nspanning in rust na,50.1 V\nduur,0:32:00\n",
    ],
    ids=["english", "colons", "decimal commas", "across", "german", "french", "dutch"],
)
def test_notes_are_read_in_any_form(text: str) -> None:
    log = read(text)
    spot = log.spot
    assert spot is not None
    assert (spot.idle_a, spot.typical_a, spot.highest_a) == (4.2, 11.0, 28.0)
    assert (spot.rest_before_v, spot.rest_after_v, spot.minutes) == (53.8, 50.1, 32.0)
    used = trapezoid(log.readings.current_a, log.readings.time_s) / 3600
    assert used == pytest.approx((4.2 + 44 + 28) / 6 * 32 / 60, rel=2e-3)
    assert log.error.current_gain == pytest.approx((28 - 4.2) / 6 / ((4.2 + 44 + 28) / 6))


def test_min_max_avg_hold_of_a_meter() -> None:
    spot = read("MIN A,3.9\nMAX A,31\nAVG A,12.5\nvolts before,54\nminutes,25\n").spot
    assert spot is not None
    assert (spot.idle_a, spot.highest_a, spot.mean_a) == (3.9, 31.0, 12.5)
    assert mean_current(spot).amps == 12.5
    assert mean_current(spot).std < mean_current(SpotNotes(idle_a=3.9, highest_a=31)).std


@pytest.mark.parametrize(
    ("text", "said", "row"),
    [
        (UPRIGHT.replace("11", "eleven"), "typical amps is 'eleven'", 3),
        (UPRIGHT + "typical amps,12\n", "given twice", 8),
        (UPRIGHT.replace("minutes,32\n", ""), "minutes are missing", None),
        (UPRIGHT.replace("11", "-11").replace("28", "-28"), "typical amps are -11", None),
    ],
)
def test_bad_notes_get_one_line(text: str, said: str, row: int | None) -> None:
    with pytest.raises(InputError, match=said) as caught:
        read(text)
    assert caught.value.row == row
    assert caught.value.mend


@pytest.mark.parametrize("charge", [0.15, 0.4, 0.7, 0.95])
def test_rest_voltage_gives_the_charge_back(charge: float) -> None:
    rest = float(open_circuit_v("nmc", charge)) * 13
    found = charge_at_rest(NMC, rest)
    assert abs(found.charge - charge) < max(2 * found.std, 0.02)
    assert found.std < 0.1


def test_flat_curve_of_lfp_widens_the_answer() -> None:
    found = charge_at_rest(LFP, 16 * float(open_circuit_v("lfp", 0.5)))
    assert found.std > 3 * charge_at_rest(NMC, 13 * float(open_circuit_v("nmc", 0.5))).std


def test_inverse_variance_by_hand() -> None:
    # Amps alone, gauge alone, and both: 1/u² add (JCGM 100:2008, 5.1) while they agree.
    amps = spot_charge(SpotNotes(mean_a=10.0, minutes=30), NMC)
    gauge = spot_charge(SpotNotes(gauge_before=1.0, gauge_after=0.5), NMC)
    both = spot_charge(SpotNotes(mean_a=10.0, minutes=30, gauge_before=1.0, gauge_after=0.5), NMC)
    assert amps.ah == pytest.approx(5.0)
    u1, u2 = amps.ah_std, gauge.ah_std
    assert both.ah == pytest.approx((amps.ah / u1**2 + gauge.ah / u2**2) / (1 / u1**2 + 1 / u2**2))
    assert both.ah_std == pytest.approx((1 / u1**2 + 1 / u2**2) ** -0.5)
    assert u2 > GAUGE_STD * math.sqrt(2) * 10 * 0.9
    assert sum(e.weight for e in both.estimates) == pytest.approx(1.0)


def test_disagreement_widens_the_band() -> None:
    agree = spot_charge(SpotNotes(mean_a=10, minutes=30, gauge_before=1.0, gauge_after=0.5), NMC)
    differ = spot_charge(SpotNotes(mean_a=10, minutes=30, gauge_before=1.0, gauge_after=0.9), NMC)
    assert differ.disagreement > 1.5 > agree.disagreement
    assert differ.ah_std > 1.5 * agree.ah_std


def test_band_of_hand_readings_holds_on_invented_mows() -> None:
    rng = np.random.default_rng(11)
    inside = []
    for _ in range(400):
        load = rng.gamma(6, 1.6, 600) + 3
        used = load.mean() * 0.5
        before, after = 0.97, 0.97 - used / 10.0
        if after < 0.05:
            continue
        notes = SpotNotes(
            idle_a=float(load.min()),
            typical_a=float(np.median(load)),
            highest_a=float(load.max()),
            minutes=30,
            rest_before_v=13 * float(open_circuit_v("nmc", before)) + rng.normal(0, 0.12),
            rest_after_v=13 * float(open_circuit_v("nmc", after)) + rng.normal(0, 0.12),
        )
        found = spot_charge(notes, NMC)
        inside.append(abs(found.ah - used) <= 1.6449 * found.ah_std)
    assert len(inside) > 200
    assert np.mean(inside) >= 0.88


def test_nothing_to_go_by_is_said() -> None:
    with pytest.raises(InputError, match="do not say how much charge"):
        spot_charge(SpotNotes(rest_before_v=54.0), NMC)


@pytest.mark.parametrize(
    ("before", "after"), [("100 %", "40 %"), ("1", "0.4"), ("5/5", "2/5"), ("100", "40")]
)
def test_gauge_in_percent_fractions_or_bars(before: str, after: str) -> None:
    text = f"mean amps,9\nminutes,30\nvolts before,54\ngauge before,{before}\ngauge after,{after}\n"
    spot = read(text).spot
    assert spot is not None
    assert (spot.gauge_before, spot.gauge_after) == pytest.approx((1.0, 0.4))


def test_a_short_log_with_its_meter_s_summary_below_is_no_notes() -> None:
    rows = [f"{2 * k},{5 + 0.1 * (k % 7):.1f},{52 - 0.01 * k:.2f}" for k in range(40)]
    log = read("\n".join(["time_s,current_a,voltage_v", *rows, "average,5.3,51.8", "max,5.6,52.0"]) + "\n")
    assert log.spot is None
    assert len(log.readings) == 40
    assert any("2 closing lines without readings" in note for note in log.notes)
