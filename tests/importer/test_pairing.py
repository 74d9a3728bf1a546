"""Two meters, two clocks: planted offsets and rates are found, unrelated pairs refused."""

from __future__ import annotations

import importlib.util
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.read import examine_bytes, read_bytes
from estimator.importer.two_meters.aligning import align

_spec = importlib.util.spec_from_file_location("invented_mow", Path(__file__).with_name("invented_mow.py"))
assert _spec is not None and _spec.loader is not None
invented = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(invented)


@lru_cache(maxsize=8)
def mow(seed: int, minutes: float = 30.0):
    return invented.fine_mow(seed, minutes)


def two_meters(seed, offset_s, drift_ppm, every_a=1.0, every_v=1.0, minutes=30.0, volts_of=None):
    t, current, _ = mow(seed, minutes)
    voltage = mow(seed if volts_of is None else volts_of, minutes)[2]
    at_a, amps = invented.read_off(t, current, every_a, 0.0, 0.1, 0.05, seed)
    at_v, volts = invented.read_off(t, voltage, every_v, 7.3, 0.01, 0.01, seed + 1)
    # The ammeter's clock is true; the voltmeter's reads (true - offset) / (1 + rate) from its own start.
    own = (at_v - offset_s) / (1 + drift_ppm * 1e-6)
    return at_a, amps, own, volts, at_v


@pytest.mark.parametrize(
    ("seed", "offset_s", "drift_ppm", "every_a", "every_v"),
    [
        (1, -90.0, 0.0, 1.0, 1.0),
        (2, 90.0, 200.0, 1.0, 1.0),
        (3, 0.0, -200.0, 1.0, 0.5),
        (4, 37.4, 60.0, 1.0, 2.0),
        (1, -12.7, 120.0, 2.0, 1.0),
        (2, 3.3, -80.0, 2.0, 2.0),
        (3, 66.6, 0.0, 0.5, 1.0),
        (4, -0.4, 200.0, 1.0, 1.0),
    ],
)
def test_planted_offset_and_rate_are_found(seed, offset_s, drift_ppm, every_a, every_v) -> None:
    at_a, amps, own, volts, true = two_meters(seed, offset_s, drift_ppm, every_a, every_v)
    found = align(at_a, amps, own, volts)
    back = own + found.offset_s + (own - own[0]) * found.drift_ppm * 1e-6
    # Readings every 2 s leave more doubt about the offset than readings every second.
    assert np.abs(back - true).max() < (0.3 if every_a < 2 else 0.4), found
    assert found.correlation > 0.5


def test_stated_uncertainty_covers_the_error() -> None:
    pulls = []
    for seed in (1, 2, 3, 4):
        for offset_s, drift_ppm in ((-40.0, 50.0), (21.6, -120.0)):
            at_a, amps, own, volts, true = two_meters(seed, offset_s, drift_ppm)
            found = align(at_a, amps, own, volts)
            middle = len(own) // 2
            back = own[middle] + found.offset_s + (own[middle] - own[0]) * found.drift_ppm * 1e-6
            pulls.append((back - true[middle]) / found.offset_std_s)
    assert np.mean(np.abs(pulls) < 3) >= 0.85, pulls


@pytest.mark.parametrize("pair", [(1, 2), (2, 3), (3, 4), (4, 1), (1, 3), (4, 2)])
def test_unrelated_pairs_are_refused(pair) -> None:
    at_a, amps, own, volts, _ = two_meters(pair[0], 20.0, 0.0, volts_of=pair[1])
    with pytest.raises(InputError, match=r"do not fit together.*offset_s"):
        align(at_a, amps, own, volts)


def test_flat_current_is_refused() -> None:
    t = np.arange(900.0)
    rng = np.random.default_rng(0)
    with pytest.raises(InputError, match="do not fit together"):
        align(t, 10 + rng.normal(0, 0.05, 900), t, 54 - t * 1e-3 + rng.normal(0, 0.01, 900))


def rows_of_one_length(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Amps of rows of 24 s with turns of 6 s in patchy grass, and the volts of a pack under this load."""
    rng = np.random.default_rng(seed)
    patches = np.exp(0.3 * np.convolve(rng.normal(size=1830), np.ones(10) / np.sqrt(10), "same")[:1800])
    amps = np.where(np.arange(1800) % 30 < 24, 8 * patches, 2.0) + rng.normal(0, 0.05, 1800)
    lag = np.convolve(amps, np.exp(-np.arange(120) / 25) / 25)[:1800]
    return amps, 54 - 0.08 * amps - 0.06 * lag + rng.normal(0, 0.02, 1800)


@pytest.mark.parametrize("seed", range(6))
def test_rows_of_one_length_are_told_apart_by_their_grass(seed) -> None:
    t = np.arange(1800.0)
    amps, volts = rows_of_one_length(seed)
    assert abs(align(t, amps, t + 200.0, volts).offset_s + 200.0) < 0.5
    other = rows_of_one_length(seed + 100)[1]
    with pytest.raises(InputError, match="do not fit together: sag and current agree nearly as well at two"):
        align(t, amps, t + 200.0, other)


def file_of(title: str, time, values) -> bytes:
    lines = [f"time_s,{title}"] + [f"{t:.3f},{x:.2f}" for t, x in zip(time, values, strict=True)]
    return ("\n".join(lines) + "\n").encode()


def test_two_files_in_either_order_give_one_log() -> None:
    at_a, amps, own, volts, _ = two_meters(2, 31.0, 100.0)
    own = own - own[0]
    a, v = ("amps.csv", file_of("current_a", at_a, amps)), ("volts.csv", file_of("voltage_v", own, volts))
    first, second = read_bytes([a, v]), read_bytes([v, a])
    assert np.allclose(first.readings, second.readings)
    assert any("joined by the voltage dip" in n for n in first.notes)
    t, _, voltage = mow(2)
    inside = (first.readings.time_s > 10) & (first.readings.time_s < 1700)
    rms = float(
        np.sqrt(
            np.mean((first.readings.voltage_v - np.interp(first.readings.time_s, t, voltage))[inside] ** 2)
        )
    )
    assert rms < 0.15


def test_offset_by_hand_overrules() -> None:
    at_a, amps, own, volts, _ = two_meters(1, 25.0, 0.0)
    files = [("a.csv", file_of("current_a", at_a, amps)), ("v.csv", file_of("voltage_v", own, volts))]
    examined = examine_bytes(files, offset_s=25.0)
    assert examined.alignment is not None and examined.alignment.told
    assert examined.alignment.offset_s == 25.0
    assert any("as given" in n for n in examined.log.notes)


def test_two_files_of_amps_are_refused() -> None:
    at_a, amps, *_ = two_meters(1, 0.0, 0.0)
    files = [("a.csv", file_of("current_a", at_a, amps)), ("b.csv", file_of("current_a", at_a, amps))]
    with pytest.raises(InputError, match="none has volts"):
        read_bytes(files)
