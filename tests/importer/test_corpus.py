"""Every file of the invented corpus is read right, or refused with its row and a mend."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.read import read_bytes

sys.path.insert(0, str(Path(__file__).parent / "corpus"))
from make_corpus import Case, all_cases

CASES = all_cases()


def test_corpus_is_large() -> None:
    assert len(CASES) >= 60
    assert len({c.files for c in CASES}) >= 60


@pytest.mark.parametrize("case", [c for c in CASES if c.readings is not None], ids=lambda c: c.name)
def test_read_right(case: Case) -> None:
    log = read_bytes(case.files, **case.choices)
    expected = case.readings
    assert expected is not None
    got = log.readings
    assert len(got) == len(expected.time_s), log.notes
    time = expected.time_s - expected.time_s[0]
    assert np.abs(got.time_s - time).max() <= case.time_tolerance_s, log.notes
    assert np.abs(got.current_a - expected.current_a).max() <= min(case.value_tolerance, 0.006), log.notes
    assert np.abs(got.voltage_v - expected.voltage_v).max() <= case.value_tolerance, log.notes
    if "temperature_c" in got:
        assert np.abs(got.temperature_c - expected.temperature_c).max() < 1e-3
    if case.said:
        assert case.said in " ".join(log.notes)
    if case.started is not None:
        assert log.started == case.started


@pytest.mark.parametrize("case", [c for c in CASES if c.readings is None], ids=lambda c: c.name)
def test_refused_with_row_and_mend(case: Case) -> None:
    with pytest.raises(InputError) as caught:
        read_bytes(case.files, **case.choices)
    error = caught.value
    assert case.refused in str(error)
    assert error.file == case.files[0][0]
    assert error.mend
    assert "\n" not in str(error)
    if case.row is not None:
        assert error.row == case.row
