"""Peaks by duration compared with limits, on loads whose peaks can be counted by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from estimator.conversion.current_limits import (
    HIGHEST_S,
    Limit,
    current_limits,
)
from estimator.conversion.load_trace import LoadTrace, highest_rms
from estimator.errors import InputError
from estimator.results import odds

PATCH = LoadTrace(np.r_[np.full(300, 15.0), np.full(3, 50.0), np.full(300, 15.0)], np.array(48.0))


def test_peaks_by_hand() -> None:
    """Three seconds at 50 A in ten minutes at 15 A; squares averaged over each duration."""
    by_duration = {peak.seconds: peak.measured_a.value for peak in current_limits([PATCH]).peaks}
    assert by_duration[1.0] == pytest.approx(50.0)
    assert by_duration[5.0] == pytest.approx(math.sqrt((3 * 2500 + 2 * 225) / 5))
    assert by_duration[30.0] == pytest.approx(math.sqrt((3 * 2500 + 27 * 225) / 30))
    assert by_duration[None] == pytest.approx(math.sqrt((3 * 2500 + 600 * 225) / 603))


def test_closest_limit_is_the_one_used_most() -> None:
    answer = current_limits(
        [PATCH], [Limit("fuse", 30.0), Limit("battery management", 60.0, 5.0), Limit("controller", 45.0, 1.0)]
    )
    used = {check.limit.name: check.used for check in answer.checks}
    assert used["controller"] == pytest.approx(50 / 45)
    assert answer.closest is not None and answer.closest.limit.name == "controller"
    assert answer.closest.exceeded and answer.closest.room_a == pytest.approx(-5.0)
    assert answer.verdict.startswith("The measured current was above the limit of: controller.")
    assert "5.0 A (11 %) above the limit" in answer.verdict


def test_short_peaks_are_said_of_steady_ratings_alone() -> None:
    fuse, slow = current_limits([PATCH], [Limit("fuse", 60.0), Limit("management", 45.0, 30.0)]).checks
    assert "Short peaks above it" not in fuse.sentence + slow.sentence
    reached = current_limits([PATCH], [Limit("controller", 50.0, HIGHEST_S)]).checks[0]
    assert reached.room_a == 0.0 and not reached.exceeded


def test_what_the_readings_cannot_show_is_said() -> None:
    coarse = LoadTrace(np.full(40, 12.0), np.array(48.0), 7.0)
    said = " ".join(current_limits([PATCH, coarse]).assumptions)
    assert "the readings are 7 s apart: shorter peaks are not seen" in said
    assert "counts with its whole length" not in said
    for seconds, told in ((30, False), (29, True)):
        mow = LoadTrace(np.full(seconds, 12.0), np.array(48.0))
        assert any("a mow shorter than 30 s" in each for each in current_limits([mow]).assumptions) == told


def test_room_is_said_with_its_amount() -> None:
    answer = current_limits([PATCH], [Limit("fuse", 40.0, 30.0)])
    assert answer.closest is not None
    measured = math.sqrt((3 * 2500 + 27 * 225) / 30)
    assert answer.closest.room_a == pytest.approx(40.0 - measured)
    assert answer.verdict.startswith(f"Closest: fuse 40 A: measured {measured:.1f} A highest over 30 s")
    assert "below the limit; the next mow is expected between" in answer.verdict


def test_a_fuse_is_held_against_the_steady_current_and_electronics_against_the_highest() -> None:
    answer = current_limits([PATCH], [Limit("fuse", 30.0), Limit("controller", 45.0, HIGHEST_S)])
    fuse, controller = answer.checks
    assert fuse.peak.measured_a.value == pytest.approx(math.sqrt((3 * 2500 + 600 * 225) / 603))
    assert "A steady, over the whole mow" in fuse.sentence and not fuse.exceeded
    assert "is below short peaks of 50.0 A over 1 s, 39.9 A over 5 s; the maker's time" in fuse.sentence
    assert controller.peak.measured_a.value == pytest.approx(50.0) and controller.exceeded
    assert "highest over 1 s" in controller.sentence
    assert (
        sum("steady current" in said or "highest current over 1 s" in said for said in answer.assumptions)
        == 2
    )


def test_meter_and_next_mow_are_two_bands() -> None:
    peak = current_limits([PATCH]).peaks[0]
    assert peak.measured_a.high == pytest.approx(50 + 1.6449 * math.hypot(0.02 * 50, 0.05), abs=1e-3)
    assert peak.next_mow_a.high > peak.measured_a.high, "one mow says little about the next"


def test_a_clamp_reading_has_the_meters_band_and_not_that_of_the_energy_between_readings() -> None:
    """Once seen: a reading of 13 A with a band of a quarter either way, "by the meter", which has 2 %."""
    noted = LoadTrace(
        np.r_[np.full(600, 4.2), 13.0], np.array(48.0), current_gain=0.25, current_zero_a=0.0, meter_gain=0.02
    )
    highest, *_, whole = current_limits([noted]).peaks
    assert highest.measured_a.high == pytest.approx(13 * (1 + 1.6449 * 0.02), abs=0.01)
    assert whole.measured_a.high == pytest.approx(whole.measured_a.value * (1 + 1.6449 * 0.25), rel=1e-4)
    held = current_limits([noted], clamp_highest_a=15.0).peaks[0].measured_a
    assert (held.value, held.high) == (15.0, pytest.approx(15 * (1 + 1.6449 * 0.02), abs=0.01))


def test_the_chance_of_a_trip_in_the_next_mow() -> None:
    """Student's t on the logarithms of 20 mows near 30 A that scatter by 5 %, and four imagined at 20 %."""
    rng = np.random.default_rng(4)
    mows = [LoadTrace(np.full(60, 30 * np.exp(0.05 * z)), np.array(48.0)) for z in rng.standard_normal(20)]
    near, at, far = (
        current_limits(mows, [Limit("battery management", amps, HIGHEST_S)]).checks[0]
        for amps in (27.0, 30.0, 60.0)
    )
    assert near.chance > 0.7 > at.chance > 0.3 > far.chance
    assert f"with a chance of {100 * at.chance:.0f} %." in at.sentence
    assert "with a chance of under 1 %." in far.sentence


