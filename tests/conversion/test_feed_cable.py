"""Volts, watt hours and minutes that the feed cable takes, compared with cases worked on paper."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.conversion.load_trace import LoadTrace
from estimator.conversion.wiring import feed_cable
from estimator.errors import InputError


def steady(amps: float, volts: float, minutes: float = 10.0) -> LoadTrace:
    return LoadTrace(np.full(round(60 * minutes), amps), np.array(volts))


def test_five_amps_at_sixty_volts_are_three_hundred_watts() -> None:
    """Common practice: a reel mower idling along."""
    assert steady(5.0, 60.0).mean_w == 300.0


def test_a_metre_of_10_awg_loses_well_under_one_percent_at_five_amps() -> None:
    """Common practice. Even hot, there and back, it is a fifteenth of a percent of the energy."""
    cable = feed_cable([steady(5.0, 60.0)], "10 AWG", one_way_m=1.0, copper_c=75.0)
    assert cable.there_and_back_m == 2.0
    assert cable.fitted.loss_share.high < 0.001
    assert cable.fitted.loss_share.value == pytest.approx(5.0 * 2 * 1.24 / 304.8 / 60.0, rel=1e-6)


def test_drop_worked_with_table_8() -> None:
    """100 ft of 10 AWG there and back is 200 ft: 200/1000 × 1.24 Ω = 0.248 Ω at 75 °C; 20 A drop 4.96 V."""
    cable = feed_cable([steady(20.0, 48.0)], "10 AWG", one_way_m=30.48, copper_c=75.0, copper_c_within=0.0)
    assert cable.fitted.resistance_ohm.value == pytest.approx(0.248, abs=1e-9)
    assert cable.fitted.drop_typical_v.value == pytest.approx(4.96, abs=1e-6)
    assert cable.fitted.drop_peak_v.value == pytest.approx(4.96, abs=1e-6)


def test_loss_and_minutes_worked_on_paper() -> None:
    """6 mm², 2 m one way at 20 °C: 4 m × 3.30 Ω/km = 13.2 mΩ. 30 A for 30 min: 11.88 W, 5.94 Wh of 720 Wh.

    A 500 Wh pack at 1440 W lasts 20.83 min; with 11.88 W less it would last 21.01 min.
    """
    cable = feed_cable(
        [steady(30.0, 48.0, 30.0)],
        "6 mm2",
        one_way_m=2.0,
        usable_wh=500.0,
        copper_c=20.0,
        copper_c_within=0.0,
    )
    assert cable.fitted.resistance_ohm.value == pytest.approx(0.0132)
    assert cable.fitted.loss_wh.value == pytest.approx(5.94)
    assert cable.fitted.loss_share.value == pytest.approx(5.94 / 720)
    assert cable.fitted.minutes_lost is not None
    assert cable.fitted.minutes_lost.value == pytest.approx(60 * 500 / 1428.12 - 60 * 500 / 1440, rel=1e-9)


def test_loss_counts_the_measured_peaks_and_not_the_mean_current() -> None:
    """10 A and 50 A in turn: the mean square is 1300 A², not 30² = 900 A²."""
    waves = LoadTrace(np.tile([10.0, 50.0], 1800), np.array(50.0))
    cable = feed_cable([waves], "10 mm2", one_way_m=1.0, copper_c=20.0)
    assert cable.fitted.loss_wh.value == pytest.approx(1300 * 2 * 1.91e-3)


def test_another_size_gives_the_motor_the_same_power() -> None:
    """V·I − I²·R stays the same; roots of the quadratic from numpy are an independent solution."""
    volts, amps = 24.0, 40.0
    now, other = 2 * 5.0 * 3.30e-3, 2 * 5.0 * 4.95e-3
    cable = feed_cable([steady(amps, volts)], "6 mm2", one_way_m=5.0, copper_c=20.0, copper_c_within=0.0)
    thinner = cable.others[0]
    motor_w = volts * amps - amps**2 * now
    current = min(np.roots([other, -volts, motor_w]).real)
    assert thinner.size == "4 mm²"
    assert thinner.drop_peak_v.value == pytest.approx(current * other)
    assert thinner.loss_share.value == pytest.approx(current * other / volts)


def test_next_sizes_stand_on_both_sides() -> None:
    cable = feed_cable([steady(20.0, 48.0)], "8 AWG", one_way_m=1.5, usable_wh=400.0)
    thinner, thicker = cable.others
    assert (thinner.size, cable.fitted.size, thicker.size) == ("10 AWG", "8 AWG", "6 AWG")
    assert thinner.loss_wh.value > cable.fitted.loss_wh.value > thicker.loss_wh.value
    assert thinner.minutes_lost and thicker.minutes_lost
    assert thinner.minutes_lost.value > thicker.minutes_lost.value


def test_band_holds_wire_and_warmth() -> None:
    """The true figure is between ideal copper at 25 °C and tinned wire at 55 °C; the band is within these."""
    band = feed_cable(
        [steady(20.0, 48.0)], "10 AWG", one_way_m=1.0, copper_c=40.0, copper_c_within=15.0
    ).fitted
    ohm = band.resistance_ohm
    assert 2e-3 * 3.277 * (1 + 0.00393 * 5) < ohm.low < ohm.value < ohm.high < 2e-3 * 1.29 / 0.3048
    assert ohm.low < 0.95 * ohm.value


def test_rest_costs_nothing_and_charging_is_not_counted() -> None:
    resting = LoadTrace(np.zeros(60), np.array(50.0))
    assert feed_cable([resting], "6 mm2", one_way_m=1.0, usable_wh=300.0).fitted.loss_wh.value == 0.0
    brake = LoadTrace(np.array([-5.0, 10.0]), np.array(50.0))
    assert feed_cable([brake], "6 mm2", one_way_m=1.0).fitted.loss_wh.value > 0


@given(amps=st.floats(1.0, 40.0), metres=st.floats(0.1, 3.0), times=st.floats(1.1, 3.0))
def test_loss_grows_with_the_length_and_with_the_square_of_the_current(
    amps: float, metres: float, times: float
) -> None:
    def loss(a: float, m: float) -> float:
        return feed_cable([steady(a, 48.0, 1.0)], "10 mm2", one_way_m=m).fitted.loss_wh.value

    assert loss(amps, metres * times) == pytest.approx(times * loss(amps, metres), rel=1e-6)
    assert loss(amps * times, metres) == pytest.approx(times**2 * loss(amps, metres), rel=1e-6)


def test_a_peak_above_the_given_limit_is_said_plainly() -> None:
    load = LoadTrace(np.array([20.0, 43.0, 20.0]), np.array(48.0))
    above = feed_cable([load], "10 AWG", one_way_m=1.0, limit_a=40.0).verdict
    assert above == (
        "The highest measured current, 43.0 A, is 3.0 A above the limit of 40 A that you gave for this cable."
    )
    under = feed_cable([load], "10 AWG", one_way_m=1.0, limit_a=50.0).verdict
    assert "7.0 A under the limit of 50 A" in under and "peaks may have been missed" in under
    assert "no limit" in feed_cable([load], "10 AWG", one_way_m=1.0).verdict


@pytest.mark.parametrize(
    ("mows", "metres", "line"),
    [
        ([], 1.0, "no mow was given for the cable; give the load of at least one"),
        ([steady(5, 60)], 0.0, "the cable's length is 0.0 m; give metres above zero"),
        (
            [steady(60, 12)],
            10.0,
            "1 mm² over 10 m would drop 25.2 of 12.0 V at 60.0 A; check the cable's size and length",
        ),
        (  # of the lowest volts in any mow
            [steady(5, 60), LoadTrace([5.0] * 600, [60.0] * 599 + [4.0])],
            10.0,
            "1 mm² over 10 m would drop 2.1 of 4.0 V at 5.0 A; check the cable's size and length",
        ),
    ],
)
def test_what_cannot_be_answered_says_so(mows: list[LoadTrace], metres: float, line: str) -> None:
    with pytest.raises(InputError) as error:
        feed_cable(mows, "1 mm2", one_way_m=metres)
    assert str(error.value) == line


def test_a_thinner_cable_that_cannot_carry_the_power_is_named() -> None:
    """26 A at 12 V through 5 m of 1 mm² drop 5.5 V; 0.75 mm² could give at most 12²/4R, which is less."""
    cable = feed_cable([steady(26.0, 12.0)], "1 mm2", one_way_m=5.0)
    assert [each.size for each in cable.others] == ["1.5 mm²"]
    assert "0.75 mm² could not carry the measured power at all" in cable.assumptions
    peaks = LoadTrace(np.array([5.0] * 599 + [26.0]), np.array(12.0))
    assert [each.size for each in feed_cable([peaks], "1 mm2", one_way_m=5.0).others] == ["1.5 mm²"], (
        "one peak"
    )


def test_a_thin_cable_that_runs_hot_is_said() -> None:
    """20 A are what the standard allows 1.5 mm² for 70 °C; 6 mm² get only 8 K warmer from them."""
    load = LoadTrace([20.0] * 600, [50.0] * 600)
    thin, thick = (feed_cable([load], size, 1.0).cautions for size in ("1.5 mm2", "6 mm2"))
    assert thin[-1].startswith("20 A, the hardest mow's root mean square, would bring 1.5 mm² to some 73 °C")
    taken_as_hot = feed_cable([load], "1.5 mm2", 1.0, copper_c=70.0).cautions
    assert len(thick) == len(taken_as_hot) == len(thin) - 1
