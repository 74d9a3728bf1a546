"""Two files of one mow that hardly make a pair, or do not: one line says which file and what to do."""

from __future__ import annotations

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.clock.stamps import parts
from estimator.importer.read import examine_bytes
from estimator.importer.table.cells import what_is
from estimator.importer.table.quantities import CURRENT, VALUE, VOLTAGE, Unit

SECONDS = np.arange(0, 600, 2)
AMPS = np.where(SECONDS % 40 < 30, 6.0, 1.5) + np.repeat(np.random.default_rng(4).uniform(-1, 4, 75), 4)
VOLTS = 53.0 - SECONDS / 900 - 0.15 * AMPS


def file(columns: dict[str, np.ndarray], start: str | None = None, seconds: np.ndarray = SECONDS) -> bytes:
    """A meter's file of these columns; with a start, its clock shows dates, else elapsed seconds."""
    clock = [f"{k}" for k in seconds]
    if start:
        clock = [str(np.datetime64(start, "s") + np.timedelta64(int(k), "s")) for k in seconds]
    rows = [
        f"{at},{','.join(f'{v:.2f}' for v in values)}"
        for at, *values in zip(clock, *columns.values(), strict=True)
    ]
    return "\n".join([",".join(["time" if start else "time_s", *columns]), *rows]).encode()


A, V = {"current_a": AMPS}, {"voltage_v": VOLTS}


@pytest.mark.parametrize(
    ("one", "two", "line"),
    [
        (file(A), file({"current_a": AMPS + 1}), "one.csv and two.csv both have amps, none has volts; give the voltmeter's file"),  # noqa: E501
        (file(V), file({"voltage_v": VOLTS + 1}), "one.csv and two.csv both have volts, none has amps; give the ammeter's file"),  # noqa: E501
        (file(A | V), file({"current_a": AMPS + 1, "voltage_v": VOLTS}), "one.csv and two.csv have both amps and volts, and no clock says when each began; if they are one mow, put the rows"),  # noqa: E501
        (file({"current_a": AMPS[:20]}, seconds=SECONDS[:20]), file(V), "one.csv and two.csv have too few readings to be lined up"),  # noqa: E501
    ],
)  # fmt: skip
def test_files_that_make_no_pair(one: bytes, two: bytes, line: str) -> None:
    with pytest.raises(InputError) as refused:
        examine_bytes([("one.csv", one), ("two.csv", two)])
    assert str(refused.value).startswith(line)


def test_a_told_offset_that_parts_the_files_is_refused() -> None:
    with pytest.raises(InputError) as refused:
        examine_bytes([("one.csv", file(A)), ("two.csv", file(V))], offset_s=5000.0)
    assert str(refused.value) == (
        "one.csv and two.csv do not overlap in time; check the files, or say offset_s=SECONDS"
    )


def test_dates_that_do_not_overlap_are_taken_as_started_together() -> None:
    log = examine_bytes(
        [("one.csv", file(A, "2025-05-01T09:00:00")), ("two.csv", file(V, "2024-01-01T00:00:00"))]
    ).log
    assert any("dates of the two meters do not overlap" in note for note in log.notes)
    assert log.readings["voltage_v"].notna().all()


def test_start_and_temperature_come_from_the_voltmeter_where_the_ammeter_has_none() -> None:
    warm = V | {"temperature_c": np.full(len(SECONDS), 31.0)}
    log = examine_bytes(
        [("one.csv", file(A)), ("two.csv", file(warm, "2025-05-01T09:00:00"))], offset_s=-4.0
    ).log
    assert str(log.started) == "2025-05-01 09:00:04"
    assert log.readings["temperature_c"].dropna().unique().tolist() == [31.0]


@pytest.mark.parametrize(
    ("text", "style", "month"),
    [
        ("3 juin 2025 09:00:00", "named month", 6),
        ("3 juillet 2025 09:00:00", "named month", 7),
        ("3 smarch 2025 09:00:00", "named month", None),
        ("2025-05-03 09:61:00", "year first", None),
        ("2025-05-03 25:00:00", "year first", None),
    ],
)  # fmt: skip
def test_months_by_name_and_clocks_that_are_none(text: str, style: str, month: int | None) -> None:
    found = parts(text, style)
    assert (None if found is None else found.b) == month


def test_a_cell_belongs_to_its_own_unit() -> None:
    amps, volts = Unit(CURRENT), Unit(VOLTAGE)
    assert what_is(VALUE, None, volts, None, []) == (VOLTAGE, volts)
    assert what_is(VALUE, None, None, None, []) == (None, None)
    assert what_is(CURRENT, amps, volts, None, []) == (None, None)
    assert what_is(CURRENT, amps, None, 1, ["6", ""]) == (CURRENT, amps)
    assert what_is(CURRENT, None, None, 1, ["6", "A DC"])[0] == CURRENT
    assert what_is(VALUE, None, None, 1, ["6", "dc v"])[0] == VOLTAGE
    assert what_is(CURRENT, amps, None, 5, ["6"]) == (CURRENT, amps)
