"""Forms that foreign loggers, consoles and instruments write; each holds 10, 20, 30 A at 52, 51, 50 V."""

from __future__ import annotations

import io
import itertools
import zipfile
from datetime import datetime

import pytest

from estimator.errors import InputError
from estimator.importer.log import Log
from estimator.importer.read import read_bytes

AMPS, VOLTS = (10.0, 20.0, 30.0), (52.0, 51.0, 50.0)
ROWS = [(5 * k, AMPS[k % 3], VOLTS[k % 3]) for k in range(30)]
CLOCK = [f"10:{t // 60:02d}:{t % 60:02d}" for t, _, _ in ROWS]


def read(text: str | bytes, name: str = "log.txt", **choices) -> Log:
    return read_bytes([(name, text.encode() if isinstance(text, str) else text)], **choices)


def holds_the_rows(log: Log, rows=ROWS) -> bool:
    r = log.readings
    return (
        r.time_s.tolist() == [float(t - rows[0][0]) for t, _, _ in rows]
        and r.current_a.tolist() == [a for _, a, _ in rows]
        and r.voltage_v.tolist() == [v for _, _, v in rows]
    )


def one_a_line(lead: str) -> str:
    said = [
        (c, (f"Pack Voltage:  {v} V", f"Current: {a * 1000} mA", ""))
        for c, (_, a, v) in zip(CLOCK, ROWS, strict=True)
    ]
    return "".join(f"{lead.format(c=c)}{text}\n" for c, texts in said for text in texts)


def lines(form: str) -> str:
    return "".join(form.format(t=t, c=c, a=a, v=v) for c, (t, a, v) in zip(CLOCK, ROWS, strict=True))


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(
            lines("{t}s i={a} u={v}\n").replace("s i", " s -> i"), id="names follow numbers at once"
        ),
        pytest.param(lines("May 13 {c} shed logger[31]: INFO current={a} voltage={v}\n"), id="syslog"),
        pytest.param(lines("[{c}] (main) battery current: {a} A, voltage: {v} V\n"), id="console"),
        pytest.param("時刻,電流,電圧\n" + lines("{c},{a},{v}\n"), id="Japanese"),
        pytest.param("时间;电流;电压\n" + lines("{c};{a};{v}\n"), id="Chinese"),
        pytest.param("시간\t전류\t전압\n" + lines("{c}\t{a}\t{v}\n"), id="Korean"),
        pytest.param("Waktu;Arus;Tegangan\n" + lines("{c};{a};{v}\n"), id="Indonesian"),
        pytest.param("Thời gian;Dòng điện;Điện áp\n" + lines("{c};{a};{v}\n"), id="Vietnamese"),
        pytest.param(
            ",Pack,,Motor,\nTime,V,A,V,A\n" + lines("{c},{v},{a},41,33\n"), id="titles of groups above units"
        ),
        pytest.param(
            lines("{c}  {v}V  {a}A\n").replace(" 10.0A", " 10000mA"), id="units that follow the range"
        ),
        pytest.param(
            "Time,Value1,Unit1,Value2,Unit2\n" + lines("{c},{v},VDC,{a},ADC\n"), id="numbered pairs"
        ),
        pytest.param("Time,Volts,Value,Unit\n" + lines("{c},{v},{a},A\n"), id="a pair beside titled volts"),
        pytest.param(
            "zeitpunkte;x;mA;mV\n".replace("zeitpunkte", "quand") + lines("2026-03-01 {c};1;{a}e3;{v}e3\n"),
            id="stamps under an unknown title",
        ),
        pytest.param(
            "# one tick is 20 ms\nticks,V,A\n" + "".join(f"{50 * t},{v},{a}\n" for t, a, v in ROWS),
            id="ticks told",
        ),
        pytest.param(
            "Ch 1 = clamp, A\nCh 2 = pack volts [V]\nEvery 0:00:05\nno;ch 1;ch 2\n" + lines("7;{a};{v}\n"),
            id="a legend and an interval",
        ),
        pytest.param(
            "Kanal 3: Spannung\nKanal 7: Strom\ns;Kanal 3;Kanal 7\n" + lines("{t};{v};{a}\n"),
            id="a legend of words beside a clock",
        ),
        pytest.param(
            "Millis: 0\n"
            + "".join(
                f"Bus Voltage: {v} V\nShunt: {a} mV\nCurrent: {a * 1000} mA\n\nMillis: {t * 1000 + 5000}\n"
                for t, a, v in ROWS
            ),
            id="one name a line, with a clock",
        ),
        pytest.param(one_a_line("{c}.250 -> "), id="one name a line, stamped"),
        pytest.param(
            lines("STAMP=2026-03-01 {c}\nSTATE=working\nVOLTAGE_NOW={v}e6\nCURRENT_NOW={a}e6\n\n"),
            id="blocks in millionths",
        ),
        pytest.param(
            lines("{{'t': {t}, 'pack': {{'u': {v}, 'i': {a}}}, 'ok': True}}\n"), id="printed dictionaries"
        ),
        pytest.param(
            "# t[s] U[V] I[A]\n" + lines("{t}.0e+00 {v} {a}\n"), id="a sign apart before the titles"
        ),
        pytest.param("sec,VAvg,IAvg\n" + lines("{t},{v},{a}\n"), id="means"),
        pytest.param("x=[\nt, U, I\n" + lines("{t}, {v}, {a};\n"), id="rows end in a sign"),
        pytest.param("Time,Value,Unit,Volts\n" + lines("{c},{a},A,{v}\n"), id="a pair before titled volts"),
    ],
)
def test_it_is_read(text: str) -> None:
    assert holds_the_rows(read(text))


