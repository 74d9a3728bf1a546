"""Logs read again from the kept bytes, and their readings with Battery Data Format labels."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import trapezoid

from estimator.errors import InputError
from estimator.importer.log import Log
from estimator.importer.read import read_log
from estimator.logbook import Logbook, add_mow, export, log_of, readings_csv
from estimator.logbook.upkeep.battery_data_format import battery_data_frame

LOG = "time_s,current_a,voltage_v\n" + "".join(f"{s},7.2,{48.5 - 0.01 * s:.2f}\n" for s in range(501))


def test_a_log_is_read_anew_from_the_kept_bytes(book: Logbook, tmp_path: Path) -> None:
    path = tmp_path / "mow.csv"
    path.write_text(LOG, encoding="utf-8")
    number = add_mow(book, [("mow.csv", path.read_bytes())], lawn="orchard").id
    kept, read = log_of(book, number), read_log(path)
    pd.testing.assert_frame_equal(kept.readings, read.readings)
    assert kept.notes == read.notes
    with pytest.raises(InputError, match=r"^mow 9 is not in the logbook"):
        log_of(book, 9)


def test_readings_have_the_labels_and_the_sign_of_the_battery_data_format(book: Logbook) -> None:
    # Battery Data Format ontology 1.0.0 (Battery Data Alliance), docs/pages/specification.rst: the terms
    # "Test Time / s", "Voltage / V" and "Current / A"; discharging capacity [Ah] is 1/3600 of the integral of
    # max(-I, 0) over the time in seconds.
    number = add_mow(book, [("mow.csv", LOG.encode())], lawn="orchard").id
    rows = list(csv.DictReader(io.StringIO(readings_csv(book, number))))
    assert list(rows[0])[:3] == ["Test Time / s", "Voltage / V", "Current / A"]
    time_s = np.array([float(row["Test Time / s"]) for row in rows])
    current = np.array([float(row["Current / A"]) for row in rows])
    discharging_ah = trapezoid(np.maximum(-current, 0), time_s) / 3600
    assert discharging_ah == pytest.approx(7.2 * 500 / 3600, rel=1e-6)  # 7.2 A for 500 s are 1 Ah
    assert float(rows[0]["Voltage / V"]) == 48.5


def test_temperature_and_clock_are_told_where_they_are_known() -> None:
    readings = pd.DataFrame(
        {"time_s": [0.0, 2.0], "current_a": [0.0, 0.0], "voltage_v": 48.0, "temperature_c": 21.5}
    )
    known = battery_data_frame(Log(readings, started=datetime(2025, 5, 1, 9, 0, tzinfo=UTC)))
    assert list(known) == [
        "Test Time / s", "Voltage / V", "Current / A", "Unix Time / s", "Surface Temperature T1 / degC",
    ]  # fmt: skip
    assert known["Unix Time / s"].tolist() == [1746090000.0, 1746090002.0]
    assert str(known["Current / A"][0]) == "0.0"
    assert "Unix Time / s" not in battery_data_frame(Log(readings, started=datetime(2025, 5, 1, 9, 0)))


def test_an_export_holds_the_readings_and_says_which_mow_cannot_be_read(
    book: Logbook, tmp_path: Path
) -> None:
    good = add_mow(book, [("mow.csv", LOG.encode())], lawn="orchard").id
    bad = add_mow(book, [("photo.jpg", bytes(range(256)) * 20)], lawn="orchard").id
    report = export(book, tmp_path / "out")
    assert [path.name for path in (tmp_path / "out" / "readings").iterdir()] == [f"{good:04d}.csv"]
    (note,) = report.notes
    assert note.startswith(f"mow {bad}: photo.jpg")
