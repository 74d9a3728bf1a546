"""Pairs of meters of which one did something odd: joined where the truth was planted, never wrongly."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.cleaning.mending import Examined
from estimator.importer.read import examine_bytes

LATER_S = 40
"""The voltmeter was switched on this long after the ammeter; its clock begins at 0."""


def mow(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Amps in patches of grass with stops, and volts of a pack of 0.1 ohm, each second of a quarter hour."""
    rng = np.random.default_rng(seed)
    amps = np.convolve(np.repeat(rng.uniform(4, 20, 151), 6), np.ones(5) / 5, "same")[:900]
    amps = np.where(np.arange(900) % 400 > 370, 0.3, amps) + rng.normal(0, 0.05, 900)
    return amps, 54 - np.arange(900) / 900 - 0.1 * amps + rng.normal(0, 0.02, 900)


def examined(amps: np.ndarray, volts: np.ndarray) -> Examined:
    def file(title: str, values: np.ndarray) -> bytes:
        return "\n".join([f"time_s,{title}", *(f"{k},{x:.2f}" for k, x in enumerate(values))]).encode()

    files = [("clamp.csv", file("current_a", amps)), ("logger.csv", file("voltage_v", volts[LATER_S:]))]
    return examine_bytes(files)


@pytest.mark.parametrize("off", [slice(840, 900), slice(400, 460), slice(300, 900)])
def test_volts_of_a_pack_that_is_switched_off_do_not_count_as_sag(off: slice) -> None:
    amps, volts = mow(1)
    other = mow(2)[1]
    amps[off], volts[off], other[off] = 0.02, 0.4, 0.4
    found = examined(amps, volts).alignment
    assert found is not None
    assert found.offset_s == pytest.approx(LATER_S, abs=0.2)
    assert found.correlation > 0.9
    with pytest.raises(InputError, match="do not fit together"):
        examined(amps, other)


def test_a_clamp_the_wrong_way_round_is_joined_and_turned() -> None:
    amps, volts = mow(1)
    usual, turned = examined(amps, volts), examined(-amps, volts)
    assert turned.alignment is not None
    assert turned.alignment.offset_s == pytest.approx(LATER_S, abs=0.2)
    assert turned.after.ah == pytest.approx(usual.after.ah, abs=0.002)
    assert [d.taken for d in turned.decisions if d.about == "sense of the clamp"] == ["turned"]
    with pytest.raises(InputError, match="do not fit together"):
        examined(-amps, mow(2)[1])


def of_clock(values: np.ndarray, title: str, begun: str) -> bytes:
    stamps = np.datetime64(begun, "s") + np.arange(values.size).astype("timedelta64[s]")
    return "\n".join(
        [f"time,{title}", *(f"{at},{x:.2f}" for at, x in zip(stamps, values, strict=True))]
    ).encode()


@pytest.mark.parametrize(
    "name", ["clamp_2026-04-18.csv", "clamp_2026-04-18_1009.csv", "clamp_2026-04-18_1800.csv"]
)
def test_the_clock_of_one_meter_beats_the_name_of_the_others_file(name: str) -> None:
    amps, volts = mow(1)
    clamp = "\n".join(["time_s,current_a", *(f"{k},{x:.2f}" for k, x in enumerate(amps))]).encode()
    logger = of_clock(volts[LATER_S:], "voltage_v", "2026-04-18T10:11:23")
    log = examine_bytes([(name, clamp), ("logger.csv", logger)]).log
    assert log.started is not None
    assert abs((log.started - datetime(2026, 4, 18, 10, 10, 43)).total_seconds()) < 1
    assert f"The log starts by the clock of logger.csv, not by the name of {name}." in log.notes
    assert not any("do not overlap" in note for note in log.notes)


def test_a_name_of_another_day_is_no_clock_to_be_put_right() -> None:
    amps, volts = mow(1)
    clamp = "\n".join(["time_s,current_a", *(f"{k},{x:.2f}" for k, x in enumerate(amps))]).encode()
    logger = of_clock(volts[LATER_S:], "voltage_v", "2000-01-01T00:00:00")
    log = examine_bytes([("clamp_2026-04-18.csv", clamp), ("logger.csv", logger)]).log
    assert log.started == datetime(2026, 4, 18)
    assert any("do not overlap" in note for note in log.notes)


def test_a_name_with_the_voltmeter_leaves_the_clamps_clock_alone() -> None:
    amps, volts = mow(1)
    logger = "\n".join(
        ["time_s,voltage_v", *(f"{k},{x:.2f}" for k, x in enumerate(volts[LATER_S:]))]
    ).encode()
    files = [
        ("clamp.csv", of_clock(amps, "current_a", "2026-04-18T10:11:23")),
        ("volts_2026-04-18.csv", logger),
    ]
    log = examine_bytes(files).log
    assert log.started == datetime(2026, 4, 18, 10, 11, 23)
    assert not any("do not overlap" in note for note in log.notes)


def test_two_names_that_disagree_are_no_clock() -> None:
    amps, volts = mow(1)
    files = [
        (name, "\n".join([f"time_s,{title}", *(f"{k},{x:.2f}" for k, x in enumerate(values))]).encode())
        for name, title, values in (
            ("clamp_2026-04-18_0900.csv", "current_a", amps),
            ("volts_2026-04-18_1800.csv", "voltage_v", volts[LATER_S:]),
        )
    ]
    log = examine_bytes(files).log
    assert log.started == datetime(2026, 4, 18, 9)
    assert any("do not overlap" in note for note in log.notes)