def test_names_that_take_turns_are_joined_however_many_lines_there_are() -> None:
    for n in (60, 801, 1203):
        body = "".join(f"{5 * k},pack_{w},{x}\n" for k in range(n) for w, x in (("amps", 9), ("volts", 52)))
        r = read(f"at,name,value\n{body}").readings
        assert (len(r), r.current_a.mean(), r.voltage_v.mean()) == (n, 9, 52)


@pytest.mark.parametrize(
    "marker", ["1.#INF", "-1.#IND", "1.#QNAN", "9.9E37", "9.90000000E+37", "9.91E+37", "ovf"]
)
@pytest.mark.parametrize("more", ["", "#\n"])
def test_what_is_no_reading_is_none(marker: str, more: str) -> None:
    text = "s;A;V\n" + more + "".join(f"{k};{marker if k in (7, 8) else 9};52\n" for k in range(40))
    r = read(text).readings
    assert r.current_a.max() < 1000
    assert r.voltage_v.eq(52).all()


def test_one_name_a_line_without_a_clock_needs_the_time_between_readings() -> None:
    text = "".join(f"Load Voltage:  {v} V\nCurrent:       {a * 1000:.1f} mA\n\n" for _, a, v in ROWS)
    assert holds_the_rows(read(text, interval_s=5.0))


@pytest.mark.parametrize("title", ["I (foo)", "Current [cts]", "I (A*10)", "Strom [10 x A]"])
def test_amps_in_a_unit_that_nobody_knows_are_asked_for(title: str) -> None:
    text = f"t (s);U (V);{title}\n" + lines("{t};{v};{a}\n")
    with pytest.raises(InputError, match=r"the unit of .* is not known; say which, with its unit"):
        read(text)
    assert holds_the_rows(read(text, columns={"current": f"{title}[A]"}))
    with pytest.raises(InputError, match="unit 'foo' is not known"):
        read(text, columns={"current": f"{title}[foo]"})


@pytest.mark.parametrize(
    "title", ["I (bat)", "Strom (I)", "I(t)", "Current (DC)", "Strom (Akku)", "Current (40A)", "I (1)"]
)
def test_words_in_brackets_are_no_unit(title: str) -> None:
    assert holds_the_rows(read(f"t (s);U (V);{title}\n" + lines("{t};{v};{a}\n")))


def test_ticks_of_unknown_length_are_asked_for() -> None:
    text = "ticks;V;A\n" + "".join(f"{50 * t};{v};{a}\n" for t, a, v in ROWS)
    beside = "ticks;run_s;V;A\n" + "".join(f"{77 * t};{t};{v};{a}\n" for t, a, v in ROWS)
    assert holds_the_rows(read(beside))
    with pytest.raises(InputError, match=r"'ticks' has no unit; say how long one is"):
        read(text)
    assert holds_the_rows(read(text, columns={"time": "ticks[20 ms]"}))


def test_rows_that_come_late_are_put_in_order_and_said() -> None:
    rows = [*ROWS[:11], ROWS[13], ROWS[11], ROWS[12], *ROWS[14:]]
    log = read("s;A;V\n" + "".join(f"{t};{a};{v}\n" for t, a, v in rows))
    assert holds_the_rows(log)
    assert any("3 rows out of turn put in order by their time (row 13)" in note for note in log.notes)


