"""What spreadsheets save in different countries. All readings are invented."""

from __future__ import annotations

import gzip
from datetime import datetime, timedelta
from pathlib import Path

from hobby_mow import HobbyFile, TrueMow, Writer, clock, comma, put, true_mow
from openpyxl import Workbook


def _grouped(value: float, places: int, mark: str, decimal: str) -> str:
    return f"{value:,.{places}f}".replace(",", "\0").replace(".", decimal).replace("\0", mark)


def german(folder: Path) -> HobbyFile:
    mow = true_mow(201, minutes=18, step_s=2)
    lines = ["Aufzeichnung Obstwiese;;;;", ";;;;", "Datum;Uhrzeit;Spannung (V);Strom (A);Leistung (W)"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"14.06.2025;{clock(33120 + t)};{comma(v, 2)};{comma(i, 3)};{comma(i * v, 1)}")
    path = put(folder / "sheet_german.csv", lines, encoding="utf-8-sig")
    return HobbyFile(path.name, path, mow.figures, "decimal commas, day and time apart, a mark of byte order")


def french(folder: Path) -> HobbyFile:
    mow = true_mow(202, minutes=13, step_s=2, mean_a=5.5)
    lines = ["Temps (s);Tension (mV);Courant (mA)"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        volts, amps = (_grouped(1000 * x, 1, "\u202f", ",") for x in (v, i))
        lines.append(f"{comma(t, 1)};{volts};{amps}")
    path = put(folder / "sheet_french.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "thin spaces group the thousands")


def spanish(folder: Path) -> HobbyFile:
    mow = true_mow(203, minutes=17, step_s=3)
    lines = ["Hora;Tensión [V];Corriente [A];Observación;;"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{clock(61200 + t)};{comma(v, 2)};{comma(i, 2)};;;")
    path = put(folder / "sheet_spanish.csv", lines, encoding="cp1252")
    return HobbyFile(path.name, path, mow.figures, "an older code page, empty columns at the end")


def dutch(folder: Path) -> HobbyFile:
    mow = true_mow(204, minutes=16, step_s=2)
    lines = ["tijd\tspanning\tstroom\ttemperatuur", "min\tV\tmA\t°C"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{comma(t / 60, 4)}\t{comma(v, 2)}\t{comma(1000 * i, 0)}\t{comma(21 + t / 300, 1)}")
    path = put(folder / "sheet_dutch.txt", lines)
    return HobbyFile(path.name, path, mow.figures, "a row of units below the titles: minutes and mA")


def swiss(folder: Path) -> HobbyFile:
    mow = true_mow(205, minutes=12, step_s=2, mean_a=5.0)
    lines = ['"Zeit [ms]";"U [mV]";"I [mA]"']
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(";".join(f'"{_grouped(1000 * x, 0, chr(39), ".")}"' for x in (t, v, i)))
    path = put(folder / "sheet_swiss.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "every cell quoted, apostrophes group the thousands")


def serial_days(folder: Path) -> HobbyFile:
    mow = true_mow(206, minutes=19, step_s=2)
    lines = ["Date;Volts;Amps"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{comma(45822.41875 + t / 86400, 7)};{comma(v, 2)};{comma(i, 2)}")
    path = put(folder / "serial_days.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "dates left as a spreadsheet's count of days")


def twelve_hour(folder: Path) -> HobbyFile:
    mow = true_mow(207, minutes=28, step_s=2, mean_a=4.0)
    start = datetime(2025, 6, 14, 11, 41, 7)
    lines = ["Timestamp,Pack Voltage (V),Pack Current (A)"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        at = start + timedelta(seconds=float(t))
        hour = at.hour % 12 or 12
        half = "AM" if at.hour < 12 else "PM"
        lines.append(f"{at.month}/{at.day}/{at.year} {hour}:{at:%M:%S} {half},{v:.2f},{i:.2f}")
    path = folder / "twelve_hour.csv.gz"
    path.write_bytes(gzip.compress(("\n".join(lines) + "\n").encode(), mtime=0))
    return HobbyFile(
        path.name, path, mow.figures, "month first (there is no month 14), noon follows 11:59 AM"
    )


def two_sheets(folder: Path) -> HobbyFile:
    book = Workbook()
    for name, mow in (("Saturday", _sheet_mow(208)), ("Sunday", _sheet_mow(209))):
        sheet = book.active if name == "Saturday" else book.create_sheet()
        sheet.title = name
        sheet.append(["Seconds", "Volts", "Amps"])
        for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
            sheet.append([float(t), round(float(v), 2), round(float(i), 2)])
    path = folder / "two_sheets.xlsx"
    book.save(path)
    why = "two sheets with a mow each: which one is meant"
    return HobbyFile(path.name, path, _sheet_mow(209).figures, why, {"sheet": "Sunday"})


def _sheet_mow(seed: int) -> TrueMow:
    return true_mow(seed, minutes=10 if seed % 2 else 14, step_s=2)


def totals_below(folder: Path) -> HobbyFile:
    mow = true_mow(210, minutes=15, step_s=5)
    lines = ["Time\tVoltage\tCurrent"]
    for k, (t, i, v) in enumerate(zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True)):
        if k and k % 40 == 0:
            lines += ["", lines[0]]
        lines.append(f"{clock(t)}\t{v:.2f} V\t{i:.2f} A")
    lines += ["", f"Average\t{mow.voltage_v.mean():.2f} V\t{mow.current_a.mean():.2f} A"]
    lines += [f"Total\t{mow.used_wh[-1]:.1f} Wh\t{mow.used_ah[-1]:.2f} Ah"]
    path = put(folder / "totals_below.xls", lines)
    why = "text under a spreadsheet's name, titles on each page, average and total below"
    return HobbyFile(path.name, path, mow.figures, why)


SHEETS: tuple[Writer, ...] = (
    german,
    french,
    spanish,
    dutch,
    swiss,
    serial_days,
    twelve_hour,
    two_sheets,
    totals_below,
)
