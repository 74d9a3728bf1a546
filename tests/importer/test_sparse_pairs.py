"""Recordings of two meters that hardly fit together: few readings, no overlap, a column that both have."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.recording import Recording
from estimator.importer.two_meters.aligning import align
from estimator.importer.two_meters.pairing import pair

SECONDS = np.arange(900.0)
AMPS = np.repeat(np.random.default_rng(1).uniform(5, 25, 45), 20)


def recording(name: str, time_s: np.ndarray, **channels: np.ndarray) -> Recording:
    """A recording of these channels, of which nothing else is known."""
    n = len(time_s)
    given = {"current_a": None, "voltage_v": None, "temperature_c": None, **channels}
    return Recording(
        name=name, time_s=time_s, over=np.zeros(n, dtype=np.bool_), rows=np.arange(2, n + 2), started=None,
        step_s=1.0, notes=(), signature="", meter=None, **given,
    )  # fmt: skip


CLAMP = recording("one.csv", SECONDS, current_a=AMPS)


def test_a_meter_that_has_volts_besides_amps_serves_as_the_voltmeter() -> None:
    both = recording("two.csv", SECONDS, current_a=AMPS + 1, voltage_v=54 - 0.1 * AMPS)
    for one, two in ((CLAMP, both), (both, CLAMP)):
        joined = pair(one, two, offset_s=0.0).recording
        assert joined.name == "one.csv + two.csv"
        assert joined.current_a is not None and joined.voltage_v is not None
        assert np.array_equal(joined.current_a, AMPS)
        assert joined.voltage_v == pytest.approx(54 - 0.1 * AMPS)


@pytest.mark.parametrize(
    ("other", "line"),
    [
        (
            recording("two.csv", SECONDS, temperature_c=AMPS),
            "two.csv: has neither amps nor volts; give the right file",
        ),
        (
            recording("two.csv", SECONDS, voltage_v=AMPS * np.nan),
            "two.csv: no readings of volts; check the voltmeter's leads",
        ),
    ],
)
def test_a_second_file_without_volts_is_refused(other: Recording, line: str) -> None:
    with pytest.raises(InputError) as refused:
        pair(CLAMP, other, offset_s=0.0)
    assert str(refused.value) == line


def test_one_reading_of_volts_stands_for_its_own_moment_only() -> None:
    once = recording("two.csv", np.array([0.0]), voltage_v=np.array([52.0]))
    voltage = pair(CLAMP, once, offset_s=100.0).recording.voltage_v
    assert voltage is not None
    assert np.flatnonzero(np.isfinite(voltage)).tolist() == [100] and voltage[100] == 52.0


def test_temperatures_come_along_where_there_are_any() -> None:
    volts = recording("two.csv", SECONDS, voltage_v=54 - 0.1 * AMPS)
    warm = replace(volts, temperature_c=np.where(SECONDS < 450, 20.0, np.nan))
    unread = replace(volts, temperature_c=np.full(900, np.nan))
    assert pair(CLAMP, unread, offset_s=0.0).recording.temperature_c is None
    assert pair(CLAMP, warm, offset_s=0.0).recording.temperature_c == pytest.approx(20.0)


def test_clocks_further_apart_than_is_looked_for_are_refused() -> None:
    with pytest.raises(InputError) as refused:
        align(SECONDS, AMPS, SECONDS + 5000, 54 - 0.1 * AMPS)
    assert str(refused.value) == (
        "the two logs do not fit together: sag and current agree only 0.00 at best; check that both are of "
        "one mow, or say offset_s=SECONDS"
    )


def test_few_readings_of_volts_give_the_offset_but_no_rate() -> None:
    """A reading every ten seconds is not enough to refine: the offset is that of the best correlation, and
    the rate stays uncertain by 100 ppm."""
    few = SECONDS[::10]
    found = align(SECONDS, AMPS, few + 20.0, 54 - 0.1 * AMPS[::10])
    assert found.offset_s == pytest.approx(-20.0, abs=5.0)
    assert (found.drift_ppm, found.drift_std_ppm) == (0.0, 100.0)


def test_a_hole_in_the_volts_is_passed_over() -> None:
    kept = (SECONDS < 300) | (SECONDS > 500)
    found = align(SECONDS, AMPS, SECONDS[kept] + 20.0, 54 - 0.1 * AMPS[kept])
    assert found.offset_s == pytest.approx(-20.0, abs=0.5)
    assert found.drift_std_ppm > 0
