"""What titles, stamps and cells say, word by word."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.clock.alike import stamps_of
from estimator.importer.clock.clock_axes import dated
from estimator.importer.clock.stamps import parts, style_of
from estimator.importer.clock.told_start import told_start
from estimator.importer.layout.search import find_layout
from estimator.importer.read import read_bytes
from estimator.importer.table.decode import as_utf8, encoding_of
from estimator.importer.table.numbers import decimal_mark, number
from estimator.importer.table.quantities import unit_of
from estimator.importer.table.titles import is_foreign, may_be_titles, meaning


@pytest.mark.parametrize(
    ("title", "quantity", "scale", "doubt", "way"),
    [
        ("I avg [A]", "current", 1.0, 1, 0), ("I max [A]", "current", 1.0, 3, 0),
        ("U1 [V]", "voltage", 1.0, 1, 0),
        ("Cell 3 (V)", "voltage", 1.0, 4, 0), ("Charger current [A]", "current", 1.0, 2, 0),
        ("Current measured (A)", "current", 1.0, -1, 0), ("prev current (A)", "current", 1.0, 3, 0),
        ("motor A", "current", 1.0, 3, 0), ("Amps AC", "current", 1.0, 2, 0),
        ("charge [A]", "current", 1.0, 0, -1),
        ("Charge current", "current", None, 0, -1),
        ("current capacity", "charge", None, 0, 0), ("discharge capacity", "charge", None, 0, 1),
        ("used mAh", "charge", 1e-3, 0, 1), ("Charged Ah", "charge", 1.0, 0, -1),
        ("Soc %", "gauge", None, 0, 0),
        ("humidity %", "other", None, 0, 0), ("current %", "other", None, 0, 0),
        ("load on time", "time", None, 2, 0),
        ("step time [s]", "time", 1.0, 2, 0), ("Battery charge", "charge", None, 0, -1),
        ("Watt-hours", "energy", None, 0, 0), ("Amp-hr", "charge", None, 0, 0),
        ("millis", "time", 1e-3, 0, 0),
        ("micros", "time", 1e-6, 0, 0), ("Open circuit voltage", "voltage", None, 1, 0),
        ("Amps min", "current", None, 3, 0), ("Solar V", "voltage", 1.0, 3, 0),
        ("power factor", "other", None, 0, 0),
        ("current date", "date", None, 0, 0), ("Leistung [V]", "voltage", 1.0, 1, 0),
        ("V AC", "other", None, 0, 0),
        ("foo [A]", "current", 1.0, 1, 0), ("bat [A]", "current", 1.0, 0, 0), ("Wert", "value", None, 0, 0),
        ("mAmp hours", "charge", 1e-3, 0, 0), ("I [c]", "other", None, 0, 0),
        ("cell 7", "voltage", None, 2, 0),
    ],
)  # fmt: skip
def test_what_a_title_means(title, quantity, scale, doubt, way) -> None:
    found = meaning(title)
    assert found is not None
    assert (found.quantity, found.doubt, found.way) == (quantity, doubt, way)
    assert (None if found.unit is None else found.unit.scale) == scale


@pytest.mark.parametrize("title", ["", "orchard", "x" * 81, "12.5", "1e3"])
def test_what_means_nothing(title) -> None:
    assert meaning(title) is None
    assert meaning("volts " + "x" * 74) is not None


def test_titles_are_mostly_no_numbers_and_foreign_where_their_words_are() -> None:
    assert may_be_titles(["a", "b", "1"]) and not may_be_titles(["a", "1"]) and not may_be_titles(["a", ""])
    assert [is_foreign(x) for x in ("Spannung", "Voltage", "xyzz", "Strom 1", "Zeit")] == [1, 0, 0, 1, 1]


@pytest.mark.parametrize(
    ("text", "style", "date", "seconds", "zone_s", "short"),
    [
        ("2026-06-14T09:14:07-03:30", "year first", (2026, 6, 14), 33_247, -12_600, False),
        ("2026-06-14T09:14:07+0200", "year first", (2026, 6, 14), 33_247, 7200, False),
        ("2026-06-14T09:14:07Z", "year first", (2026, 6, 14), 33_247, 0, False),
        ("14.6.26 9:14", "year last", (14, 6, 2026), 33_240, None, True),
        ("2 d 3:04:05", "clock", (0, 0, 0), 183_845, None, False),
        ("12:30 am", "clock", (0, 0, 0), 1800, None, True),
        ("12:30 pm", "clock", (0, 0, 0), 45_000, None, True),
        ("1:30 PM", "clock", (0, 0, 0), 48_600, None, True),
        ("9:14.5", "clock", (0, 0, 0), 554.5, None, False),
        ("9:14:07.25", "clock", (0, 0, 0), 33_247.25, None, False),
        ("09:59:60", "clock", (0, 0, 0), 36_000, None, False),
        ("9h14m07s", "lettered clock", (0, 0, 0), 33_247, None, False),
        ("Jun 14, 2026 09:14:07", "month named first", (2026, 6, 14), 33_247, None, False),
        ("14 juil. 2026 09:14", "named month", (2026, 7, 14), 33_240, None, True),
        ("14 juin 2026 09:14", "named month", (2026, 6, 14), 33_240, None, True),
        ("26-07-05 09:14:07", "short year first", (2026, 7, 5), 33_247, None, False),
        ("2026-06-14 24:00:00", "year first", (2026, 6, 14), 86_400, None, False),
        ("20260614_091407", "compact", (2026, 6, 14), 33_247, None, False),
    ],
)  # fmt: skip
def test_a_stamp_taken_apart(text, style, date, seconds, zone_s, short) -> None:
    assert style_of([text]) == style
    found = parts(text, style)
    assert found is not None
    assert ((found.a, found.b, found.c), found.seconds, found.short) == (date, seconds, short)
    assert np.isnan(found.zone_s) if zone_s is None else found.zone_s == zone_s


@pytest.mark.parametrize(
    ("text", "style"),
    [
        ("2026-06-14 25:00:00", "year first"), ("09:60:00", "clock"), ("09:59:61", "clock"),
        ("14 xyz 2026 09:14", "named month"), ("9:14" + " " * 20 + "x" * 60, "clock"),
    ],
)  # fmt: skip
def test_what_is_no_stamp(text, style) -> None:
    assert parts(text, style) is None


def test_the_style_of_a_sample_is_that_of_half_of_it() -> None:
    assert style_of(["9:14", "soon"]) == "clock" and style_of(["9:14", "soon", "late"]) is None
    assert style_of(["26-07-05 9:14", "99-07-05 9:14"]) == "year last"
    assert style_of(["26.07.20 9:14"]) == "year last" and style_of(["26.07.14 9:14"]) == "short year first"


@pytest.mark.parametrize(
    ("first", "seen"),
    [((13, 6), True), ((12, 6), None), ((6, 13), False), ((6, 6), None)],
)
def test_a_day_past_twelve_says_which_comes_first(first, seen) -> None:
    stamps = stamps_of([f"{first[0]:02d}/{first[1]:02d}/2026 09:14:0{k}" for k in range(2)], "year last")
    axis = dated(stamps, np.arange(2), None)
    assert axis.day_first_seen == seen
    assert bool(axis.notes) == (first == (12, 6))


def test_dates_that_go_on_say_which_comes_first() -> None:
    stamps = stamps_of(["05/06/2026 23:59", "06/06/2026 00:01"], "year last")
    assert dated(stamps, np.arange(2), None).base == datetime(2026, 6, 5, 23, 59)
    with pytest.raises(InputError, match="day 6, month 14"):
        dated(stamps_of(["13/06/2026 23:59", "06/14/2026 00:01"], "year last"), np.arange(2), None)


def test_a_date_without_a_year_is_the_last_one() -> None:
    axis = dated(stamps_of(["31.12. 23:57", "31.12. 23:59"], "no year"), np.arange(2), True)
    now = datetime.now()
    assert axis.base == datetime(now.year - (now.month < 12), 12, 31, 23, 57)
    assert axis.seconds.tolist() == [0.0, 120.0]


@pytest.mark.parametrize(
    ("above", "name", "clock_s", "started"),
    [
        (["Start 17.04.2025 10:05"], "", None, datetime(2025, 4, 17, 10, 5)),
        (["Exported 18.04.2025", "Start: 17.04.2025"], "", 36_300, datetime(2025, 4, 17, 10, 5)),
        (["17.04.2025", "18.04.2025"], "", None, None), (["Start 17.04.1999"], "", None, None),
        (["Calibrated 17.04.2025"], "", None, None),
        (["Start 1745000000"], "", None, datetime(2025, 4, 18, 18, 13, 20)),
        (["Date 17.04.2025", "Time 10:05:00"], "", None, datetime(2025, 4, 17, 10, 5)),
        (["Date 17.04.2025", "Interval 00:05"], "", None, datetime(2025, 4, 17)),
        ([], "log 2025-04-17 10.05.09.csv", None, datetime(2025, 4, 17, 10, 5, 9)),
        ([], "20250417_20250418.csv", None, None), ([], "17.4.2025.csv", 60, datetime(2025, 4, 17, 0, 1)),
        ([], "2025-02-30.csv", None, None), (["x" * 290 + " 17.04.2025"], "", None, None),
    ],
)  # fmt: skip
def test_when_a_log_began_by_its_lines_or_its_name(above, name, clock_s, started) -> None:
    found = told_start(above, name, clock_s, True, None, False)
    assert (None if found is None else found.at) == started


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("1,234.5", ".", 1234.5), ("1.234,5", ",", 1234.5), ("1'234", ".", 1234), ("12 345,6", ",", 12345.6),
        ("1,23.5", ".", None), ("1234,567.8", ".", None), ("1.2.3", ".", None), ("(4.2)", ".", -4.2),
        ("−4.2", ".", -4.2),
        ("4.2e2", ".", 420), ("9.9e36", ".", 9.9e36), (".5", ".", 0.5), ("4.2 A", ".", 4.2),
        ("4.2 furlongs", ".", None),
        ("1" * 49, ".", None), ("1,234,567", ".", 1_234_567),
    ],
)  # fmt: skip
def test_a_number_as_meters_write_it(text, decimal, value) -> None:
    found = number(text, decimal)
    assert (found.kind.name == "NUMBER") == (value is not None)
    assert value is None or found.value == pytest.approx(value)


def test_marks_of_overload_and_of_nothing() -> None:
    assert {number(x).kind.name for x in ("OL", "O.L", "-OL", "1.#INF", "9.9e37", ">>", "OL mA")} == {
        "OVERLOAD"
    }
    assert {number(x).kind.name for x in ("", "--", "n/a", "1.#QNAN", "#DIV/0!")} == {"BLANK"}


@pytest.mark.parametrize(
    ("cells", "milli", "mark"),
    [
        (["1,25", "1.250"], False, ","), (["1.5", "2,250", "2,250"], False, "."), (["8,125"], True, "."),
        (["8,125"], False, ","), (["0,125"], True, ","), (["1,234,567"], False, "."), (["12"], False, "."),
        (["8,125 A"], False, ","), (["8,1 eggs"], False, "."),
    ],
)  # fmt: skip
def test_the_decimal_mark_that_cells_prove(cells, milli, mark) -> None:
    assert decimal_mark(cells, milli=milli) == mark


@pytest.mark.parametrize(
    ("text", "scale"),
    [
        ("mA", 1e-3), ("MA", None), ("0.01A", 0.01), ("0,1 V", 0.1), ("10 mV", 0.01), ("100 ms", 0.1),
        ("10 A", None),
        ("x0.1 V", 0.1), ("0.1 Ah", None), ("A dc", 1.0), ("V RMS", 1.0), ("h", 3600.0), ("MIN", 60.0),
        ("x" * 17, None),
        ("dA", 0.1), ("°F", 5 / 9), ("DC V", 1.0), ("mADC", 1e-3),
    ],
)  # fmt: skip
def test_the_scale_of_a_unit(text, scale) -> None:
    found = unit_of(text)
    assert (None if found is None or found.quantity == "other" else found.scale) == scale or text == "MA"


@pytest.mark.parametrize(("text", "celsius"), [("K", 26.85), ("°F", 148.889), ("°C", 300.0)])
def test_three_hundred_degrees(text, celsius) -> None:
    unit = unit_of(text)
    assert unit is not None and 300 * unit.scale + unit.shift == pytest.approx(celsius, abs=1e-3)


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        ("Zeit;U".encode("utf-16-le"), "utf-16-le"), ("Zeit;U".encode("utf-16-be"), "utf-16-be"),
        ("Größe".encode(), "utf-8"), ("Größe".encode("cp1252"), "cp1252"),
        ("電流;電圧".encode("shift_jis"), "shift_jis"),
        ("Zeit µ".encode()[:-1], "utf-8"), ("Ток;Напряжение".encode("cp1251"), "cp1251"),
    ],
)  # fmt: skip
def test_the_encoding_of_a_text(data, encoding) -> None:
    assert encoding_of(data) == encoding


def test_bytes_that_are_no_text() -> None:
    with pytest.raises(InputError, match="is not text"):
        as_utf8(b"a;b\n" + b"1;\x002\n" * 20)
    assert as_utf8(b"a;b\n" + b"1;2\n" * 60 + b"1;\x002\n\x00\x00")[0] == b"a;b\n" + b"1;2\n" * 61


@pytest.mark.parametrize(
    ("line", "every_s"),
    [
        ("# every 5 s", 5.0), ("sample rate 10 Hz", 0.1), ("interval: 0:00:10", 10.0), ("period 500 ms", 0.5),
        ("every 2 min", 120.0), ("interval 0 s", None), ("walk every day", None),
        ("x" * 300 + " every 5 s", None),
    ],
)  # fmt: skip
def test_the_time_between_rows_as_a_line_tells_it(line, every_s) -> None:
    lines = [line, "A,V", *(f"{5 + k % 2},{50 - k % 2}" for k in range(20))]
    if every_s is None:
        with pytest.raises(InputError):
            find_layout(lines, {})
    else:
        assert find_layout(lines, {}).every_s == pytest.approx(every_s)


@pytest.mark.parametrize(
    ("line", "tick_s"), [("a tick is 20 ms", 0.02), ("ticks of 0.5 s", 0.5), ("tick 8 us", 8e-6)]
)
def test_how_long_a_tick_is_as_a_line_tells_it(line, tick_s) -> None:
    layout = find_layout([line, "ticks,A,V", *(f"{7 * k},{5 + k % 2},50" for k in range(20))], {})
    assert layout.time.unit is not None and layout.time.unit.scale == pytest.approx(tick_s)


def test_one_meter_switched_between_amps_and_volts_says_how_far_its_volts_lie() -> None:
    rows = [f"{k},{'' if k % 20 < 3 else 5 + k % 3},{52 if k % 20 < 3 else ''}" for k in range(3, 63)]
    log = read_bytes([("m.csv", "\n".join(["time_s,A,V", *rows]).encode())])
    said = next(note for note in log.notes if "switched" in note)
    assert "amps (51 readings) and volts (9)" in said and "further than 17 s" in said
    assert len(log.readings) == 51


@pytest.mark.parametrize(("last", "count"), [("59,5", 59), ("59,5,", 60), ("59", 59), ("59,5,50", 60)])
def test_a_last_line_that_was_not_finished_is_left_out(last, count) -> None:
    rows = [f"{k},{5 + k % 3},50" for k in range(59)]
    log = read_bytes([("m.csv", "\n".join(["time_s,A,V", *rows, last]).encode())])
    assert len(log.readings) == count
    assert any("row 61) is cut short" in note for note in log.notes) == (count == 59)


def _notes(titles: str, row: str, **told: object) -> str:
    told_of = ({"k": k, "m": k // 60, "s": k % 60, "a": 5 + k % 3, "t": 20 * k} for k in range(120))
    lines = [titles, *(row.format(h=x["k"] / 60, ah=x["k"] * 6 / 3600, **x) for x in told_of)]
    return "\n".join(read_bytes([("m.csv", "\n".join(lines).encode())], **told).notes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("titles", "row", "said"),
    [
        (
            "when,A,V",
            "17-07-18 09:{m:02d}:{s:02d},{a},50",
            "as day first (this moves only the date of the log); day_first=False",
        ),
        ("when,A,V", "03/04/2026 09:{m:02d}:{s:02d},{a},50", "day_first=True overrules it"),
        ("wann;A;V", "03/04/2026 09:{m:02d}:{s:02d};{a};50", "day_first=False overrules it"),
        ("step time [s],total time [s],A,V", "{s},{k},{a},50", "from 'total time [s]', not 'step time [s]'"),
        ("t,time of test,A,V", "{s},{k},{a},50", "since 't' starts again and again"),
        ("time_s,A,V,state", "{k},-{a},50,discharge", "'state' says that charging counts positive"),
        ("time_s,A,V,state", "{k},{a},50,discharge", "'state' says that discharge counts positive"),
        ("ticks,time,A,V", "{t},13/07/2026 09:{m:02d}:{s:02d},{a},50", "from 'time'"),
        ("time_s,A,V,Ah", "{k},{a}000,50,{ah:.4f}", "mA: confirmed by 'Ah'"),
        ("time,A,V,Ah", "{h:.4f},{a},50,{ah:.4f}", "counts in min: confirmed by 'Ah'"),
    ],
)
def test_what_was_settled_is_said(titles, row, said) -> None:
    assert said in _notes(titles, row)


def test_a_column_of_states_that_there_is_not_is_refused() -> None:
    with pytest.raises(InputError, match="no column 'mood' for the state"):
        _notes("time_s,A,V,state", "{k},{a},50,discharge", state="mood")


def test_blocks_of_one_name_each_are_joined_by_their_stamps() -> None:
    rows = [f"9:{k // 60:02d}:{k % 60:02d},I,{5 + k % 3}" for k in range(90)]
    rows += [f"9:{k // 60:02d}:{k % 60:02d},U,{50 + k % 2}" for k in range(90)]
    log = read_bytes([("m.csv", "\n".join(["at,name,number", *rows]).encode())])
    assert log.readings.current_a.tolist() == [5.0 + k % 3 for k in range(90)]
    assert log.readings.voltage_v.tolist() == [50.0 + k % 2 for k in range(90)]


_ROWS = [f"{k},{5 + k % 3},{50 - k % 2}" for k in range(60)]


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (["# one", *_ROWS[:30], "// two", *_ROWS[30:]], "1 comment line left out"),
        ([*_ROWS[:20], "# a", *_ROWS[20:30], "// b", *_ROWS[30:]], "2 comment lines left out"),
        ([*_ROWS[:30], ",5,50", *_ROWS[30:]], "1 reading without a time left out"),
        ([*_ROWS[:30], "turned,,", *_ROWS[30:]], "1 remark between the readings left out"),
        ([*_ROWS, "mean,6,49.5", "max,7,50"], "2 closing lines without readings left out"),
        ([*_ROWS[:30], "a,b,c,d", "x,1,1", "time_s,A,V", *_ROWS[30:]],
         "Titles are repeated once with 2 lines before them: left out"),
        ([*_ROWS[:20], "time_s,A,V", *_ROWS[20:30], "time_s,A,V", *_ROWS[30:]], "repeated 2 times: left"),
        ([*_ROWS, "60,5"], "The last line (row 62) is cut short: left out"), (_ROWS, ""),
    ],
)  # fmt: skip
def test_lines_that_are_no_readings_are_left_out_and_counted(lines, said) -> None:
    log = read_bytes([("m.csv", "\n".join(["time_s,A,V", *lines]).encode())])
    notes = " ".join(log.notes)
    assert log.readings.time_s.tolist() == list(range(60))
    assert said in notes and ("left out" in notes) == bool(said) and "Text is" not in notes


@pytest.mark.parametrize(
    ("lines", "fault"),
    [
        ([*_ROWS[:30], "soon,5,50", *_ROWS[30:]], "row 32: time is 'soon'"),
        ([*_ROWS[:30], "30,x,50", *_ROWS[30:]], "row 32: A is 'x', not a number"),
        ([*_ROWS, "soon,5,50"], "row 62: time is 'soon'"),
    ],
)  # fmt: skip
def test_a_line_that_is_not_understood_is_named(lines, fault) -> None:
    text = "\n".join(["time_s,A,V", *lines]).encode()
    with pytest.raises(InputError, match=fault):
        read_bytes([("m.csv", text)])


def test_a_letter_that_is_no_unit_of_amps_may_be_one_of_warmth() -> None:
    assert meaning("Temp (C)").quantity == "temperature"  # type: ignore[union-attr]
    assert meaning("Current (C)").quantity == "other"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("changes", "found"),
    [(3, True), (4, False)],  # two names in blocks change less than four times
)
def test_names_in_blocks_are_joined_by_stamp_and_names_by_turns_in_their_order(changes, found) -> None:
    names = np.repeat(["I", "U"] * 3, 15)[: 15 * (changes + 1)]
    stamps = np.concatenate([np.arange(15)] * (changes + 1)) + 15 * (
        np.arange(len(names)) // 30 if found else 0
    )
    rows = [
        f"9:00:{at:02d},{name},{5 if name == 'I' else 50}" for at, name in zip(stamps, names, strict=True)
    ]
    text = "\n".join(["at,name,number", *rows]).encode()
    if found:
        assert len(read_bytes([("m.csv", text)]).readings) == 30
    else:
        with pytest.raises(InputError):
            read_bytes([("m.csv", text)])


@pytest.mark.parametrize(
    ("names", "month"),
    [
        ("jan January enero", 1), ("feb fevrier", 2), ("mar mrt maart März", 3), ("apr avril abril", 4),
        ("may Mai mei", 5), ("jun juin Juni", 6), ("jul juillet", 7), ("aug août ago", 8), ("sep set", 9),
        ("oct Okt out", 10), ("nov", 11), ("dec Dez dic", 12),
    ],
)  # fmt: skip
def test_the_months_by_their_names(names, month) -> None:
    assert {parts(f"14 {name} 2026 09:14", "named month").b for name in names.split()} == {month}  # type: ignore[union-attr]


@pytest.mark.parametrize(("days", "known"), [(1, True), (3, False)])
def test_a_name_tells_no_day_that_is_more_than_two_days_ahead(days, known) -> None:
    name = f"{datetime.now() + timedelta(days=days):%Y-%m-%d}.csv"
    assert (told_start([], name, None, None, None, False) is not None) == known


@pytest.mark.parametrize(("title", "refused"), [("U1", True), ("U", False)])
def test_a_single_letter_says_too_little_to_contradict_the_user(title, refused) -> None:
    lines = [f"t,{title},V", *(f"{k},{5 + k % 2},50" for k in range(20))]
    if refused:
        with pytest.raises(InputError, match="'U1' is voltage, not current"):
            find_layout(lines, {"columns": {"current": title}})
    else:
        assert find_layout(lines, {"columns": {"current": title}}).measured[0].quantity == "current"