def packed(**files: str) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            archive.writestr(name, text)
    return held.getvalue()


def test_the_only_file_of_an_archive_is_read() -> None:
    text = "s;A;V\n" + lines("{t};{a};{v}\n")
    assert holds_the_rows(read(packed(**{"x/LOG.CSV": text, "__MACOSX/._LOG.CSV": "junk", ".DS_Store": "x"})))
    with pytest.raises(InputError, match="is a zip archive of 2 files; unpack it"):
        read(packed(a=text, b=text))
    with pytest.raises(InputError, match="holds more than"):
        read(packed(a="0;" * 2_000_000), max_bytes=1_000_000)
    with pytest.raises(InputError, match="damaged"):
        read(packed(a=text)[:-40])


@pytest.mark.parametrize(
    ("encoding", "titles"),
    [
        ("gbk", "时间,电流,电压"), ("shift_jis", "時刻,電流,電圧"), ("big5", "時間,電流,電壓"),
        ("euc_kr", "시간,전류,전압"), ("cp1251", "Время,Ток,Напряжение"), ("cp1250", "Čas,Proud,Napětí"),
        ("cp1251", "Час,Струм,Напруга"), ("cp1252", "Zeit,Stromstärke,Spannung"),
    ],
)  # fmt: skip
def test_text_is_decoded_as_its_titles_ask(encoding: str, titles: str) -> None:
    assert holds_the_rows(read((titles + "\n" + lines("{c},{a},{v}\n")).encode(encoding)))


@pytest.mark.parametrize("stamp", ["1.7499E+09", "1749886200", "2026-03-01 10:00"])
def test_a_clock_that_stands_still_is_asked_for(stamp: str) -> None:
    text = "time,A,V\n" + lines(f"{stamp},{{a}},{{v}}\n")
    with pytest.raises(InputError, match="the time stands still: 30 rows have 1 time between them"):
        read(text)
    assert holds_the_rows(read(text, interval_s=5.0))


@pytest.mark.parametrize("title", ["battery_id", "batt no", "where"])
def test_rows_of_two_packs_that_take_turns_are_refused(title: str) -> None:
    text = f"time,{title},V,A\n" + lines("{c},shed,{v},{a}\n{c},barn,{v},1\n")
    with pytest.raises(
        InputError, match=r"rows of 2 packs or meters take turns \(.* says shed, barn\); export one"
    ):
        read(text)
    assert holds_the_rows(read("time,state,V,A\n" + lines("{c},work,{v},{a}\n")))


@pytest.mark.parametrize("again", [0, 10])
@pytest.mark.parametrize("date", ["", "2026-03-01 "])
def test_exports_of_overlapping_times_are_counted_once(again: int, date: str) -> None:
    body = [f"{date}{c};{a};{v}\n" for c, (_, a, v) in zip(CLOCK, ROWS, strict=True)]
    log = read(
        "time;A;V\n" + "".join(body[: 30 - again]) + "time;A;V\n" + "".join(body[:20] if again == 0 else body)
    )
    assert holds_the_rows(log)
    assert any(f"{20} rows from row " in n and "are already in the file: left out" in n for n in log.notes)


def test_the_same_minute_with_other_readings_is_no_copy() -> None:
    body = [f"2026-03-01 {c};{a};{v}\n" for c, (_, a, v) in zip(CLOCK, ROWS, strict=True)]
    other = [f"2026-03-01 {c};{a + 1};{v}\n" for c, (_, a, v) in zip(CLOCK, ROWS, strict=True)]
    with pytest.raises(InputError, match="time goes back"):
        read("time;A;V\n" + "".join(body + other))


QUARTERS = [(f"{k // 4}:{15 * (k % 4):02d}", AMPS[k % 3], VOLTS[k % 3]) for k in range(19)]


@pytest.mark.parametrize(
    ("title", "choices", "span_s"),
    [
        ("Elapsed (h:mm)", {}, 16200),
        ("Elapsed mm:ss", {}, 270),
        ("Elapsed", {"columns": {"time": "Elapsed[min]"}}, 16200),
        ("Elapsed", {"columns": {"time": "Elapsed[s]"}}, 270),
    ],
)
def test_a_clock_of_two_fields_is_read_as_somebody_says(title, choices, span_s) -> None:
    text = f"{title};A;V\n" + "".join(f"{c};{a};{v}\n" for c, a, v in QUARTERS)
    assert read(text, **choices).readings.time_s.iloc[-1] == span_s


