"""A log that its meter split into files: joined by their clocks, or refused with a mend that works."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import permutations

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.read import examine_bytes, read_bytes

SECONDS = np.arange(0, 900, 2)
AMPS = np.where(SECONDS % 40 < 30, 8.0, 2.0) + np.repeat(np.random.default_rng(4).uniform(-1, 4, 90), 5)
VOLTS = 53.0 - SECONDS / 900 - 0.15 * AMPS


def part(first: int, last: int, clock: str | None = "%d.%m.%Y %H:%M:%S", later_s: int = 0) -> bytes:
    """Rows first..last of the mow that began on 18 April at 9:50; without a clock, seconds from the first."""
    begun, rows = datetime(2026, 4, 18, 9, 50) + timedelta(seconds=later_s), ["Time;Current [A];Voltage [V]"]
    for k in range(first, last):
        at = begun + timedelta(seconds=int(SECONDS[k]))
        stamp = at.strftime(clock) if clock else f"{SECONDS[k] - SECONDS[first]}"
        rows.append(f"{stamp};{AMPS[k]:.2f};{VOLTS[k]:.2f}")
    return "\n".join(rows).encode()


@pytest.mark.parametrize("clock", ["%d.%m.%Y %H:%M:%S", "%H:%M:%S"])
def test_parts_in_any_order_are_the_log_that_was_split(clock: str) -> None:
    whole = read_bytes([("LOG.csv", part(0, 450, clock))])
    parts = [
        (f"LOG_{k}.csv", part(*rows, clock)) for k, rows in enumerate([(0, 150), (150, 300), (300, 450)])
    ]
    for given in permutations(parts):
        found = examine_bytes(given)
        log = found.log
        for name in ("time_s", "current_a", "voltage_v"):
            assert np.allclose(log.arrays[name], whole.arrays[name])
        assert (log.started, log.clock_s) == (whole.started, whole.clock_s)
        assert log.name == "LOG_0.csv + LOG_1.csv + LOG_2.csv"
        assert "3 files, one after the other: taken as one log, rows counted on." in log.notes
        assert found.after.ah == pytest.approx(examine_bytes([("LOG.csv", part(0, 450, clock))]).after.ah)


def test_a_break_between_parts_is_said_and_is_the_break_of_the_whole() -> None:
    log = read_bytes([("b.csv", part(300, 450, later_s=1200)), ("a.csv", part(0, 300))])
    assert (
        "2 files, one after the other: taken as one log, rows counted on, at most 1202 s between them."
        in log.notes
    )
    assert float(log.arrays["time_s"][-1]) == SECONDS[-1] + 1200


@pytest.mark.parametrize(
    ("one", "two", "why"),
    [
        (part(0, 200), part(150, 450), ", and b.csv begins before a.csv ends; add each by itself, as a mow of its own"),  # noqa: E501
        (part(0, 200), part(200, 450, later_s=7200), ", and b.csv begins 120 min after a.csv ends; add each by itself, as a mow of its own"),  # noqa: E501
        (part(0, 200, "%H:%M:%S"), part(200, 450, "%H:%M:%S", 600), ", and b.csv begins 10 min after a.csv ends by clocks without a date; add each by itself, as a mow of its own"),  # noqa: E501
        (part(0, 200), part(200, 450).replace(b"Current", b"Amps"), ", under different titles; add each by itself, as a mow of its own"),  # noqa: E501
        (part(0, 200, None), part(200, 450, None), ", and no clock says when each began; if they are one mow, put the rows of the later file, without its titles, below those of the earlier one"),  # noqa: E501
    ],
)  # fmt: skip
def test_files_that_do_not_follow_are_refused(one: bytes, two: bytes, why: str) -> None:
    for given in permutations([("a.csv", one), ("b.csv", two)]):
        with pytest.raises(InputError) as refused:
            read_bytes(given)
        assert str(refused.value) == f"{given[0][0]} and {given[1][0]} have both amps and volts{why}"


def test_names_with_the_time_are_clocks_and_names_with_the_day_alone_are_not() -> None:
    one, two = part(0, 200, None), part(200, 450, None)
    log = read_bytes([("2026-04-18_095000.csv", one), ("2026-04-18_095640.csv", two)])
    assert log.arrays["time_s"].tolist() == SECONDS.tolist()
    with pytest.raises(
        InputError, match=r"begins by its name before .* ends; if they are one mow, put the rows"
    ):
        read_bytes([("2026-04-18_a.csv", one), ("2026-04-18_b.csv", two)])


def test_the_mend_for_clocks_from_zero_works() -> None:
    below = part(0, 200, None) + b"\n" + part(200, 450, None).split(b"\n", 1)[1]
    log = read_bytes([("both.csv", below)])
    assert len(log.arrays["time_s"]) >= 450
    assert any("restarted" in note for note in log.notes)


def test_three_files_that_are_not_parts_are_refused() -> None:
    amps_only = b"\n".join(row.rsplit(b";", 1)[0] for row in part(0, 200).split(b"\n"))
    with pytest.raises(InputError, match="3 files given; give one file, or one with amps and one with volts"):
        read_bytes([("a.csv", part(0, 200)), ("b.csv", part(200, 450)), ("c.csv", amps_only)])
