"""Forms that loggers, consoles and instruments of others write; each holds 10, 20, 30 A at 52, 51, 50 V."""

from __future__ import annotations

import pytest

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
        pytest.param(
            "Time,Value1,Unit1,Value2,Unit2\n" + lines("{c},{v},VDC,{a},ADC\n"), id="numbered pairs"
        ),
        pytest.param("Time,Volts,Value,Unit\n" + lines("{c},{v},{a},A\n"), id="a pair beside titled volts"),
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