@pytest.mark.parametrize(("factor", "span_s"), [(60, 16200), (1, 270)])
def test_a_counter_says_what_a_clock_of_two_fields_counts(factor: int, span_s: int) -> None:
    counts, rows = 0.0, "0:00;10.0;52.0;0\n"
    for (_, a, _), (c, b, v) in itertools.pairwise(QUARTERS):
        counts += (a + b) / 2 * 15 * factor / 3600
        rows += f"{c};{b};{v};{counts:.6f}\n"
    assert read("Elapsed;A;V;Ah\n" + rows).readings.time_s.iloc[-1] == span_s


def test_a_clock_of_two_fields_that_nobody_explains_is_asked_for() -> None:
    text = "Elapsed;A;V\n" + "".join(f"{c};{a};{v}\n" for c, a, v in QUARTERS)
    with pytest.raises(
        InputError, match=r"'Elapsed' may be hours:minutes or minutes:seconds; say what its last"
    ):
        read(text)
    later = "Elapsed;A;V\n" + "".join(f"{k // 2}:{30 * (k % 2):02d};9;52\n" for k in range(60))
    assert read(later).readings.time_s.iloc[-1] == 29.5 * 60


@pytest.mark.parametrize(
    ("step", "named"), [("0.08333", "5 s if it counts in min"), ("0.0027778", "10 s if it counts in h")]
)
def test_a_short_log_that_ticks_evenly_in_minutes_is_asked_for(step: str, named: str) -> None:
    text = "time;A;V\n" + "".join(f"{k * float(step):.6f};9;52\n" for k in range(200))
    with pytest.raises(InputError, match=f"the time has no unit: it ticks by {named}"):
        read(text)
    assert read(text, columns={"time": "time[s]"}).readings.time_s.iloc[-1] == pytest.approx(
        199 * float(step)
    )


@pytest.mark.parametrize("step", ["0.5", "0.25", "0.1", "0.01", "1.5"])
def test_a_short_log_that_ticks_evenly_in_seconds_is_read_so(step: str) -> None:
    rows = "".join(f"{k * float(step):.3f};9;52\n" for k in range(150))
    assert read("time;A;V\n" + rows).readings.time_s.iloc[-1] == pytest.approx(149 * float(step))


def test_watts_without_a_unit_that_are_next_to_nothing_are_asked_for() -> None:
    text = "time;power;volts\n" + "".join(f"{t};{a * v / 1000};{v}\n" for t, a, v in ROWS)
    with pytest.raises(InputError, match="'power' has no unit and would be next to nothing in watts"):
        read(text)
    assert read(text, columns={"power": "power[kW]"}).readings.current_a.max() == pytest.approx(30)


def test_a_counter_of_charge_is_no_current() -> None:
    counter = "time;A;V\n" + "".join(f"{5 * k};{k * 0.014:.3f};{52 - k / 100}\n" for k in range(200))
    with pytest.raises(InputError, match="amps never fall, as a counter of charge does; say which column"):
        read(counter)
    ramp = "time;A;V\n" + "".join(f"{5 * k};{8 + k * 0.01:.2f};{52 - k / 100}\n" for k in range(200))
    assert len(read(ramp).readings) == 200


