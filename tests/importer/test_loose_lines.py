"""Lines that are not a table, and lines between the rows of one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.errors import InputError
from estimator.importer.choices import Choices
from estimator.importer.log import Log
from estimator.importer.read import read_bytes
from estimator.importer.table.loose_lines import loosened
from estimator.mends import Give


def read(lines: list[str], **choices) -> Log:
    return read_bytes([("log.txt", ("\n".join(lines) + "\n").encode())], **Choices(**choices))


def amps(k: int) -> float:
    return 0.0 if k < 40 or k > 160 else 5 + k % 7


FORMS = {
    "names and numbers": lambda k: f"time: {k}, amps: {amps(k):.1f} A, volts: {52 - k / 100:.2f} V",
    "numbers with units": lambda k: f"[09:{k // 60:02d}:{k % 60:02d}] {amps(k):.1f}A / {52 - k / 100:.2f}V",
    "JSON": lambda k: f'{{"t_s": {k}, "battery": {{"amps": {amps(k):.1f}, "volts": {52 - k / 100:.2f}}}}}',
    "quotes": lambda k: f'"{k},{amps(k):.1f},{52 - k / 100:.2f}"' if k else '"time (s),amps,volts"',
}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_gives_the_same_readings(form: str) -> None:
    log = read([FORMS[form](k) for k in range(200)])
    assert len(log.readings) in (199, 200)
    assert log.readings.current_a.max() == pytest.approx(11.0)
    assert log.readings.voltage_v.iloc[-1] == pytest.approx(50.01)


def test_one_measurement_a_line_is_joined() -> None:
    lines = ["when;what;reading"]
    for k in range(100):
        lines += [f"2025-05-03 09:{k // 60:02d}:{k % 60:02d};battery amps;{amps(k):.1f}"]
        lines += [f"2025-05-03 09:{k // 60:02d}:{k % 60:02d};battery volts;{52 - k / 100:.2f}"]
    log = read(lines)
    assert len(log.readings) == 100
    assert log.readings.voltage_v.iloc[0] == pytest.approx(52.0)


def test_an_interval_is_asked_for_where_nothing_tells_it_and_shown_with_the_table() -> None:
    lines = ["pack volts,pack amps", *(f"{52 - k / 100:.2f},{amps(k):.1f}" for k in range(100))]
    with pytest.raises(InputError, match=r"no column for time; .*interval_s=SECONDS") as caught:
        read(lines)
    table = caught.value.table
    assert table is not None
    assert [c.taken_for for c in table.sheets[0].columns] == ["voltage [V]", "current [A]"]
    assert table.read_with == (
        Give.column("current", "2[A]"), Give.column("voltage", "1[V]"), Give("interval_s", "SECONDS"),
    )  # fmt: skip
    assert read(lines, interval_s=0.5).readings.time_s.iloc[-1] == pytest.approx(49.5)


def test_a_unit_beside_a_column_holds() -> None:
    lines = ["t,a,b", *(f"{k},{1000 * amps(k):.0f},{52000 - 10 * k}" for k in range(100))]
    log = read(lines, columns={"time": "1[min]", "current": "a[mA]", "voltage": "3[mV]"})
    assert log.readings.current_a.max() == pytest.approx(11.0)
    assert log.readings.voltage_v.iloc[0] == pytest.approx(52.0)
    assert log.readings.time_s.iloc[-1] == pytest.approx(99 * 60)


def test_a_column_whose_title_says_otherwise_is_refused_unless_its_unit_is_given() -> None:
    lines = ["s,board temperature,volts", *(f"{k},{amps(k):.1f},{52 - k / 100:.2f}" for k in range(100))]
    with pytest.raises(
        InputError, match=r"'board temperature' is temperature, not current; .*\{'current': '2\[A\]'\}"
    ):
        read(lines, columns={"current": "board temperature"})
    assert read(lines, columns={"current": "2[A]"}).readings.current_a.max() == pytest.approx(11.0)


@given(st.lists(st.text(max_size=60), max_size=30))
def test_any_lines_become_tables_or_nothing(lines: list[str]) -> None:
    for said, rows in loosened(lines):
        assert said
        assert all(isinstance(cell, str) for row in rows for cell in row)


@pytest.mark.parametrize("mark", ["\t", ";"])
def test_a_counter_before_the_clock_is_not_the_time(mark: str) -> None:
    """A reading every 2 s with a number before it: 200 readings are 398 s, not 199."""
    head = mark.join(("No", "Date", "Time", "CH1", "CH2"))
    rows = [
        mark.join((str(k + 1), "25/05/26", f"11:{k // 30:02d}:{2 * k % 60:02d}", f"{1000 * amps(k):.0f} mA",
                   f"{52 - k / 100:.2f} V"))
        for k in range(200)
    ]  # fmt: skip
    log = read([head, *rows])
    assert float(log.readings.time_s.iloc[-1]) == 398.0 and str(log.started) == "2026-05-25 11:00:00"
    assert log.readings.current_a.max() == pytest.approx(11.0)
