"""A clamp whose zero cannot be checked: the note says what to record, and exactly that is enough."""

from __future__ import annotations

import re

import numpy as np
import pytest

from estimator.importer.log import Log
from estimator.importer.read import read_bytes

NOTE = re.compile(
    r"No quiet stretch to check the clamp's zero: it may be wrong by \S+ A \(standard uncertainty\), \S+ Ah "
    r"over this log\. Let the meter run with the motor off for (\d+) s before mowing and for \1 s after it\."
)


def recorded(step_s: float, rest_s: float, begins_s: float = 0.0) -> Log:
    """20 minutes of mowing with a rest before and after, by a clamp that reads 0.2 A too high."""
    rng = np.random.default_rng(3)
    t = np.arange(begins_s, 2 * rest_s + 1200, step_s)
    works = (t >= rest_s) & (t < rest_s + 1200)
    i = np.where(works, rng.normal(12, 2, len(t)), 0.0) + 0.2
    v = 52.0 - 0.08 * (i - 0.2) - np.cumsum(i - 0.2) * step_s / 3600 * 0.2
    rows = "".join(f"{a:.1f},{b:.2f},{c:.2f}\n" for a, b, c in zip(t, i, v, strict=True))
    return read_bytes([("mow.csv", f"time_s,current_a,voltage_v\n{rows}".encode())])


@pytest.mark.parametrize("step_s", [1.0, 2.0, 3.0, 5.0, 10.0])
def test_the_rest_that_the_note_asks_for_is_enough(step_s: float) -> None:
    short = recorded(step_s, 20.0)
    asked = [found for note in short.notes if (found := NOTE.fullmatch(note))]
    assert len(asked) == 1, short.notes
    rest_s = float(asked[0].group(1))
    for begins_s in (0.0, 0.9 * step_s):
        enough = recorded(step_s, rest_s, begins_s)
        assert any("in 2 quiet stretches: taken off." in note for note in enough.notes), enough.notes