def test_a_chance_is_said_in_whole_percent_as_far_as_it_goes() -> None:
    assert [odds(each) for each in (0.006, 0.012, 0.7, 0.986, 0.995)] == [
        "under 1 %", "1 %", "70 %", "99 %", "over 99 %"
    ]  # fmt: skip


def test_highest_of_several_mows_counts() -> None:
    calm = LoadTrace(np.full(600, 12.0), np.array(48.0))
    assert current_limits([calm, PATCH, calm]).peaks[0].measured_a.value == pytest.approx(50.0)


def test_max_hold_of_the_clamp_counts_as_one_second() -> None:
    answer = current_limits([PATCH], [Limit("fuse", 30.0)], clamp_highest_a=72.0)
    assert answer.peaks[0].measured_a.value == 72.0
    assert answer.peaks[1].measured_a.value < 50.0
    assert any("72 A" in said for said in answer.assumptions)
    assert current_limits([PATCH], clamp_highest_a=20.0).peaks[0].measured_a.value == pytest.approx(50.0)


def test_coarse_readings_are_owned_up_to() -> None:
    coarse = LoadTrace(np.full(100, 15.0), np.array(48.0), step_s=1.0, measured_step_s=4.0)
    said = current_limits([coarse]).assumptions
    assert said[0].startswith("in the coarsest log the readings are 4 s apart: shorter peaks are not seen")
    short = LoadTrace(np.full(10, 15.0), np.array(48.0))
    assert any("shorter than 30 s" in each for each in current_limits([short]).assumptions)


def test_peaks_that_readings_stand_too_far_apart_for_are_lower_bounds() -> None:
    """In `tests/worlds` the highest of readings 5 s apart is 0.70 to 1.01 of the highest second."""
    coarse = LoadTrace(np.full(600, 15.0), np.array(48.0), step_s=1.0, measured_step_s=5.0)
    answer = current_limits([coarse], [Limit("fuse", 12.0), Limit("controller", 40.0, HIGHEST_S)])
    assert [peak.at_least for peak in answer.peaks] == ["at least ", "", "", ""]
    fuse, controller = (check.sentence for check in answer.checks)
    assert "short peaks of at least 15.0 A over 1 s, 15.0 A over 5 s" in fuse
    assert "measured at least 15.0 A highest over 1 s" in controller
    assert controller.endswith("with a chance of 1 %; readings 5 s apart can miss higher peaks.")
    held = current_limits([coarse], clamp_highest_a=20.0).peaks[0]
    assert (held.at_least, held.measured_a.value) == ("", 20.0)


