"""Files that read well but mean something else: copies, weeks, swapped columns, impossible units."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.cleaning.plausible import said_of_clock
from estimator.importer.read import examine_bytes
from estimator.importer.table import quantities as q
from estimator.importer.table.titles import meaning


def mow(n: int = 900, seed: int = 1):
    rng = np.random.default_rng(seed)
    current = np.round(np.clip(10 + 3 * np.sin(np.arange(n) / 20) + rng.normal(0, 1, n), 1, None), 2)
    current[:40] = current[-40:] = 0.0
    return current, np.round(53 - 0.8 * np.cumsum(current) / 3600 - 0.1 * current, 2)


def rows(current, voltage, step: float = 1.0, first: float = 0.0) -> list[str]:
    return [f"{first + k * step:g},{i},{v}" for k, (i, v) in enumerate(zip(current, voltage, strict=True))]


def read(lines: list[str], title: str = "time_s,current_a,voltage_v"):
    return examine_bytes([("mow.csv", "\n".join([title, *lines]).encode())])


def test_an_export_appended_to_itself_is_counted_once() -> None:
    i, v = mow()
    once = read(rows(i, v))
    twice = read([*rows(i, v), "time_s,current_a,voltage_v", *rows(i, v)])
    assert twice.after == once.after
    assert len(twice.log.readings) == 900
    assert "900 rows from row 903 on are already in the file: left out." in twice.log.notes


def test_a_later_export_that_repeats_an_earlier_one_is_counted_once() -> None:
    i, v = mow()
    both = read([*rows(i[:500], v[:500]), *rows(i, v)])
    assert both.after.ah == pytest.approx(read(rows(i, v)).after.ah, abs=1e-9)
    assert both.log.readings.time_s.iloc[-1] == 899


def test_a_second_mow_after_a_restart_is_no_copy() -> None:
    i, v = mow()
    j, w = mow(seed=2)
    e = read([*rows(i, v), *rows(j, w)])
    assert not any("already in the file" in note for note in e.log.notes)
    assert e.after.ah == pytest.approx((i.sum() + j.sum()) / 3600, rel=0.001)


def test_a_week_with_three_mows_loses_nothing_and_says_so() -> None:
    current, voltage = np.zeros(60_480), np.full(60_480, 53.0)
    ah = 0.0
    for k, seed in ((3456, 1), (20_736, 2), (48_384, 3)):
        i, v = mow(240, seed)
        current[k : k + 240], voltage[k : k + 240] = i, v
        ah += float(i.sum()) * 10 / 3600
    e = read(rows(current, voltage, 10.0))
    assert e.after.ah == pytest.approx(ah, abs=0.001)
    assert not [m for m in e.marks if m.kind == "spike"]
    assert e.quiet, "six days of rest show the zero of the clamp"
    assert any("holds 3 mows" in n and "before rows 20778, 48426 to" in n for n in e.log.notes)


def test_exchanged_columns_are_refused_unless_named() -> None:
    i, v = mow()
    i = np.clip(i[40:-40], 1, None)
    v = v[40:-40]
    with pytest.raises(InputError, match="the columns seem to be swapped; correct the titles"):
        read(rows(v, np.where(np.arange(len(i)) % 50 < 5, 0.5, i)))
    lines = "\n".join(["t,volts,amps", *rows(i, v)]).encode()
    named = {"time": "t", "current": "volts", "voltage": "amps"}
    assert examine_bytes([("mow.csv", lines)], columns=named).after.ah == pytest.approx(
        float(np.sum((i[1:] + i[:-1]) / 2)) / 3600
    )


def test_units_that_cannot_be_are_said() -> None:
    i, v = mow()
    notes = read(rows(i, v), "time_s,current_mA,voltage_v").log.notes
    assert any("Amps reach only 0.013 A, too little for a mower at work: check their unit." in n
               for n in notes)  # fmt: skip
    cells = read(rows(i, np.round(v / 13, 3))).log.notes
    assert any("Volts are at 3.9 V, too little for a pack" in n for n in cells)
    assert not any("too little" in n for n in read(rows(i, v)).log.notes)


@pytest.mark.parametrize(
    ("title", "quantity"),
    [
        ("Amps Min", q.CURRENT), ("Volts (min)", q.VOLTAGE), ("Current (% of 40A)", q.OTHER),
        ("I %", q.OTHER),
        ("Corrente (A)", q.CURRENT), ("Tensione (V)", q.VOLTAGE), ("Ora", q.TIME), ("Data", q.DATE),
        ("Ström", q.CURRENT), ("Strøm", q.CURRENT), ("Spænding", q.VOLTAGE), ("Tid", q.TIME),
        ("Prąd [A]", q.CURRENT), ("Napięcie", q.VOLTAGE), ("Czas", q.TIME), ("Napětí", q.VOLTAGE),
        ("millis", q.TIME), ("Tensão", q.VOLTAGE),
    ],
)  # fmt: skip
def test_titles(title, quantity) -> None:
    found = meaning(title)
    assert found is not None
    assert found.quantity == quantity


def test_the_average_is_taken_where_min_and_max_stand_beside_it() -> None:
    i, v = mow()
    lines = [f"{k},{a + 2},{a - 2},{a},{b}" for k, (a, b) in enumerate(zip(i, v, strict=True))]
    e = read(lines, "Time s,Amps Max,Amps Min,Amps Avg,Volts")
    assert np.allclose(e.log.readings.current_a, i)


def test_a_meter_that_changes_its_range_is_as_good_as_its_working_range() -> None:
    i, v = mow()
    cells = [f"{a * 1000 + 7:.0f} mA" if a < 4 else f"{a:.1f} A" for a in i]
    changing = read([f"{k},{c},{b}" for k, (c, b) in enumerate(zip(cells, v, strict=True))])
    steady = read([f"{k},{a:.1f},{b}" for k, (a, b) in enumerate(zip(i, v, strict=True))])
    assert changing.log.error.current_gain == steady.log.error.current_gain


@pytest.mark.parametrize(
    "columns", [{"voltage": "aux 2"}, {"voltage": 4}, {"current": "shown", "voltage": 4}]
)
def test_what_is_not_named_is_known_by_its_title(columns) -> None:
    i, v = mow()
    lines = [f"{k},{a},12.1,{b}" for k, (a, b) in enumerate(zip(i, v, strict=True))]
    title = f"time_s,{'shown' if 'current' in columns else 'amps'},volts,aux 2"
    log = examine_bytes([("mow.csv", "\n".join([title, *lines]).encode())], columns=columns).log
    assert np.allclose(log.readings.voltage_v, v)
    assert np.allclose(log.readings.current_a, i)


def test_columns_without_titles_must_all_be_named() -> None:
    i, v = mow()
    with pytest.raises(
        InputError, match=r"no readings with these columns \(current in 2, voltage in 3\); check"
    ):
        examine_bytes([("mow.csv", "\n".join(rows(i, v)).encode())], columns={"current": 2, "voltage": 3})


@pytest.mark.parametrize(
    ("choice", "said"),
    [
        ({"zero_a": float("inf")}, "zero_a is inf; give amps"),
        ({"zero_a": True}, "zero_a is True; give amps"),
        ({"zero_a": "abc"}, "zero_a is abc; give amps"),
        ({"zero_a": 1e9}, "give amps as a number from -1000"),
        ({"reverse": 2.0}, "reverse is 2.0; say yes or no"), ({"day_first": "x"}, "day_first is x; say yes"),
        ({"offset_s": float("nan")}, "offset_s is nan; give seconds"),
        ({"max_rows": 0.0}, "give a whole number"),
        ({"columns": "abc"}, "columns is 'abc'; name each column"),
    ],
)  # fmt: skip
def test_choices_that_are_none_are_refused(choice, said) -> None:
    with pytest.raises(InputError, match=said):
        examine_bytes([("mow.csv", b"time_s,current_a,voltage_v\n0,1,50\n1,1,50\n2,1,50\n")], **choice)


def test_units_with_a_factor_are_reckoned_with() -> None:
    i, v = mow()
    lines = [f"{k},{a * 10:.1f},{b * 100:.0f}" for k, (a, b) in enumerate(zip(i, v, strict=True))]
    log = read(lines, "Time s,Current (0.1A),Voltage (10mV)").log
    assert np.allclose(log.readings.current_a, i)
    assert np.allclose(log.readings.voltage_v, v, atol=0.005)
    ranged = read(rows(i, v), "Time s,Current (40A),Voltage").log
    assert np.allclose(ranged.readings.current_a, i)


def test_units_far_too_high_are_said() -> None:
    i, v = mow()
    notes = read(rows(i * 40, v * 10)).log.notes
    assert any("Amps reach 5" in n and "too much for a mower" in n for n in notes)
    assert any("too much for a mower's pack" in n for n in notes)
    with pytest.raises(InputError, match=r"more than any pack gives; say their unit, such as"):
        read(rows(i * 1000, v))
    with pytest.raises(InputError, match=r"more than any pack has; say their unit, such as"):
        read(rows(i, v * 1000))


def test_a_clock_in_three_columns_is_refused() -> None:
    i, v = mow()
    lines = [f"14,{30 + k // 60},{k % 60},{a},{b}" for k, (a, b) in enumerate(zip(i, v, strict=True))]
    with pytest.raises(
        InputError, match=r"row 1: time is written in 3 columns \(Hour, Minute, Second\); join"
    ):
        read(lines, "Hour,Minute,Second,Amps,Volts")
    both = [f"{k / 60:.3f},{k},{a},{b}" for k, (a, b) in enumerate(zip(i, v, strict=True))]
    assert read(both, "Minutes,Seconds,Amps,Volts").after.ah == pytest.approx(i.sum() / 3600, abs=0.01)


def test_what_a_logger_left_empty_at_its_end_is_passed_over() -> None:
    i, v = mow()
    text = "\n".join(["time_s,current_a,voltage_v", *rows(i, v), ""]).encode()
    assert len(examine_bytes([("mow.csv", text + b"\0" * 8192)]).log.readings) == 900


@pytest.mark.parametrize("day", ["2025-05-17 14", "2025-10-26 14"])
def test_a_clock_that_goes_back_an_hour_by_day_is_no_end_of_summer_time(day) -> None:
    i, v = mow(3600)
    lines = [f"{day}:{k // 60:02d}:{k % 60:02d},{a},{b}" for k, (a, b) in enumerate(zip(i, v, strict=True))]
    again = [f"{line[:-1]}9" for line in lines]
    with pytest.raises(
        InputError, match=r"row 3602: time goes back from 14:59:59 to 14:00:00; sort the file"
    ):
        read([*lines, *again])


@pytest.mark.parametrize(("year", "unset"), [(2000, True), (2099, True), (2025, False)])
def test_a_clock_that_was_never_set_is_said(year, unset) -> None:
    i, v = mow(600)
    lines = [f"{year}-01-01 00:{k // 60:02d}:{k % 60:02d},{a},{b}"
             for k, (a, b) in enumerate(zip(i, v, strict=True))]  # fmt: skip
    assert any("was not set: say when" in n for n in read(lines).log.notes) == unset


def test_volts_that_end_with_the_management_are_left_out_and_said() -> None:
    i, v = mow()
    i[700:], v[700:] = 0.0, 0.0
    e = read(rows(i, v))
    assert len(e.log.readings) == 700
    assert any("200 readings without volts at the end left out: -0.00" in n for n in e.log.notes)
    later = read(rows(np.concatenate((np.zeros(300), i[:700])), np.concatenate((np.zeros(300), v[:700]))))
    assert np.array_equal(later.log.readings.voltage_v, v[:700])


@pytest.mark.parametrize(("hours", "unset"), [(47, False), (49, True)])
def test_a_clock_of_another_time_zone_is_no_clock_that_was_never_set(hours, unset) -> None:
    """Time zones are at most 26 h apart, and a file may have been written just before midnight."""
    assert bool(said_of_clock(datetime.now() + timedelta(hours=hours))) == unset
