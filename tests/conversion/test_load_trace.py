"""From a log to a load at even steps."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from estimator.conversion.load_trace import LoadTrace, trace_from_features, trace_from_log
from estimator.descriptions import Lawn
from estimator.errors import InputError
from estimator.fitting.load.features import mow_features
from estimator.importer.log import Log, MeterError
from estimator.mow import Mow


def log_of(time_s: list[float], current_a: list[float], volts: float = 50.0, **options: object) -> Log:
    readings = pd.DataFrame(
        {"time_s": time_s, "current_a": current_a, "voltage_v": np.full(len(time_s), volts)}
    )
    return Log(readings, **options)  # type: ignore[arg-type]


def test_energy_is_that_of_straight_lines_between_readings() -> None:
    """From 0 to 36 A in 100 s and back is 36 A × 100 s = 1 Ah; at 50 V, 50 Wh."""
    trace = trace_from_log(log_of([0, 100, 200], [0.0, 36.0, 0.0], longest_step_s=200.0))
    assert trace.ah == pytest.approx(1.0, rel=1e-9)
    assert trace.wh == pytest.approx(50.0, rel=1e-9)
    assert trace.minutes == pytest.approx(200 / 60)


def test_a_log_that_starts_late_is_as_long_as_it_is() -> None:
    trace = trace_from_log(log_of([100, 104], [8.0, 12.0]))
    assert trace.current_a.tolist() == [8.5, 9.5, 10.5, 11.5]


def test_gaps_are_left_out() -> None:
    trace = trace_from_log(log_of([0, 10, 20, 320, 330], [10.0, 10.0, 10.0, 30.0, 30.0], longest_step_s=30.0))
    assert trace.minutes * 60 == pytest.approx(30.0)
    assert set(np.round(trace.current_a, 6)) == {10.0, 30.0}
    widest = trace_from_log(log_of([0, 10, 20, 31], [10.0] * 4, longest_step_s=10.0))
    assert widest.minutes * 60 == pytest.approx(20.0), "a step as long as the longest counts"


def test_meter_and_its_step_come_along() -> None:
    error = MeterError(current_gain=0.03, current_zero_a=0.2)
    trace = trace_from_log(log_of([0, 4, 8, 12], [10.0] * 4, error=error))
    assert trace.finest_s == 4.0
    assert (trace.current_gain, trace.current_zero_a) == (0.03, 0.2)


def test_kept_features_give_the_same_load_as_the_log() -> None:
    rng = np.random.default_rng(7)
    log = log_of(list(range(0, 1200, 2)), rng.normal(15.0, 2.0, 600).tolist())
    kept = trace_from_features(mow_features(Mow(log, Lawn("strip", area_m2=300))))
    whole = trace_from_log(log)
    assert kept.wh == pytest.approx(whole.wh, rel=0.01)
    assert kept.minutes == pytest.approx(whole.minutes, rel=0.01)
    assert (kept.finest_s, kept.current_zero_a) == (2.0, 0.0)
    # features keep each reading for its own time, a trace joins readings by straight lines
    assert kept.current_a.max() == pytest.approx(log.readings.current_a.max(), rel=0.02)
    assert kept.current_a.max() > whole.current_a.max()


def test_a_mow_longer_than_is_kept_counts_with_its_whole_length() -> None:
    """Two hours at 500 W are 1 kWh, though only stretches of so long a mow are kept."""
    log = log_of(list(range(0, 7201, 10)), [10.0] * 721)
    kept = trace_from_features(mow_features(Mow(log, Lawn("meadow", area_m2=4000))))
    assert kept.current_a.size < 7000
    assert kept.wh == pytest.approx(1000.0, rel=0.01)


def test_a_load_shows_nothing_shorter_than_its_steps_or_its_meter() -> None:
    assert LoadTrace(np.array([1.0]), np.array(50.0), step_s=0.5).finest_s == 0.5
    assert LoadTrace(np.array([1.0]), np.array(50.0), step_s=0.5, measured_step_s=2.0).finest_s == 2.0


def test_turning_blades_are_running_and_a_waiting_controller_is_not() -> None:
    """Blades without grass take at least a twelfth of the usual power, a controller only some watts."""
    watts = np.r_[np.full(600, 360.0), np.full(60, 30.0), np.full(60, 12.0)]
    running = LoadTrace(watts / 50, np.array(50.0)).running()
    assert running.sum() == 660 and not running[-60:].any()


def test_a_thinned_mow_counts_with_its_whole_length() -> None:
    """Ten seconds kept of a mow of 1 h at 10 A and 50 V: 10 Ah, 500 Wh."""
    thinned = LoadTrace(np.full(10, 10.0), np.array(50.0), stands_for_s=3600.0)
    assert (thinned.minutes, thinned.ah, thinned.wh) == (60.0, 10.0, 500.0)


@pytest.mark.parametrize(
    ("make", "line"),
    [
        (
            lambda: LoadTrace(np.array([]), np.array(50.0)),
            "the load has no readings; give at least one value of current",
        ),
        (
            lambda: LoadTrace(np.array([np.nan]), np.array(50.0)),
            "the load has readings that are no numbers; leave them out",
        ),
        (
            lambda: LoadTrace(np.array([1.0, 1.0]), np.array([50.0, np.nan])),
            "the load has readings that are no numbers; leave them out",
        ),
        (
            lambda: LoadTrace(np.array([1.0]), np.array(0.0)),
            "the load has a voltage of 0 V; give pack volts above zero",
        ),
        (
            lambda: LoadTrace(np.array([1.0]), np.array(50.0), step_s=0.0),
            "the step of the load is 0.0 s; give seconds above zero",
        ),
        (
            lambda: trace_from_log(log_of([0], [1.0])),
            "log: holds 1 reading(s); two or more are needed",
        ),
        (
            lambda: trace_from_log(log_of([0, 600], [1.0, 1.0], name="shed.csv")),
            "shed.csv: no two readings are closer than 30 s; take a log with shorter steps",
        ),
    ],
)
def test_loads_that_are_none_are_refused(make, line: str) -> None:
    with pytest.raises(InputError) as error:
        make()
    assert str(error.value) == line
