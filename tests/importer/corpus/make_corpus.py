"""A corpus of differing meter files, all invented, made from one set of true readings.

    python tests/importer/corpus/make_corpus.py FOLDER

writes every file, each with its expected readings or the words of its refusal. The tests make the same files
in memory. Nothing here uses `estimator`.
"""

from __future__ import annotations

import csv
import gzip
import io
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

START = datetime(2026, 5, 23, 9, 14, 7)


@dataclass(frozen=True)
class Truth:
    """Invented readings: time [s], current [A], voltage [V], temperature [°C]."""

    time_s: np.ndarray
    current_a: np.ndarray
    voltage_v: np.ndarray
    temperature_c: np.ndarray


def truth(n: int = 240, step_s: float = 2.0, seed: int = 7) -> Truth:
    """A short mow: rest, work with thick patches, rest; rounded to 0.01 A and 0.01 V."""
    rng = np.random.default_rng(seed)
    load = np.repeat(rng.uniform(6, 14, n // 4 + 1), 4)[:n] + rng.normal(0, 0.4, n)
    load[rng.integers(30, n - 30, 6)] += 12
    resting = (np.arange(n) < 20) | (np.arange(n) >= n - 20)
    current = np.where(resting, 0.0, load).round(2)
    charge = np.cumsum(current) * step_s / 3600
    voltage = (53.6 - 0.11 * current - 0.8 * charge).round(2)
    voltage[:20] = voltage[0]
    voltage[-20:] = voltage[-20]
    warmth = (18 + 4 * np.arange(n) / n).round(1)
    return Truth(np.arange(n) * step_s, current, voltage, warmth)


TRUTH = truth()


@dataclass(frozen=True)
class Case:
    """One file (or two): content, choices for the importer, and the expected result.

    readings : expected readings, or None where the file must be refused
    refused : words of the refusal; row : the row it must name
    """

    name: str
    files: tuple[tuple[str, bytes], ...]
    readings: Truth | None
    refused: str = ""
    row: int | None = None
    choices: dict[str, object] = field(default_factory=dict)
    said: str = ""
    time_tolerance_s: float = 1e-3
    value_tolerance: float = 1e-6
    started: datetime | None = None


def point(x: float) -> str:
    return f"{x:.2f}"


def comma(x: float) -> str:
    return f"{x:.2f}".replace(".", ",")


def elapsed(t: Truth) -> list[str]:
    return [f"{x:g}" for x in t.time_s]


def stamps(t: Truth, form: str, start: datetime = START) -> list[str]:
    return [(start + timedelta(seconds=float(x))).strftime(form) for x in t.time_s]


def hms(seconds: float) -> str:
    return f"{int(seconds) // 3600}:{int(seconds) // 60 % 60:02d}:{int(seconds) % 60:02d}"


def rows_of(*columns: Sequence[str]) -> list[list[str]]:
    return [list(r) for r in zip(*columns, strict=True)]


def text(
    titles: Sequence[str], rows: Sequence[Sequence[str]], sep: str = ",", before: str = "", after: str = ""
) -> str:
    lines = [sep.join(titles)] if titles else []
    lines += [sep.join(r) for r in rows]
    return before + "\n".join(lines) + "\n" + after


def plain(
    t: Truth = TRUTH,
    time: list[str] | None = None,
    titles: Sequence[str] = ("time_s", "current_a", "voltage_v"),
    sep: str = ",",
    number: Callable[[float], str] = point,
    **more: str,
) -> str:
    columns = rows_of(time or elapsed(t), [number(x) for x in t.current_a], [number(x) for x in t.voltage_v])
    return text(titles, columns, sep, **more)


def case(name: str, content: str | bytes, readings: Truth | None = TRUTH, **more: object) -> Case:
    data = content.encode() if isinstance(content, str) else content
    suffix = str(more.pop("suffix", ".csv"))
    return Case(name, ((name.replace(" ", "_") + suffix, data),), readings, **more)  # type: ignore[arg-type]


def keep(t: Truth, mask: np.ndarray) -> Truth:
    return Truth(t.time_s[mask], t.current_a[mask], t.voltage_v[mask], t.temperature_c[mask])


def encodings() -> list[Case]:
    german = plain(titles=("Zeit", "Strom in A (Größe)", "Spannung (V)"), sep=";", number=comma)
    return [
        case("plain", plain()),
        case("utf8 bom", b"\xef\xbb\xbf" + plain().encode()),
        case("utf16", plain().encode("utf-16")),
        case("utf16 big endian", b"\xfe\xff" + plain().encode("utf-16-be")),
        case("utf16 without mark", plain(sep="\t").encode("utf-16-le")),
        case("latin1", german.encode("latin-1")),
        case("utf8 umlaut", german),
        case("gzip", gzip.compress(plain().encode()), suffix=".csv.gz"),
        case("crlf", plain().replace("\n", "\r\n")),
        case("cr only", plain().replace("\n", "\r")),
        case(
            "mixed line ends",
            "\n".join(line + ("\r" if k % 3 else "") for k, line in enumerate(plain().split("\n"))),
        ),
        case("no last line end", plain().rstrip("\n")),
        case("blank lines between", plain().replace("\n", "\n\n")),
    ]


def separators() -> list[Case]:
    spaced = text(
        ("time_s", "current_a", "voltage_v"),
        [
            [f"{a:>8}", f"{b:>9}", f"{c:>9}"]
            for a, b, c in rows_of(
                elapsed(TRUTH), [point(x) for x in TRUTH.current_a], [point(x) for x in TRUTH.voltage_v]
            )
        ],
        " ",
    )
    quoted = io.StringIO()
    writer = csv.writer(quoted, quoting=csv.QUOTE_ALL)
    writer.writerow(("Time (s)", "Current, clamp (A)", "Voltage (V)"))
    writer.writerows(
        rows_of(elapsed(TRUTH), [comma(x) for x in TRUTH.current_a], [comma(x) for x in TRUTH.voltage_v])
    )
    return [
        case("semicolon comma", plain(sep=";", number=comma)),
        case("semicolon point", plain(sep=";")),
        case("tabs", plain(sep="\t"), suffix=".tsv"),
        case("bars", plain(sep="|"), suffix=".txt"),
        case("blanks", spaced, suffix=".txt"),
        case("tab decimal comma", plain(sep="\t", number=comma), suffix=".txt"),
        case("quoted decimal comma", quoted.getvalue()),
        case("trailing commas", plain().replace("\n", ",\n")),
        case("trailing semicolons", plain(sep=";", number=comma).replace("\n", ";;\n")),
        case(
            "thousands in milliamps",
            text(
                ("Time (s)", "Current (mA)", "Voltage (mV)"),
                rows_of(
                    elapsed(TRUTH),
                    [f'"{1000 * x:,.1f}"' for x in TRUTH.current_a],
                    [f'"{1000 * x:,.0f}"' for x in TRUTH.voltage_v],
                ),
            ),
        ),
        case(
            "thousands german",
            text(
                ("Zeit (s)", "Strom (mA)", "Spannung (mV)"),
                rows_of(
                    elapsed(TRUTH),
                    [
                        f"{1000 * x:,.1f}".replace(",", "_").replace(".", ",").replace("_", ".")
                        for x in TRUTH.current_a
                    ],
                    [
                        f"{1000 * x:,.1f}".replace(",", "_").replace(".", ",").replace("_", ".")
                        for x in TRUTH.voltage_v
                    ],
                ),
                ";",
            ),
        ),
        case(
            "thousands blanks",
            text(
                ("Temps (s)", "Courant (mA)", "Tension (mV)"),
                rows_of(
                    elapsed(TRUTH),
                    [f"{1000 * x:,.1f}".replace(",", "\u202f").replace(".", ",") for x in TRUTH.current_a],
                    [f"{1000 * x:,.1f}".replace(",", "\u202f").replace(".", ",") for x in TRUTH.voltage_v],
                ),
                ";",
            ),
        ),
        case(
            "thousands in whole milliamps",
            text(
                ("Time (s)", "Current (mA)", "Voltage (mV)"),
                rows_of(
                    elapsed(TRUTH),
                    [f'"{1000 * x:,.0f}"' for x in TRUTH.current_a],
                    [f'"{1000 * x:,.0f}"' for x in TRUTH.voltage_v],
                ),
            ),
        ),
        case("three decimals after a comma", plain(sep=";", number=lambda x: f"{x:.3f}".replace(".", ","))),
        case("three decimals after a point", plain(sep=";", number=lambda x: f"{x:.3f}")),
    ]


def surroundings() -> list[Case]:
    preamble = "Logger export\nSerial;none\nInterval;2 s\nOperator;somebody\n\n"
    long_preamble = "".join(f"remark {k}: nothing to see, move on\n" for k in range(900))
    middle = plain(sep=";").split("\n")
    again = "\n".join([*middle[:101], middle[0], *middle[101:]])
    half = TRUTH.time_s < 200
    return [
        case("preamble", plain(sep=";", before=preamble)),
        case("long preamble", plain(before=long_preamble)),
        case("preamble with times", plain(before="Start time,2026-05-23 09:14:07\nCurrent range,60 A\n\n")),
        case("comment lines", plain(before="# made by hand\n# second line\n")),
        case("comment titles", "#" + plain()),
        case("footer", plain(after="\nEnd of log\nMean,8.1,52.3\n")),
        case("repeated titles", again, said="repeated"),
        case(
            "units in second line",
            text(
                ("Time", "Current", "Voltage"),
                [
                    ["s", "mA", "V"],
                    *rows_of(
                        elapsed(TRUTH),
                        [f"{1000 * x:.0f}" for x in TRUTH.current_a],
                        [point(x) for x in TRUTH.voltage_v],
                    ),
                ],
            ),
        ),
        case(
            "unit line in brackets",
            text(
                ("Zeit", "Strom", "Spannung"),
                [
                    ["[s]", "[A]", "[mV]"],
                    *rows_of(
                        elapsed(TRUTH),
                        [comma(x) for x in TRUTH.current_a],
                        [f"{1000 * x:.0f}" for x in TRUTH.voltage_v],
                    ),
                ],
                ";",
            ),
        ),
        case(
            "cut short in the last line", plain(keep(TRUTH, half)) + "20", keep(TRUTH, half), said="cut short"
        ),
        case("comment amid", plain().replace("\n100,", "\n# somebody waved\n100,"), said="comment"),
    ]


def columns() -> list[Case]:
    t = TRUTH
    amps, volts, warm = (
        [point(x) for x in t.current_a],
        [point(x) for x in t.voltage_v],
        [f"{x:.1f}" for x in t.temperature_c],
    )
    number = [str(k + 1) for k in range(len(t.time_s))]
    watts = [f"{x:.6f}" for x in t.current_a * t.voltage_v]
    ranges = [f"{1000 * x:.0f} mA" if x < 8 else f"{x:.2f} A" for x in t.current_a]
    german = ["Datum", "Uhrzeit", "Spannung [V]", "Strom [A]", "Temperatur [°C]"]
    alternating = []
    for k, x in enumerate(t.time_s):
        alternating.append([f"{x:g}", point(t.current_a[k]), "A DC"])
        alternating.append([f"{x + 0.5:g}", point(t.voltage_v[k]), "V DC"])
    return [
        case(
            "other order",
            text(
                ("voltage_v", "temperature_c", "time_s", "current_a"), rows_of(volts, warm, elapsed(t), amps)
            ),
        ),
        case(
            "extra columns",
            text(
                ("No.", "Time (s)", "Voltage (V)", "Current (A)", "Power (W)", "Energy (Wh)", "Status"),
                rows_of(number, elapsed(t), volts, amps, watts, number, ["ok"] * len(amps)),
            ),
        ),
        case(
            "german",
            text(
                german,
                rows_of(
                    stamps(t, "%d.%m.%Y"),
                    stamps(t, "%H:%M:%S"),
                    [comma(x) for x in t.voltage_v],
                    [comma(x) for x in t.current_a],
                    [f"{x:.1f}".replace(".", ",") for x in t.temperature_c],
                ),
                ";",
            ),
            started=START,
        ),
        case("french", plain(titles=("Temps (s)", "Intensité (A)", "Tension (V)"), sep=";", number=comma)),
        case("spanish", plain(titles=("Tiempo (s)", "Corriente (A)", "Tensión (V)"), sep=";", number=comma)),
        case("dutch", plain(titles=("Tijd (s)", "Stroom (A)", "Spanning (V)"), sep=";", number=comma)),
        case("short names", plain(titles=("t", "I", "U"))),
        case(
            "milli units",
            text(
                ("t / ms", "I / mA", "U / mV"),
                rows_of(
                    [f"{1000 * x:.0f}" for x in t.time_s],
                    [f"{1000 * x:.0f}" for x in t.current_a],
                    [f"{1000 * x:.0f}" for x in t.voltage_v],
                ),
            ),
        ),
        case(
            "minutes",
            text(("Time (min)", "Amps", "Volts"), rows_of([f"{x / 60:.5f}" for x in t.time_s], amps, volts)),
            time_tolerance_s=2e-3,
        ),
        case(
            "unit columns",
            text(
                ("Time", "Current", "Unit", "Voltage", "Unit"),
                rows_of(elapsed(t), amps, ["A"] * len(amps), volts, ["V"] * len(volts)),
            ),
        ),
        case(
            "units beside values",
            text(
                ("time", "clamp current", "pack voltage"),
                rows_of(elapsed(t), [a + " A" for a in amps], [f"{1000 * x:.0f}mV" for x in t.voltage_v]),
            ),
        ),
        case(
            "no titles",
            text((), rows_of(stamps(t, "%H:%M:%S"), [a + " A" for a in amps], [v + " V" for v in volts])),
            said="No titles",
        ),
        case(
            "range switches",
            text(("Time (s)", "Current", "Voltage (V)"), rows_of(elapsed(t), ranges, volts)),
            said="changes its range",
            value_tolerance=6e-3,
        ),
        case(
            "range switches in unit column",
            text(
                ("Time (s)", "Current", "Unit", "Voltage (V)"),
                rows_of(elapsed(t), [r.split()[0] for r in ranges], [r.split()[1] for r in ranges], volts),
            ),
            value_tolerance=6e-3,
        ),
        case(
            "watts and volts",
            text(("Time (s)", "Power (W)", "Voltage (V)"), rows_of(elapsed(t), watts, volts)),
            said="watts",
        ),
        case(
            "one meter in turn",
            text(("Time (s)", "Value", "Unit"), alternating),
            said="switched between",
            value_tolerance=9.0,
        ),
        case(
            "function column",
            text(
                ("Time (s)", "Reading", "Function"),
                [[a, b, {"A DC": "DC current", "V DC": "DC voltage"}[c]] for a, b, c in alternating],
            ),
            said="switched between",
            value_tolerance=9.0,
        ),
        case(
            "chosen columns",
            text(("a", "b", "c"), rows_of(elapsed(t), amps, volts)),
            choices={"columns": {"time": "a", "current": "b", "voltage": "c"}},
        ),
        case(
            "chosen numbers",
            text((), rows_of(elapsed(t), volts, amps)),
            choices={"columns": {"time": 1, "current": 3, "voltage": 2}},
        ),
        case(
            "fahrenheit",
            text(
                ("time_s", "current_a", "voltage_v", "Temperature (°F)"),
                rows_of(elapsed(t), amps, volts, [f"{1.8 * x + 32:.4f}" for x in t.temperature_c]),
            ),
        ),
        case(
            "min and max beside",
            text(
                ("Time (s)", "Current max (A)", "Current min (A)", "Current avg (A)", "Voltage (V)"),
                rows_of(
                    elapsed(t),
                    [point(x + 1) for x in t.current_a],
                    [point(x - 1) for x in t.current_a],
                    amps,
                    volts,
                ),
            ),
            said="avg",
        ),
        case(
            "cells beside",
            text(
                ("Time (s)", "Cell 1 voltage (V)", "Pack voltage (V)", "Pack current (A)"),
                rows_of(elapsed(t), ["4.10"] * len(amps), volts, amps),
            ),
        ),
    ]


def clocks() -> list[Case]:
    t = TRUTH
    late = datetime(2026, 5, 23, 23, 56, 0)
    noon = datetime(2026, 5, 23, 11, 57, 0)
    ambiguous = datetime(2026, 3, 4, 9, 14, 7)
    epoch = datetime(1970, 1, 1)
    serial = [f"{(START - datetime(1899, 12, 30)).total_seconds() / 86400 + x / 86400:.9f}" for x in t.time_s]
    quarter = truth(n=240, step_s=0.25, seed=3)
    in_seconds = [(START + timedelta(seconds=int(x))).strftime("%H:%M:%S") for x in quarter.time_s]
    autumn = datetime(2026, 10, 25, 2, 56, 0)
    spring = datetime(2026, 3, 29, 1, 56, 0)
    back = [
        (autumn + timedelta(seconds=float(x) - (3600 if x >= 240 else 0))).strftime("%Y-%m-%d %H:%M:%S")
        for x in t.time_s
    ]
    on = [
        (spring + timedelta(seconds=float(x) + (3600 if x >= 240 else 0))).strftime("%Y-%m-%d %H:%M:%S")
        for x in t.time_s
    ]
    dropped = np.ones(len(t.time_s), dtype=bool)
    dropped[60:70] = False
    restart = [f"{x:g}" for x in np.where(t.time_s < 240, t.time_s, t.time_s - 240)]
    restarted = replace(t, time_s=np.where(t.time_s < 240, t.time_s, t.time_s + 58))
    newest = Truth(t.time_s, t.current_a, t.voltage_v, t.temperature_c)
    return [
        case("iso", plain(time=stamps(t, "%Y-%m-%dT%H:%M:%S")), started=START),
        case("iso with zone", plain(time=stamps(t, "%Y-%m-%dT%H:%M:%S+02:00")), started=START),
        case("iso utc fraction", plain(time=stamps(t, "%Y-%m-%dT%H:%M:%S.000Z")), started=START),
        case("day first", plain(time=stamps(t, "%d/%m/%Y %H:%M:%S")), started=START),
        case("month first", plain(time=stamps(t, "%m/%d/%Y %H:%M:%S")), started=START),
        case("ambiguous date", plain(time=stamps(t, "%d/%m/%Y %H:%M:%S", ambiguous)), said="both ways"),
        case(
            "ambiguous date told",
            plain(time=stamps(t, "%d/%m/%Y %H:%M:%S", ambiguous)),
            choices={"day_first": True},
            started=ambiguous,
        ),
        case(
            "points in dates",
            plain(time=stamps(t, "%d.%m.%y %H:%M:%S"), sep=";", number=comma),
            started=START,
        ),
        case(
            "date over midnight proves order",
            plain(time=stamps(t, "%d/%m/%Y %H:%M:%S", datetime(2026, 5, 3, 23, 56))),
            started=datetime(2026, 5, 3, 23, 56),
        ),
        case("twelve hours", plain(time=stamps(t, "%m/%d/%Y %I:%M:%S %p")), started=START),
        case("twelve hours over noon", plain(time=stamps(t, "%I:%M:%S %p", noon))),
        case(
            "twelve hours unmarked",
            plain(time=stamps(t, "%I:%M:%S", noon + timedelta(hours=1))),
            said="12-hour",
        ),
        case("named months", plain(time=stamps(t, "%d %b %Y %H:%M:%S")), started=START),
        case(
            "german month",
            plain(
                time=[s.replace("May", "Mai") for s in stamps(t, "%d. %B %Y %H:%M:%S")], sep=";", number=comma
            ),
            started=START,
        ),
        case("no year", plain(time=stamps(t, "%d.%m. %H:%M:%S"), sep=";", number=comma), said="no year"),
        case("compact", plain(time=stamps(t, "%Y%m%d%H%M%S")), started=START),
        case("clock only", plain(time=stamps(t, "%H:%M:%S"))),
        case("dotted clock", plain(time=stamps(t, "%H.%M.%S"), sep=";", number=comma)),
        case("clock with letters", plain(time=stamps(t, "%Hh%Mm%Ss"), sep=";", number=comma)),
        case("midnight", plain(time=stamps(t, "%H:%M:%S", late)), said="Midnight"),
        case("elapsed clock", plain(time=[hms(x) for x in t.time_s], titles=("Elapsed", "Amps", "Volts"))),
        case(
            "elapsed clock fraction",
            plain(time=[hms(x) + ".0" for x in t.time_s], titles=("Elapsed", "Amps", "Volts")),
        ),
        case(
            "elapsed minutes seconds",
            plain(
                time=[f"{int(x) // 60:02d}:{int(x) % 60:02d}" for x in t.time_s],
                titles=("Elapsed", "Amps", "Volts"),
            ),
        ),
        case(
            "epoch",
            plain(time=[f"{(START - epoch).total_seconds() + x:.0f}" for x in t.time_s]),
            started=START,
        ),
        case(
            "epoch ms",
            plain(time=[f"{1000 * ((START - epoch).total_seconds() + x):.0f}" for x in t.time_s]),
            started=START,
        ),
        case(
            "spreadsheet serial",
            plain(time=serial, titles=("Time", "Amps", "Volts")),
            time_tolerance_s=2e-3,
            started=START,
        ),
        case("late start", plain(time=[f"{x + 777.5:g}" for x in t.time_s])),
        case(
            "repeated seconds",
            plain(quarter, in_seconds),
            quarter,
            said="spread evenly",
            time_tolerance_s=0.3,
        ),
        case("autumn", plain(time=back), said="end of summer time"),
        case("spring", plain(time=on), said="start of summer time"),
        case("dropped readings", plain(keep(t, dropped)), keep(t, dropped)),
        case("restart", plain(time=restart), restarted, said="restarted"),
        case(
            "newest first",
            text(
                ("time_s", "current_a", "voltage_v"),
                list(
                    reversed(
                        rows_of(elapsed(t), [point(x) for x in t.current_a], [point(x) for x in t.voltage_v])
                    )
                ),
            ),
            newest,
            said="order reversed",
        ),
        case(
            "date and clock apart",
            text(
                ("Date", "Time", "Amps", "Volts"),
                rows_of(
                    stamps(t, "%Y-%m-%d"),
                    stamps(t, "%H:%M:%S"),
                    [point(x) for x in t.current_a],
                    [point(x) for x in t.voltage_v],
                ),
            ),
            started=START,
        ),
    ]


def flaws() -> list[Case]:
    t = TRUTH
    over = t.current_a > 20
    lost = np.zeros(len(over), dtype=bool)
    lost[100:103] = True
    amps = ["OL" if o else point(x) for o, x in zip(over, t.current_a, strict=True)]
    blank = ["" if o else point(x) for o, x in zip(lost, t.current_a, strict=True)]
    volts = [point(x) for x in t.voltage_v]
    gone = np.zeros(len(over), dtype=bool)
    gone[120] = True
    straight = t.voltage_v.copy()
    straight[120] = (straight[119] + straight[121]) / 2
    spiked = t.current_a.copy()
    spiked[150] = 480.0
    clamp = t.current_a + 0.3
    titles = ("time_s", "current_a", "voltage_v")
    return [
        case(
            "overload",
            text(titles, rows_of(elapsed(t), amps, volts)),
            keep(t, ~over),
            said="over the meter's range",
        ),
        case(
            "missing amps",
            text(titles, rows_of(elapsed(t), blank, volts)),
            keep(t, ~lost),
            said="without amps",
        ),
        case(
            "dashes for volts",
            text(
                titles,
                rows_of(
                    elapsed(t),
                    [point(x) for x in t.current_a],
                    ["----" if g else v for g, v in zip(gone, volts, strict=True)],
                ),
            ),
            replace(t, voltage_v=straight),
            said="without volts",
        ),
        case(
            "spike",
            text(titles, rows_of(elapsed(t), [point(x) for x in spiked], volts)),
            keep(t, np.arange(len(over)) != 150),
            said="spike",
        ),
        case("reversed clamp", plain(replace(t, current_a=-t.current_a)), said="wrong way round"),
        case("zero error", plain(replace(t, current_a=clamp)), said="taken off"),
        case("zero error told", plain(replace(t, current_a=clamp)), choices={"zero_a": 0.3}, said="as given"),
        case(
            "zero left as read",
            plain(replace(t, current_a=clamp)),
            replace(t, current_a=clamp),
            choices={"zero_a": 0.0},
            said="left as read",
        ),
    ]


def refusals() -> list[Case]:
    t = TRUTH
    lines = plain().split("\n")
    swapped = "\n".join([*lines[:101], lines[109], *lines[102:109], lines[101], *lines[110:]])
    word = "\n".join([*lines[:152], "302,four and a bit,52.1", *lines[153:]])
    date = plain(time=stamps(t, "%d/%m/%Y %H:%M:%S")).split("\n")
    mixed = "\n".join([*date[:101], date[101].replace("23/05/2026", "05/23/2026"), *date[102:]])
    return [
        case("empty", b"", None, refused="is empty"),
        case("only blanks", b" \n\n\t\n", None, refused="is empty"),
        case("titles only", "time_s,current_a,voltage_v\n", None, refused="no readings", row=1),
        case("words", "dear all\nthe mower is fine\n", None, refused="two numbers", row=1),
        case(
            "no volts",
            text(("time_s", "current_a"), rows_of(elapsed(t), [point(x) for x in t.current_a])),
            None,
            refused="no volts",
        ),
        case(
            "no amps",
            text(("time_s", "voltage_v"), rows_of(elapsed(t), [point(x) for x in t.voltage_v])),
            None,
            refused="no amps",
        ),
        case(
            "no time",
            text(
                ("current_a", "voltage_v"),
                rows_of([point(x) for x in t.current_a], [point(x) for x in t.voltage_v]),
            ),
            None,
            refused="no column for time",
            row=1,
        ),
        case("time goes back", swapped, None, refused="time goes back from 216 s to 202 s", row=103),
        case("words in numbers", word, None, refused="four and a bit", row=153),
        case("decimal comma in commas", plain(number=comma), None, refused="fields", row=2),
        case("both date orders", mixed, None, refused="date has day", row=102),
        case("picture", b"\x89PNG\r\n\x1a\n" + bytes(200), None, refused="picture"),
        case("zeros", bytes(5000), None, refused="empty"),
        case("gzip cut short", gzip.compress(plain().encode())[:-30], None, refused="gzip", suffix=".csv.gz"),
        case(
            "gzip bomb",
            gzip.compress(b"0" * 50_000_000),
            None,
            refused="more than",
            suffix=".csv.gz",
            choices={"max_bytes": 5_000_000},
        ),
        case("too many rows", plain(), None, refused="more than 100 readings", choices={"max_rows": 100}),
        case(
            "absurd amps", plain().replace("\n300,", "\n300,999999999"), None, refused="current is", row=152
        ),
        case(
            "overload throughout",
            text(
                ("time_s", "current_a", "voltage_v"),
                rows_of(elapsed(t), ["OL"] * len(t.time_s), [point(x) for x in t.voltage_v]),
            ),
            None,
            refused="overload throughout",
            row=2,
        ),
    ]


def all_cases() -> list[Case]:
    """Every case, those with readings first, refusals last."""
    found = [*encodings(), *separators(), *surroundings(), *columns(), *clocks(), *flaws(), *refusals()]
    assert len({c.name for c in found}) == len(found)
    return found


def write(folder: Path) -> None:
    """Write every file and its expectation."""
    folder.mkdir(parents=True, exist_ok=True)
    for c in all_cases():
        for name, data in c.files:
            (folder / name).write_bytes(data)
            beside = folder / f"{name}.expected.csv"
            if c.readings is None:
                beside.write_text(f"refused: {c.refused}; row {c.row}\n", encoding="utf-8")
            else:
                r = c.readings
                beside.write_text(
                    text(
                        ("time_s", "current_a", "voltage_v"),
                        rows_of(
                            [f"{x:g}" for x in r.time_s],
                            [f"{x:g}" for x in r.current_a],
                            [f"{x:g}" for x in r.voltage_v],
                        ),
                    )
                )


if __name__ == "__main__":
    write(Path(sys.argv[1]))
