"""Hand readings weighed, doubted and filled in: each step worked out by hand, both sides of each limit."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from estimator.descriptions import Pack
from estimator.fitting.by_hand import hand_model, weighing
from estimator.fitting.by_hand.hand_circuit import in_use, rates_after, shown
from estimator.fitting.by_hand.hand_model import first_current, read_value
from estimator.fitting.by_hand.pack_by_hand import _figures, _held
from estimator.fitting.by_hand.spot_charge import spot_charge
from estimator.fitting.by_hand.spot_doubts import _odd_one_out, habit_doubts, spot_doubts
from estimator.fitting.by_hand.spot_power import spot_energy, stand_in_of, stand_in_power
from estimator.fitting.by_hand.spot_volts import with_usual_volts
from estimator.fitting.by_hand.volts_doubts import volts_doubts
from estimator.fitting.by_hand.weighing import _begins, _first_part, _moved, _Off
from estimator.fitting.pack import prior
from estimator.fitting.pack.circuit import LAG_S, PEUKERT_BASE_C, QUICK_S, SLOW, transfer_voltage
from estimator.fitting.pack.fitted_pack import as_fitted, open_circuit_table
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import draw_pack
from estimator.fitting.pack.prior import arrhenius
from estimator.fitting.pack.start_charge import FULL_STD
from estimator.importer.by_hand.amps import USUAL, MeanCurrent, usual_ratio
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.importer.log import SpotNotes

CRATE = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, current_limit_a=30.0, name="crate")
FULL_V = 13 * 4.2


@pytest.mark.parametrize(
    ("readings", "doubted"),
    [
        ({"rest_before_v": 1.02 * FULL_V - 0.01}, 0),
        ({"rest_before_v": 1.02 * FULL_V + 0.01}, 1),
        ({"load_v": 39.0}, 0),
        ({"load_v": 38.99}, 1),
        ({"rest_before_v": 50.0, "rest_after_v": 50.149}, 0),  # a rise of 0.3 %
        ({"rest_before_v": 50.0, "rest_after_v": 50.151}, 1),
        ({"rest_before_v": 50.0, "load_v": 50.149}, 0),
        ({"rest_before_v": 50.0, "load_v": 50.151}, 1),
        ({"rest_after_v": 38.0, "load_v": 38.5}, 2),
    ],
)
def test_volts_are_doubted_beyond_their_limits(readings: dict[str, float], doubted: int) -> None:
    assert len(volts_doubts(SpotNotes(typical_a=5.0, minutes=20.0, **readings), CRATE)) == doubted


@pytest.mark.parametrize(
    ("readings", "limit_a", "doubted"),
    [
        ({"mean_a": 10.0, "minutes": 65.9}, 30.0, False),  # 11 Ah of 10 Ah
        ({"mean_a": 10.0, "minutes": 66.1}, 30.0, True),
        ({"mean_a": 32.9, "minutes": 5.0}, 30.0, False),  # a tenth over the limit
        ({"mean_a": 33.1, "minutes": 5.0}, 30.0, True),
        ({"typical_a": 33.1, "minutes": 5.0}, 30.0, True),
        ({"mean_a": 10.0, "highest_a": 44.9, "minutes": 5.0}, 30.0, False),  # peaks half as much again
        ({"mean_a": 10.0, "highest_a": 45.1, "minutes": 5.0}, 30.0, True),
        ({"mean_a": 29.9, "minutes": 5.0}, None, False),  # empty in 20 minutes
        ({"mean_a": 30.1, "minutes": 5.0}, None, True),
        ({"mean_a": 10.0, "minutes": 5.0, "gauge_before": 0.5, "gauge_after": 0.5}, 30.0, False),
        ({"mean_a": 10.0, "minutes": 5.0, "gauge_before": 0.5, "gauge_after": 0.6}, 30.0, True),
    ],
)
def test_amps_and_gauges_are_doubted_beyond_their_limits(
    readings: dict[str, float], limit_a: float | None, doubted: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "estimator.fitting.by_hand.spot_doubts.weigh", lambda *_: SimpleNamespace(surprise={"load_v": 3.0})
    )
    assert bool(spot_doubts(SpotNotes(**readings), replace(CRATE, current_limit_a=limit_a))) is doubted


def test_the_reading_that_surprises_most_is_named_beyond_three_standard_deviations() -> None:
    assert _odd_one_out({}) == _odd_one_out({"load_v": 3.0, "mean_a": -2.0}) == []
    assert "are much lower" in _odd_one_out({"load_v": 3.5, "rest_after_v": -3.6})[0]
    assert _odd_one_out({"load_v": 3.1})[0].startswith("Volts while cutting are much higher")


def test_a_mean_power_is_odd_beyond_three_of_the_spread_of_others_and_a_usual_one() -> None:
    """Three others at 100 W, and the usual 14 % that counts as four: variance 4/7 of 0.14², a third more
    since the middle of three is uncertain too; three of that deviation are a factor of 1.443."""
    limit = math.exp(3 * math.sqrt(4 / 7 * 0.14**2 * (1 + 1 / 3)))
    assert limit == pytest.approx(1.443, abs=1e-3)
    others: Any = [SimpleNamespace(spot=True, machine="m", mean_w=100.0)] * 3
    for off, odd in ((0.999, False), (1.001, True)):
        for by in (limit**off, limit**-off):
            one: Any = SimpleNamespace(spot=True, machine="m", mean_w=100.0 * by)
            assert bool(habit_doubts(one, others)) is odd
    alien: Any = SimpleNamespace(spot=True, machine="other", mean_w=900.0)
    logged: Any = SimpleNamespace(spot=False, machine="m", mean_w=900.0)
    assert habit_doubts(alien, others) == habit_doubts(logged, others) == ()
    far: Any = [SimpleNamespace(spot=True, machine="m", mean_w=watts) for watts in (900.0, 9.0)]
    assert [word in habit_doubts(one, others)[0] for one, word in zip(far, ("more", "less"), strict=True)]
    assert habit_doubts(far[0], others[:2]) == (), "two others show no usual"


def test_a_surprise_counts_what_draws_and_reading_are_uncertain_by() -> None:
    """Four draws off by 1, 3, 1, 3: 2 on average, ±1; with a reading within 0.75 that is 2/1.25 = 1.6
    deviations. Only a reading further off than three of its own is believed less."""
    off = _Off(np.array([1.0, 3.0, 1.0, 3.0]), 0.75)
    assert off.surprise == pytest.approx(1.6) and off.believed_std == 0.75
    far = _Off(np.array([29.0, 31.0]), 0.75)
    surprise = weighing.SURPRISE
    assert far.believed_std == pytest.approx(math.sqrt((30.0 / surprise) ** 2 - 1.0))
    assert replace(far, std=far.believed_std).surprise == pytest.approx(surprise)


@pytest.mark.parametrize("steep", [0.0, 3.0, 300.0])
def test_as_much_of_the_likelihood_counts_as_leaves_enough_draws(steep: float) -> None:
    log = -steep * np.linspace(0.0, 1.0, 4000) ** 2
    part, weight = _first_part(log)
    assert weight.sum() == pytest.approx(1.0)
    assert weight / weight[0] == pytest.approx(np.exp(part * log))
    enough = weighing.LEAST_EFFECTIVE
    assert 1 / (weight @ weight) >= enough
    more = np.exp(part / 0.7 * log)
    assert part == 1.0 or more.sum() ** 2 / (more @ more) < enough, "seven tenths at a time"


def test_draws_move_by_the_share_that_a_reading_says_more_than_they_do() -> None:
    """Expected 0 ± 1 and read 3 ± 0.5: by Bayes' rule 3·1/(1 + 0.25) = 2.4 within sqrt(0.2); what varies with
    it by a half moves by half of that, and what does not stays."""
    rng = np.random.default_rng(2)
    one, other = rng.standard_normal((2, 40_000))
    draws = np.stack([one, 0.5 * one + other, other], axis=1)
    moved = _moved(draws, one[:, None], np.array([3.0]), np.array([0.5]), rng)
    assert moved.mean(axis=0) == pytest.approx([2.4, 1.2, 0.0], abs=0.03)
    assert moved[:, 0].std() == pytest.approx(math.sqrt(0.2), rel=0.03)
    assert moved[:, 2].std() == pytest.approx(1.0, rel=0.03)


@pytest.mark.parametrize(
    ("was", "now", "known", "floor", "left"),
    [
        (1.0, 0.25, 0.0, 0.01, 0.25),  # nothing known: all of it counts
        (1.0, 0.25, 3.75 / 2, 0.01, 1 / (1 + 0.5 * 3)),  # 0.8 of 1.875 is half of the 3 it says alone
        (1.0, 0.25, 10.0, 0.01, 1.0),  # what is known says more than the part that is its own
        (1.0, 0.25, -5.0, 0.01, 0.25),
        (1.0, 0.001, 0.0, 0.3, 0.09),  # as well as any number of readings can say
        (0.04, 0.001, 0.0, 0.3, 0.04),  # but no worse than before
    ],
)
def test_how_much_one_more_mow_may_narrow(
    was: float, now: float, known: float, floor: float, left: float
) -> None:
    found = _held(np.array([was]), np.array([now]), np.array([known]), np.array([floor]))
    assert found == pytest.approx([left])


def test_figures_are_capacity_resistance_half_way_and_peukert() -> None:
    parameters = np.zeros((1, prior.N_PARAMETERS))
    parameters[:, prior.CAPACITY], parameters[:, prior.PEUKERT] = 0.2, -1.5
    parameters[:, prior.OHMIC] = np.log(np.interp(prior.RESISTANCE_AT, [0, 1], [0.3, 0.1]))
    parameters[:, prior.QUICK] = math.log(0.05)
    found = _figures(parameters, True)[0]
    assert found[[0, 2]].tolist() == [0.2, -1.5]
    assert found[1] == pytest.approx(math.log(0.2 + 0.05), abs=0.02)
    assert _figures(parameters, False).shape == (1, 2)


def test_a_pack_in_use_may_be_worn_unless_logs_or_hand_readings_say_more() -> None:
    at = (prior.CAPACITY, prior.CAPACITY)
    new = as_fitted(CRATE)
    assert in_use(new).covariance[at] == pytest.approx(0.09**2, rel=0.01)
    known = new.covariance.copy()
    known[at] = 0.25 * prior.LABEL_STD**2
    half = in_use(replace(new, covariance=known)).covariance[at]
    assert half == pytest.approx(0.25 * 0.09**2, rel=0.01), "known twice as well: half of each deviation"
    assert in_use(replace(new, logs=3)).covariance[at] == new.covariance[at]


def test_rates_come_and_go_with_their_time_constants() -> None:
    draws = draw_pack(CRATE, 2, np.random.default_rng(1))
    full = 5.0 / draws.capacity_ah
    come = rates_after(np.full(2, 5.0), draws, 600.0)
    assert come == pytest.approx((1 - np.exp(-600 / LAG_S))[:, None] * full)
    gone = rates_after(np.full(2, 5.0), draws, 600.0, 120.0)
    assert gone == pytest.approx(np.exp(-120 / LAG_S)[:, None] * come)


def even(lead_acid: bool = False) -> Any:
    """50 V at half charge, 10 V for all of it; 0.1 ohm at once and 0.05 in the pairs, half of it transfer."""
    draws = draw_pack(CRATE, 1, np.random.default_rng(1))
    tables = np.zeros_like(draws.tables)
    tables[:, :, 0], tables[:, :, 1], tables[:, :, 2] = 45.0 + 10.0 * GRID, 0.1, 0.05
    return replace(
        draws, tables=tables, capacity_ah=np.full(1, 10.0), lag_h=np.full((4, 1), 0.01), lead_acid=lead_acid,
        lag_shape=np.full((1, 1) if lead_acid else draws.lag_shape.shape, 1.2 if lead_acid else 0.5),
        slow_share=np.full(1, 2.0), transfer_share=np.full(1, 0.5), warmth=None,
    )  # fmt: skip


@pytest.mark.parametrize("celsius", [25.0, 5.0])
def test_volts_under_load_are_those_of_the_circuit(celsius: float) -> None:
    """Charge 0.5, less a lag of four times 0.01 h at half weight and a rate of 0.5: 0.01 of charge, 0.1 V;
    half of 0.1 ohm as a resistance and half as charge transfer, and 0.05 ohm on the current and on twice the
    slow rate; each by its own factor in the cold."""
    pack = even().at_temperature(celsius)
    rates = np.full((4, 1), 0.5)
    warm, lag, transfer = (arrhenius(pack.temperature_c, pack.activation_kk[k]) for k in range(3))
    found = shown(pack, np.array([0.5]), rates, 5.0)
    assert found.open_v == pytest.approx(50.0 - 0.1 * lag, abs=1e-3)
    scale_v = pack.transfer_v_per_k * (celsius + 273.15)
    sag = 0.05 * warm * 5.0 + transfer_voltage(0.05 * transfer * 5.0, scale_v)
    sag += 0.05 * warm * (5.0 + 2.0 * 0.5 * 10.0)
    assert found.sag_v == pytest.approx(sag, rel=1e-4)
    assert found.volts == pytest.approx(found.open_v - found.sag_v)


def test_lead_acid_lags_by_peukerts_law() -> None:
    """At twice the base rate, with an exponent of 1.2, 2^-0.2 of the charge is there: 0.129 less of it."""
    found = shown(even(True), np.array([0.5]), np.full((4, 1), 2 * PEUKERT_BASE_C))
    assert found.open_v == pytest.approx([50.0 - 10.0 * (1 - 2**-0.2)], abs=1e-3)
    slow = shown(even(True), np.array([0.5]), np.full((4, 1), 0.5 * PEUKERT_BASE_C))
    assert slow.open_v == pytest.approx([50.0], abs=1e-3)


@pytest.mark.parametrize(
    ("readings", "amps", "log_std"),
    [
        ({"typical_a": 10.0, "minutes": 30.0}, 10 * usual_ratio(), math.hypot(0.13, 0.075)),
        ({"put_back_ah": 5.0, "minutes": 30.0}, 10.0, 0.5),  # roughly: it is weighed afterwards
        ({"rest_after_v": 50.0, "minutes": 30.0}, 0.4 * 10 * 60 / 30, 0.9),  # two fifths of a charge
    ],
)
def test_the_current_to_begin_with(readings: dict[str, float], amps: float, log_std: float) -> None:
    found = first_current(SpotNotes(**readings), as_fitted(CRATE), USUAL)
    assert (found.amps, found.log_std) == (pytest.approx(amps), pytest.approx(log_std))


def test_charge_and_energy_put_back_are_compared_on_logarithms() -> None:
    notes = SpotNotes(put_back_ah=5.0, put_back_wh=0.0, load_v=50.0)
    assert read_value(notes, "put_back_ah") == pytest.approx(math.log(5.0))
    assert (
        read_value(notes, "put_back_wh") == pytest.approx(math.log(1e-3))
        and read_value(notes, "load_v") == 50.0
    )


def test_energy_without_a_pack_is_amps_times_minutes_times_volts() -> None:
    found = spot_energy(SpotNotes(mean_a=12.0, highest_a=28.0, idle_a=3.0, minutes=30.0), volts=50.0)
    assert (found.wh, found.volts, found.idle_w) == (pytest.approx(300.0, rel=2e-3), 50.0, 150.0)
    assert (found.minutes, found.minutes_log_std) == (30.0, 0.1)
    assert found.power_w.max() == pytest.approx(1400.0) and found.power_w.mean() == pytest.approx(
        600.0, rel=2e-3
    )
    assert found.log_ratio is None and found.log_ratio_std is None
    alone = spot_energy(SpotNotes(mean_a=12.0, minutes=30.0), volts=50.0)
    assert alone.log_std == pytest.approx(math.hypot(0.04, 0.03)), "the meter's average, and the volts"


def test_energy_with_a_pack_is_that_of_its_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    wh, hours, amps = np.array([200.0, 800.0]), np.array([0.5, 2.0]), np.array([5.0, 20.0])
    weighed = SimpleNamespace(wh=wh, hours=hours, ah=wh / 50.0, mean_a=amps)
    monkeypatch.setattr(weighing, "weigh", lambda *_: weighed)
    found = spot_energy(SpotNotes(typical_a=10.0, minutes=30.0), 45.0, CRATE)
    expected = 10 * usual_ratio()
    assert (found.wh, found.log_std) == (pytest.approx(400.0), pytest.approx(math.log(2.0)))
    assert (found.volts, found.minutes) == (50.0, 30.0)
    assert found.log_ratio == pytest.approx(math.log(10.0 / expected))
    assert found.log_ratio_std == pytest.approx(math.log(2.0))
    untimed = spot_energy(SpotNotes(typical_a=10.0), 45.0, CRATE)
    assert untimed.minutes == pytest.approx(75.0) and untimed.log_ratio is None
    assert untimed.minutes_log_std == pytest.approx(math.hypot(0.1, math.log(2.0)))


def test_a_stand_in_has_rows_turns_and_peaks() -> None:
    """Of each half minute a seventh turns at idle; two seconds of each minute are a peak, all fifteen at
    the squares of 1/15 to 15/15 of the way from usual to highest."""
    power = stand_in_power(100.0, 300.0, 900.0)
    assert len(power) == 900 and (power == 100.0).sum() == pytest.approx(900 * 0.15, abs=31)
    peaks = np.sort(power.reshape(-1, 60).max(axis=1))
    assert peaks[-1] == 900.0
    above = 300.0 + 600.0 * (np.arange(1, 16) / 15) ** 2
    assert peaks[7:] == pytest.approx(above[7:])
    rows = power[(power > 100.0) & (power < 500.0)]
    assert np.log(rows / 300.0).mean() == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize(
    ("readings", "idle_w", "highest_w"),
    [
        ({"typical_a": 6.0, "idle_a": 2.0, "highest_a": 15.0}, 100.0, 750.0),
        ({"typical_a": 6.0}, 0.29 * 300.0, 600.0),  # usual ratios to the typical current
        ({"mean_a": 5.0}, 0.29 * 250.0, 500.0),  # or to the mean
        ({"typical_a": 6.0, "idle_a": 9.0}, 225.0, 600.0),  # idle at nine tenths of the mean at most
        ({"typical_a": 6.0, "highest_a": 4.0}, 87.0, 300.0),  # a highest below the typical one is that
    ],
)
def test_a_stand_in_keeps_energy_idle_and_highest(
    readings: dict[str, float], idle_w: float, highest_w: float
) -> None:
    power = stand_in_of(SpotNotes(**readings), 50.0, 250.0)
    assert power.mean() == pytest.approx(250.0, rel=1e-3)
    assert power.min() == pytest.approx(idle_w) and power.max() == pytest.approx(highest_w, rel=0.01)


def known(monkeypatch: pytest.MonkeyPatch) -> None:
    """A hundred and one draws: 30 to 60 min, 4 to 14 A, 49 to 51 V."""
    at = np.linspace(0.0, 1.0, 101)
    mean_a, hours = 4.0 + 10.0 * at, 0.5 + 0.5 * at
    weighed = SimpleNamespace(
        mean_a=mean_a, hours=hours, ah=mean_a * hours, wh=(49.0 + 2.0 * at) * mean_a * hours
    )
    monkeypatch.setattr(weighing, "weigh", lambda *_: weighed)


def test_minutes_that_lack_are_the_middle_of_the_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    known(monkeypatch)
    log = log_from_spot(SpotNotes(typical_a=9.0, load_v=48.0, rest_after_v=50.0))
    found = with_usual_volts(log, CRATE)
    assert found.readings["time_s"].iloc[[2, 4]].tolist() == pytest.approx([10.0, 10.0 + 2700.0])
    assert found.notes[-1].startswith("Minutes were not noted: 45 (32 to 59 in 90 of 100 cases)")
    assert found.readings["voltage_v"].tolist() == log.readings["voltage_v"].tolist()
    assert found.longest_step_s == 2700.0
    assert with_usual_volts(found, CRATE) is found, "said once"


def test_amps_that_lack_are_the_middle_of_the_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    known(monkeypatch)
    log = log_from_spot(SpotNotes(rest_before_v=54.0, rest_after_v=50.0, minutes=30.0))
    found = with_usual_volts(log, CRATE)
    assert (
        found.readings["current_a"].max() == pytest.approx(9.0) and found.readings["current_a"].min() == 0.0
    )
    assert found.notes[-1].startswith("No amps were read: 9 A (4.5 to 13.5 in 90 of 100 cases)")


def test_volts_that_lack_are_the_middle_of_the_draws_and_those_at_rest_higher_by_the_sag(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """50 V under the 9 A in the middle; at rest by their times the resistance of the pack more."""
    known(monkeypatch)
    found = with_usual_volts(log_from_spot(SpotNotes(typical_a=9.0, minutes=30.0)), CRATE)
    volts = found.readings["voltage_v"].to_numpy()
    ohm = as_fitted(CRATE).resistance_ohm
    assert ohm is not None
    assert volts[2:5] == pytest.approx([50.0] * 3) and volts[[0, 1, 5, 6]] == pytest.approx(
        [50.0 + 9.0 * ohm] * 4
    )
    std = 2.0 * float(np.linspace(0, 1, 101).std())
    assert found.error.voltage_gain == pytest.approx(std / 50.0)
    assert f"50.0 V within ± {1.645 * std:.1f} V" in found.notes[-1]


def test_what_a_mow_used_is_mean_and_deviation_of_its_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    weighed = SimpleNamespace(
        **{
            name: np.array([middle - 1.0, middle + 1.0])
            for name, middle in (
                ("ah", 5.0),
                ("wh", 250.0),
                ("mean_a", 10.0),
                ("before", 3.0),
                ("after", 2.0),
            )
        }
    )
    monkeypatch.setattr("estimator.fitting.by_hand.spot_charge.weigh", lambda *_: weighed)
    found = spot_charge(SpotNotes(typical_a=10.0, minutes=30.0), CRATE)
    assert list(vars(found).values()) == [5.0, 1.0, 250.0, 1.0, 10.0, 1.0, 3.0, 1.0, 2.0, 1.0]


def test_a_mow_by_hand_in_the_middle_of_all_that_nobody_knows(monkeypatch: pytest.MonkeyPatch) -> None:
    """10 A for half an hour take 5 of 10 Ah from a pack of 55 V when full and 45 V when empty: 52.5 V on
    average, less what 0.1 ohm takes of a current whose mean square is 1.12 of its square. The charger puts
    5 Ah back and 0.5 % more, at 2 % more volts, from a socket that gives 1/0.87 of it."""
    pack = replace(even(), transfer_share=np.zeros(1), lag_h=np.zeros((4, 1)))
    pack.tables[:, :, 2] = 0.0
    monkeypatch.setattr(hand_model, "draws_of", lambda _f, _p, start, *_: replace(pack, charge=start))
    spot = SpotNotes(
        typical_a=10.0, minutes=30.0, rest_before_v=54.0, rest_after_v=50.0, load_v=51.0, gauge_before=1.0,
        gauge_after=0.5, put_back_ah=5.0, put_back_wh=260.0, socket_wh=300.0,
    )  # fmt: skip
    told = hand_model.Told(spot, as_fitted(CRATE), MeanCurrent(10.0, 1.0), 25.0, 1)
    draws = np.zeros((1, hand_model.N_COLUMNS))
    draws[:, prior.N_PARAMETERS] = 1.0
    run = hand_model.run_by_hand(told, draws, np.array([False]))
    assert (run.hours, run.ah, run.before, run.after) == (
        0.5,
        pytest.approx([5.0]),
        1.0,
        pytest.approx([0.5]),
    )
    sag_v = 10.0 * 0.1
    assert run.wh == pytest.approx([5.0 * (52.5 - 1.12 * sag_v)], rel=1e-3)
    assert run.spare_v == pytest.approx([(50.0 - sag_v - 39.0) / 13], rel=1e-3)
    back_ah = 5.0 / 0.995
    expected = {
        "rest_before_v": 55.0, "rest_after_v": 50.0, "load_v": 52.5 - sag_v,
        "gauge_before": 1.0, "gauge_after": 0.5,
        "put_back_ah": math.log(back_ah), "put_back_wh": math.log(back_ah * 52.5 * 1.02),
        "socket_wh": math.log(back_ah * 52.5 * 1.02 / 0.87),
    }  # fmt: skip
    assert {name: float(each[0]) for name, each in run.expected.items()} == pytest.approx(expected, rel=1e-3)
    rest = math.hypot(0.05, 0.003 * 13)
    assert dict(run.std) == pytest.approx(
        {
            "rest_before_v": rest, "rest_after_v": rest, "load_v": 0.1, "gauge_before": 0.12,
            "gauge_after": 0.12,
            "put_back_ah": 0.02, "put_back_wh": 0.02, "socket_wh": 0.02,
        }
    )  # fmt: skip
    assert run.pack.rates_c == pytest.approx((1 - np.exp(-1800 / LAG_S))[:, None])
    full = hand_model.run_by_hand(told, draws, np.array([True]))
    # somewhere from 0.96 of the charge on, here in the middle: 0.02 less, as 10 V fall by the whole charge
    assert full.expected["rest_before_v"] == pytest.approx([54.8], abs=2e-3)
    assert full.expected["rest_after_v"] == run.expected["rest_after_v"], (
        "a tenth of the charge on, that is over"
    )


def by_hand(
    monkeypatch: pytest.MonkeyPatch,
    spot: SpotNotes,
    pack: Any = None,
    start: float = 1.0,
    full: bool = False,
    **unknown: float,
) -> hand_model.Run:
    """A mow of the even pack at a mean of 10 A ± 10 %, where all but the named unknowns are in the middle."""
    pack = pack or even()
    monkeypatch.setattr(hand_model, "draws_of", lambda _f, _p, start, *_: replace(pack, charge=start))
    told = hand_model.Told(spot, as_fitted(CRATE), MeanCurrent(10.0, 1.0), 25.0, 1)
    draws = np.zeros((1, hand_model.N_COLUMNS))
    draws[:, prior.N_PARAMETERS] = start
    for column, by in unknown.items():
        draws[:, prior.N_PARAMETERS + 1 + hand_model.UNKNOWN.index(column)] = by
    return hand_model.run_by_hand(told, draws, np.array([full]))


HALF_AN_HOUR = SpotNotes(typical_a=10.0, minutes=30.0)


@pytest.mark.parametrize(
    ("spot", "unknown", "what", "value"),
    [
        (HALF_AN_HOUR, {"mean": 1.0}, "ah", 5.0 * math.exp(0.1)),
        (HALF_AN_HOUR, {"minutes": 1.0}, "hours", (30.0 + 1.3) / 60),  # a multiple of five is rounded
        # and holds a break
        (
            HALF_AN_HOUR,
            {"minutes": -3.0},
            "hours",
            (30.0 - 3 * 1.3) / 60 * (1 - 0.3 * (1 - 0.00135 / 0.1)),
        ),
        (replace(HALF_AN_HOUR, minutes=35.0), {"minutes": 1.0}, "hours", (35.0 + 1.3) / 60),
        (replace(HALF_AN_HOUR, minutes=36.0), {"minutes": 1.0}, "hours", 36.5 / 60),
        # a fifth of the minutes noted is left, and seven tenths of that besides the longest break
        (replace(HALF_AN_HOUR, minutes=5.0), {"minutes": -9.0}, "hours", 0.7 * 1.0 / 60),
        (replace(HALF_AN_HOUR, minutes=None), {}, "hours", 0.4),  # two fifths of 10 Ah at 10 A
        (replace(HALF_AN_HOUR, minutes=None), {"minutes": 1.0}, "hours", 0.4 * math.exp(0.9)),
    ],
)
def test_what_nobody_knows_of_a_mow_by_hand(
    spot: SpotNotes,
    unknown: dict[str, float],
    what: str,
    value: float,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert getattr(by_hand(monkeypatch, spot, **unknown), what) == pytest.approx([value], rel=1e-3)


@pytest.mark.parametrize(("start", "before"), [(-0.1, 0.0), (0.3, 0.3), (1.01, 1.01), (1.1, 1.02)])
def test_a_mow_starts_between_empty_and_a_little_over_full(
    start: float, before: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = by_hand(monkeypatch, HALF_AN_HOUR, start=start)
    assert run.before == pytest.approx([before]) and run.after == pytest.approx([before - 0.5])


def steady() -> Any:
    """The even pack with all of its 0.1 ohm as a resistance that follows at once: no pairs and no lag."""
    pack = replace(even(), transfer_share=np.zeros(1), lag_h=np.zeros((4, 1)))
    pack.tables[:, :, 2] = 0.0
    return pack


VOLTS = {"rest_before_v": 54.0, "rest_after_v": 50.0, "load_v": 51.0}


@pytest.mark.parametrize(
    ("unknown", "volts"),
    [
        # drawn at a deviation above the middle, Φ(1) = 0.8413 of the mow is over: 10 V fall by as much of 0.5
        ({"moment": 1.0}, {"load_v": 55.0 - 5.0 * 0.8413 - 1.0}),
        ({"amps": 1.0}, {"load_v": 52.5 - math.exp(0.15)}),
        (
            {"meter": 2.0},
            {"rest_before_v": 55.0 * 1.003, "rest_after_v": 50.0 * 1.003, "load_v": 51.5 * 1.003},
        ),
        ({"rested": 5.0}, {"rest_before_v": 55.0, "rest_after_v": 50.0, "load_v": 51.5}),
    ],
)
def test_the_volts_that_would_be_read(
    unknown: dict[str, float], volts: dict[str, float], monkeypatch: pytest.MonkeyPatch
) -> None:
    run = by_hand(monkeypatch, replace(HALF_AN_HOUR, **VOLTS), steady(), **unknown)
    assert {name: float(run.expected[name][0]) for name in volts} == pytest.approx(volts, rel=1e-4)


def test_volts_under_load_are_at_the_mean_where_no_typical_amps_were_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    run = by_hand(monkeypatch, SpotNotes(mean_a=10.0, minutes=30.0, **VOLTS), steady(), mean=1.0)
    amps = 10.0 * math.exp(0.1)
    assert run.expected["load_v"] == pytest.approx([55.0 - 10.0 * amps * 0.25 / 10 - 0.1 * amps])


@pytest.mark.parametrize(
    ("noted", "unit", "minutes"), [(None, 0.0, 6.0), (None, 1.0, 6 * math.exp(0.8)), (20.0, 1.0, 20.0)]
)
def test_volts_after_a_mow_recover_for_the_minutes_rested(
    noted: float | None, unit: float, minutes: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only the slow pair: twice the slow rate, times 10 Ah and 0.05 ohm, dies away."""
    pack = steady()
    pack.tables[:, :, 1], pack.tables[:, :, 2] = 0.0, 0.05
    run = by_hand(monkeypatch, replace(HALF_AN_HOUR, rested_minutes=noted, **VOLTS), pack, rested=unit)
    tau = LAG_S[SLOW]
    rate = (1 - math.exp(-1800 / tau)) * math.exp(-60 * minutes / tau)
    assert run.expected["rest_after_v"] == pytest.approx([50.0 - 2.0 * 0.05 * 10.0 * rate], rel=1e-4)
    assert run.expected["rest_before_v"] == pytest.approx([55.0], rel=1e-4)