def of(head: str, form: str) -> str:
    """A table with stamps of 2026-07-05 in another form; {h}, {m}, {s} are the parts of the clock."""
    made = (form.format(h=10, m=f"{t // 60:02d}", s=f"{t % 60:02d}", a=a, v=v) for t, a, v in ROWS)
    return head + "".join(made)


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(of("Data i godzina;Prąd;Napięcie\n", "2026-07-05 {h}:{m}:{s};{a};{v}\n"), id="Polish"),
        pytest.param(of("Aika;Virta (A);Jännite (V)\n", "5.7.2026 {h}.{m}.{s};{a};{v}\n"), id="Finnish"),
        pytest.param(of("Čas;Proud;Napětí\n", "05. 07. 2026 {h}:{m}:{s};{a};{v}\n"), id="Czech"),
        pytest.param(of("Tidspunkt;Strøm;Spenning\n", "05.07.2026 kl. {h}:{m}:{s};{a};{v}\n"), id="kl."),
        pytest.param(of("Időpont;Áram;Feszültség\n", "2026. 07. 05. {h}:{m}:{s};{a};{v}\n"), id="Hungarian"),
        pytest.param(of("Dato;Klokkeslæt;Strøm;Spænding\n", "05-07-2026;{h}.{m}.{s};{a};{v}\n"), id="Danish"),
        pytest.param(of("Дата;Час;Струм;Напруга\n", "05.07.2026;{h}:{m}:{s};{a};{v}\n"), id="Ukrainian"),
        pytest.param(of("Tarih;Saat;Akım;Gerilim\n", "05.07.2026;{h}:{m}:{s};{a};{v}\n"), id="Turkish"),
        pytest.param(of("时间,电流,电压\n", "2026年7月5日 {h}:{m}:{s},{a}A,{v}V\n"), id="signs of a year"),
        pytest.param(of("Horodatage,Courant,Tension\n", "05/07/2026 {h}:{m}:{s},{a},{v}\n"), id="French"),
        pytest.param(of("Time;Amps;Volts\n", "05/07/2026 {h}:{m}:{s};{a:.1f};{v}\n").replace(".", ","),
                     id="whoever writes a decimal comma writes the day first"),
        pytest.param(of("t,A,V\n", "26-07-05 {h}:{m}:{s},{a},{v}\n"), id="short year first"),
        pytest.param(of("t,A,V\n", "2026-07-05 {h}:{m}:{s} CEST,{a},{v}\n"), id="name of a zone"),
        pytest.param(of("t,A,V\n", "2026-07-05 {h}:{m}:{s}+02,{a},{v}\n"), id="zone in hours"),
        pytest.param(of("When,A,V\n", "Jul 5, 2026 {h}:{m}:{s},{a},{v}\n"), id="comma of a date"),
        pytest.param(of("<table><tr><th>Time<th>A<th>V\n", "<tr><td>2026-07-05 {h}:{m}:{s}<td>{a}<td>{v}\n"),
                     id="page of HTML"),
        pytest.param(of("<log>\n", '<r t="2026-07-05 {h}:{m}:{s}" amps="{a}"><volts>{v}</volts></r>\n'),
                     id="XML"),
        pytest.param(of("CREATE TABLE x (t text, amps decimal(5,2), volts real);\n",
                        "INSERT INTO x VALUES ('2026-07-05 {h}:{m}:{s}',{a},{v});\n"), id="SQL"),
        pytest.param(of("COPY x (t, amps, volts) FROM stdin;\n", "2026-07-05 {h}:{m}:{s}\t{a}\t{v}\n"),
                     id="rows of a dump"),
        pytest.param(of("Time                 Amps   Volts\n", "2026-07-05 {h}:{m}:{s}  {a:5}  {v:5}\n"),
                     id="print"),
        pytest.param(of("", '{{"t": "2026-07-05T{h}:{m}:{s}", "id": "amps", "val": {a}}}\n'
                            '{{"t": "2026-07-05T{h}:{m}:{s}", "id": "volts", "val": {v}}}\n'),
                     id="JSON with a measurement a line"),
    ],
)  # fmt: skip
def test_the_day_and_the_readings_come_out_of_every_dress(text: str) -> None:
    log = read(text)
    assert holds_the_rows(log)
    assert log.started is not None and log.started.replace(tzinfo=None) == datetime(2026, 7, 5, 10, 0, 0)


def test_an_english_date_that_can_be_read_both_ways_is_told() -> None:
    log = read(of("Time,Amps,Volts\n", "05/07/2026 {h}:{m}:{s},{a},{v}\n"))
    assert log.started == datetime(2026, 5, 7, 10, 0, 0)
    assert any("can be read both ways" in note and "day_first=True" in note for note in log.notes)


def test_a_clock_in_digits_leaps_at_full_minutes() -> None:
    log = read(of("gps_time,amps,volts\n", "{h}{m}{s},{a},{v}\n") + of("", "12{m}{s},{a},{v}\n"))
    assert log.readings.time_s[29] == 145 and log.readings.time_s[30] == 7200


def test_volts_of_single_cells_are_added_up_where_no_column_has_their_sum() -> None:
    with pytest.raises(InputError, match="may be blocks in series"):  # three columns of 50 V are not cells
        read(of("time,amps,V1,V2,V10\n", "{h}:{m}:{s},{a},{v},{v},{v}\n"))
    cells = "".join(f"{t},{a},{v / 13:.3f},{v / 13:.3f},{v / 13:.3f}\n" for t, a, v in ROWS)
    log = read("time_s,amps,V1,V2,V10\n" + cells)
    assert log.readings.voltage_v[0] == pytest.approx(3 * 4.0) and "sum of 3 cells" in " ".join(log.notes)


