"""Pairs of meters of which one did something odd: joined where the truth was planted, never wrongly."""

from __future__ import annotations

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