@pytest.mark.parametrize(
    ("lead_acid", "unknown", "back_ah", "rise", "charger"),
    [
        (False, {}, 5.0 / 0.995, 1.02, 0.87),
        (False, {"charge": 1.0, "rise": 1.0, "charger": 1.0}, 5.0 / 0.999, 1.032, 0.87 * math.exp(0.06)),
        (False, {"charge": 9.0}, 5.0, 1.02, 0.87),  # never less than what is missing
        (True, {}, 5.0 / 0.87, 1.10, 0.82),
        (True, {"charge": -1.0, "rise": 1.0, "charger": 1.0}, 5.0 / 0.83, 1.13, 0.82 * math.exp(0.08)),
        (True, {"charge": -20.0}, 5.0 / 0.5, 1.10, 0.82),
    ],
)
def test_what_a_charger_puts_back(
    lead_acid: bool,
    unknown: dict[str, float],
    back_ah: float,
    rise: float,
    charger: float,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Half of 10 Ah over what comes back out, at the 52.5 V of the mow and what charging adds to them."""
    spot = replace(HALF_AN_HOUR, put_back_ah=5.0, put_back_wh=260.0, socket_wh=300.0)
    pack = replace(steady(), lead_acid=lead_acid, lag_shape=np.full((1, 1), 1.0)) if lead_acid else steady()
    if lead_acid:
        pack = replace(pack, lag_h=np.full((4, 1), 0.01))
    found = by_hand(monkeypatch, spot, pack, **unknown).expected
    back_wh = back_ah * 52.5 * rise
    assert {name: math.exp(float(each[0])) for name, each in found.items()} == pytest.approx(
        {"put_back_ah": back_ah, "put_back_wh": back_wh, "socket_wh": back_wh / charger}, rel=1e-3
    )


def test_the_slow_pair_takes_more_of_the_energy_the_longer_it_has_charged(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """0.05 ohm on the current, and twice as much on the slow rate times 10 Ah, in the middles of five fifths
    of half an hour; what it takes of the square of the current is 1.12 times that of the mean."""
    pack = steady()
    pack.tables[:, :, 1], pack.tables[:, :, 2] = 0.0, 0.05
    run = by_hand(monkeypatch, HALF_AN_HOUR, pack)
    charged = 1 - np.exp(-1800 * np.array([0.1, 0.3, 0.5, 0.7, 0.9]) / LAG_S[SLOW])
    sag_v = 0.05 * 10.0 * (1 + 2 * charged.mean())
    assert run.wh == pytest.approx([5.0 * (52.5 - 1.12 * sag_v)], rel=1e-4)


def test_a_mow_s_volts_do_not_fall_under_the_cut_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """2 ohm at 10 A would leave 52.5 - 22.4 V: the motor would have stopped at 39 V."""
    pack = steady()
    pack.tables[:, :, 1] = 2.0
    run = by_hand(monkeypatch, HALF_AN_HOUR, pack)
    assert run.wh == pytest.approx([5.0 * 39.0])
    assert run.spare_v == pytest.approx([(50.0 - 20.0 - 39.0) / 13], rel=1e-4)


@pytest.mark.parametrize(("start", "after"), [(0.0, GRID[0]), (0.8, 0.3), (1.0, 0.5)])
def test_the_quick_pair_ends_at_the_resistance_of_the_charge_left(
    start: float, after: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An ohm for each unit of charge, at the next place of the grid, and the pair settled after half an hour
    at 10 A."""
    pack = steady()
    pack.tables[:, :, 2] = GRID
    run = by_hand(monkeypatch, HALF_AN_HOUR, pack, start)
    assert run.pack.quick_v == pytest.approx([10.0 * after], abs=10.0 * 0.0051)
    brief = by_hand(monkeypatch, replace(HALF_AN_HOUR, minutes=0.2), pack, 0.3)
    at = GRID[np.searchsorted(GRID, 0.3 - 10.0 * 0.2 / 60 / 10)]
    assert brief.pack.quick_v == pytest.approx([10.0 * at * (1 - math.exp(-12 / QUICK_S))], rel=1e-3)


@pytest.mark.parametrize(("told", "full"), [(0.5, False), (0.985, False), (0.995, True), (1.0, True)])
def test_a_start_as_told_is_guessed_within_six_hundredths_and_full_is_full(told: float, full: bool) -> None:
    begin = _begins(as_fitted(CRATE), HALF_AN_HOUR, told, np.random.default_rng(3))
    assert begin.full.all() == begin.full.any() == full and not begin.log_weight.any()
    middle, std = (1.0, FULL_STD) if full else (told, 0.06)
    assert begin.charge.mean() == pytest.approx(middle, abs=0.1 * std)
    assert begin.charge.std() == pytest.approx(std, rel=0.06)


@pytest.mark.parametrize(
    ("readings", "share"),
    [
        ({}, 0.9),
        # a gauge off by twice its 0.12 where draws are placed: 0.96 shows as full, so exp(-(0.16/0.24)²/2);
        # anywhere else 0.24·√(2π)·(Φ(0.833) - Φ(-3.33)) on average
        ({"gauge_before": 0.8}, 0.9 * 0.801 / (0.9 * 0.801 + 0.1 * 0.4797)),
        ({"gauge_before": 0.0}, 0.05),  # 0.9·exp(-8) at first sight: but a twentieth of the draws at least
        ({"rest_before_v": FULL_V}, 0.95),  # and at most
        ({"rest_before_v": 45.5}, 0.05),
    ],
)
def test_starts_are_placed_where_readings_are_likely_and_weighted_back(
    readings: dict[str, float], share: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever was read, the weights give back what was believed: full nine times in ten, else anywhere."""
    monkeypatch.setattr(weighing, "DRAWS", 100_000)
    spot = replace(HALF_AN_HOUR, **readings)
    begin = _begins(as_fitted(CRATE), spot, None, np.random.default_rng(5))
    weight = np.exp(begin.log_weight)
    assert begin.full.mean() == pytest.approx(share, abs=0.005)
    assert weight[begin.full].sum() / len(weight) == pytest.approx(0.9, rel=0.02)
    other = ~begin.full
    assert weight[other].sum() / len(weight) == pytest.approx(0.1, rel=0.05)
    assert np.average(begin.charge[other], weights=weight[other]) == pytest.approx(0.5, abs=0.03)
    assert begin.charge[other].min() >= 0.0 and begin.charge[other].max() <= 1.0
    assert begin.charge[begin.full].std() == pytest.approx(FULL_STD, rel=0.03)


def test_other_starts_are_nine_times_in_ten_near_the_reading_and_fall_between_hundredths(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A gauge at half: a bell of 0.24, and a tenth spread evenly from 0 to 1; no gap between hundredths."""
    monkeypatch.setattr(weighing, "DRAWS", 100_000)
    spot = replace(HALF_AN_HOUR, gauge_before=0.5)
    begin = _begins(as_fitted(CRATE), spot, None, np.random.default_rng(5))
    charge = begin.charge[~begin.full]
    near, edge = (math.erf(by / 0.24 / math.sqrt(2)) for by in (0.12, 0.5))
    assert (abs(charge - 0.5) < 0.12).mean() == pytest.approx(0.9 * near / edge + 0.1 * 0.24, abs=0.01)
    assert np.histogram(100 * charge % 1.0, 4)[0] == pytest.approx([len(charge) / 4] * 4, rel=0.06)


def test_other_starts_are_near_the_charge_that_rests_at_the_volts_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """3.7 V a cell: a tenth is placed anywhere, the rest where the cell is within some 0.06 V of them."""
    monkeypatch.setattr(weighing, "DRAWS", 20_000)
    fitted = as_fitted(CRATE)
    begin = _begins(fitted, replace(HALF_AN_HOUR, rest_before_v=13 * 3.7), None, np.random.default_rng(5))
    charge = begin.charge[~begin.full]
    volts = np.interp(1.0 - fitted.usable * (1.0 - charge), GRID, open_circuit_table(fitted, fitted.mean))
    within = [(abs(volts - 3.7) < by).mean() for by in (0.06, 0.18)]
    assert 0.6 < within[0] < 0.85 and within[1] > 0.9
    assert np.median(volts) == pytest.approx(3.7, abs=0.02)