def test_numbered_amps_that_are_alike_may_be_strings_in_parallel() -> None:
    with pytest.raises(InputError, match=r"'I1 \(A\)', 'I2 \(A\)' may be strings in parallel"):
        read(of("time,I1 (A),I2 (A),volts\n", "{h}:{m}:{s},{a},{a},{v}\n"))
    told = {"columns": {"current": "I1 (A)"}}
    assert (
        read(of("time,I1 (A),I2 (A),volts\n", "{h}:{m}:{s},{a},{a},{v}\n"), **told).readings.current_a[0]
        == 10
    )


def test_a_counter_of_charge_alone_is_refused_with_what_to_do() -> None:
    with pytest.raises(InputError, match="no amps, and 'used \\(Ah\\)' says only their mean; log amps too"):
        read("time_s,volts,used (Ah)\n" + "".join(f"{t},{v},{t / 400:.3f}\n" for t, _, v in ROWS))


@pytest.mark.parametrize(("after", "is_told"), [(53.0, True), (46.0, False)])
def test_another_pack_after_a_pause_is_told(after: float, is_told: bool) -> None:
    rows = [(t, 12 + t % 3, 45 - t % 3 / 10) for t in range(300)]
    rows += [(t, 12 + t % 3, after - t % 3 / 10) for t in range(420, 700)]
    log = read("time_s,amps,volts\n" + "".join(f"{t},{a},{v}\n" for t, a, v in rows))
    assert is_told == any("far higher from minute 7 on" in note for note in log.notes)
    assert log.leaps_s == ((420.0,) if is_told else ())


def test_an_evening_of_charging_that_counts_negative_is_no_counter() -> None:
    rows = [(10 * k, -5 if k < 400 else -5 * 0.99 ** (k - 400), 48 + k / 150) for k in range(800)]
    with pytest.raises(InputError, match="nothing but charging"):
        read("time_s,amps,volts\n" + "".join(f"{t},{a:.3f},{v:.2f}\n" for t, a, v in rows))


def test_numbered_volts_of_one_height_are_asked_about_unless_watts_settle_them() -> None:
    rows = "".join(f"{t},{a},{v / 4},{v / 4 + 0.01},{a * v / 4:.2f}\n" for t, a, v in ROWS)
    log = read("t (s),I (A),V1 (V),V2 (V),P (W)\n" + rows)
    assert log.readings.voltage_v[0] == 13.0
    bare = "t (s),I (A),V1 (V),V2 (V)\n" + "".join(r.rpartition(",")[0] + "\n" for r in rows.splitlines())
    with pytest.raises(InputError, match=r"'V1 \(V\)', 'V2 \(V\)' may be blocks in series .* sum"):
        read(bare)
    assert read(bare, columns={"voltage": "V1 (V)[V]"}).readings.voltage_v[0] == 13.0


def test_units_of_a_printed_table_stand_under_their_titles() -> None:
    rows = "".join(f"{c}   {a:5}    {v:5}\n" for c, (_, a, v) in zip(CLOCK, ROWS, strict=True))
    assert holds_the_rows(read("Zeit       Strom    Spannung\n             A        V\n" + rows))


def test_dumps_with_typed_literals_are_read() -> None:
    rows = "".join(
        f"(TIMESTAMP '2026-07-05 {c}', {a}, {v}),\n" for c, (_, a, v) in zip(CLOCK, ROWS, strict=True)
    )
    log = read("INSERT INTO readings (ts, amps, volts) VALUES\n" + rows)
    assert holds_the_rows(log) and log.started == datetime(2026, 7, 5, 10)


@pytest.mark.parametrize(("name", "month"), [("2026-07-05.csv", 7), ("2026-05-07a.csv", 5), ("log.csv", 7)])
def test_the_file_s_name_says_which_way_a_date_is_read(name: str, month: int) -> None:
    """Titles that are not English speak for the day first, unless the name holds the other day."""
    text = of("Zeit;Strom (A);Spannung (V)\n", "05/07/2026 {h}:{m}:{s};{a};{v}\n")
    assert read(text, name).started == datetime(2026, month, 12 - month, 10, 0, 0)