def test_without_limits_the_peaks_stand_alone() -> None:
    answer = current_limits([PATCH])
    assert answer.closest is None and answer.checks == ()
    assert answer.verdict == "No limits were given; the measured peaks stand alone."


@given(arrays(float, st.integers(40, 200), elements=st.floats(0.0, 100.0)))
def test_longer_durations_never_have_higher_peaks(current: np.ndarray) -> None:
    """Over durations that are multiples of each other, the highest mean square can only fall."""
    peaks = [highest_rms(current, 1.0, seconds) for seconds in (1.0, 5.0, 10.0, 30.0)]
    assert peaks[0] == pytest.approx(current.max(), abs=1e-4)
    assert peaks[0] >= peaks[1] - 1e-4 and peaks[1] >= peaks[2] - 1e-4 and peaks[1] >= peaks[3] - 1e-4


@given(st.floats(0.5, 80.0), st.floats(0.2, 5.0))
def test_steady_current_is_its_own_peak_at_every_duration(amps: float, step_s: float) -> None:
    load = LoadTrace(np.full(300, amps), np.array(40.0), step_s=step_s)
    for peak in current_limits([load]).peaks:
        assert peak.measured_a.value == pytest.approx(amps, rel=1e-6)


@pytest.mark.parametrize(
    ("make", "line"),
    [
        (lambda: current_limits([]), "no mow was given for the limits; give the load of at least one"),
        (lambda: Limit("fuse", 0.0), "limit fuse is 0.0 A; give amps above zero"),
        (
            lambda: Limit("fuse", 5.0, 0.0),
            "limit fuse lasts 0.0 s; give seconds above zero, or none if steady",
        ),
    ],
)
def test_wrong_limits_are_refused(make, line: str) -> None:
    with pytest.raises(InputError) as error:
        make()
    assert str(error.value) == line


def test_what_a_clamp_held_longer_than_any_log_is_a_mow_s_and_every_mow_stays() -> None:
    """80 A of MAX hold among mows of 50, 40 and 45 A in a second: each keeps its own but the last; 30 A say
    nothing new."""
    mows = [replace(PATCH, current_a=PATCH.current_a * share) for share in (1.0, 0.8, 0.9)]
    held = current_limits(mows, clamp_highest_a=80.0).peaks[0]
    assert held.each_a == pytest.approx((50.0, 40.0, 80.0)) and held.measured_a.value == 80.0
    assert current_limits(mows, clamp_highest_a=30.0).peaks[0].each_a == pytest.approx((50.0, 40.0, 45.0))


@pytest.mark.parametrize(
    ("meter_gain", "read"), [(None, [False, False, False, True]), (0.02, [True, False, False, True])]
)
def test_what_nobody_read_is_said_not_to_be_measured(meter_gain: float | None, read: list[bool]) -> None:
    """By hand the highest amps show one second at most; everything shorter than the mow else stands in."""
    noted = LoadTrace(np.r_[np.full(600, 4.2), 13.0], np.array(48.0), by_hand=True, meter_gain=meter_gain)
    answer = current_limits([noted], [Limit("controller", 12.0, HIGHEST_S), Limit("fuse", 4.0)])
    assert [peak.read for peak in answer.peaks] == read
    assert answer.peaks[1].at_least == "not read, usually "
    fuse, controller = (check.sentence for check in answer.checks)
    assert ("measured 13.0 A highest" in controller) is read[0]
    assert ("A: not read, usually 13.0 A highest" in controller) is not read[0]
    assert controller.endswith("a clamp's MAX hold would show it.") is not read[0]
    assert ("limit of: fuse, controller." in answer.verdict) is read[0]
    assert ("short peaks of 13.0 A over 1 s; the" in fuse) is read[0]


def test_what_was_read_counts_and_not_what_stands_in_for_other_mows() -> None:
    noted = LoadTrace(np.full(600, 40.0), np.array(48.0), by_hand=True)
    highest, *_ = current_limits([noted, PATCH]).peaks
    assert (highest.read, highest.measured_a.value, len(highest.each_a)) == (True, 50.0, 1)
    held = current_limits([noted], clamp_highest_a=13.0).peaks[0]
    assert (held.read, held.measured_a.value) == (True, 13.0)
