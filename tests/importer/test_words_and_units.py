"""Titles in other languages, other units, numbers as spreadsheets write them: one mow in many words."""

from __future__ import annotations

import numpy as np
import pytest

from estimator.importer.read import read_bytes
from estimator.importer.table.quantities import unit_of
from estimator.importer.table.titles import meaning

SECONDS = np.arange(600)
AMPS = np.where(SECONDS < 30, 0.0, 6 + np.round(np.sin(SECONDS / 9), 2))
VOLTS = np.round(53 - SECONDS / 900 - 0.1 * AMPS, 2)
AH = float(np.sum((AMPS[1:] + AMPS[:-1]) / 2)) / 3600


def clock(second: int) -> str:
    return f"10:{second // 60:02d}:{second % 60:02d}"


def drawn_ah(text: str) -> float:
    readings = read_bytes([("mow.csv", text.encode())]).readings
    amps = readings["current_a"].to_numpy()
    assert readings["voltage_v"].median() == pytest.approx(float(np.median(VOLTS)), rel=0.01)
    return float(np.sum((amps[1:] + amps[:-1]) / 2 * np.diff(readings["time_s"]))) / 3600


@pytest.mark.parametrize(
    "titles",
    [
        "Aika;Jännite (V);Virta (A)",
        "Idő;Feszültség (V);Áram (A)",
        "Zaman;Gerilim (V);Akım (A)",
        "Время;Напряжение, В;Ток, А",
        "Current time;Voltage;Amperage",
        "UTC;Volts;Amps",
    ],
)
def test_titles_in_further_words(titles: str) -> None:
    rows = [f"{clock(s)};{v:.2f};{a:.2f}" for s, a, v in zip(SECONDS, AMPS, VOLTS, strict=True)]
    rows = rows if "Volt" in titles else [row.replace(".", ",") for row in rows]
    assert drawn_ah("\n".join([titles, *rows])) == pytest.approx(AH, rel=0.002)


@pytest.mark.parametrize(
    ("volts", "amps", "volts_per", "amps_per"),
    [("cV", "cA", 0.01, 0.01), ("dV", "dA", 0.1, 0.1), ("мВ", "мА", 0.001, 0.001)],
)
def test_a_prefix_of_the_si_is_a_unit_and_no_guess(volts, amps, volts_per, amps_per) -> None:
    """c is 0.01 and d 0.1 (BIPM, The International System of Units, 9th edition, table 7)."""
    rows = [
        f"{s},{v / volts_per:.0f},{a / amps_per:.0f}" for s, a, v in zip(SECONDS, AMPS, VOLTS, strict=True)
    ]
    text = "\n".join([f"t (s),U ({volts}),I ({amps})", *rows])
    assert drawn_ah(text) == pytest.approx(AH, rel=0.01)


def test_capitals_of_other_meaning_are_no_prefix() -> None:
    assert unit_of("CV") is None
    assert unit_of("da") is None
    assert meaning("corrente da batteria").unit is None


def test_what_is_below_zero_may_stand_in_brackets() -> None:
    rows = [f"{clock(s)},{v:.2f},({a:.2f})" for s, a, v in zip(SECONDS, AMPS, VOLTS, strict=True)]
    assert drawn_ah("\n".join(["Time,Voltage,Current (A)", *rows])) == pytest.approx(AH, rel=0.002)


@pytest.mark.parametrize("title", ["km/h", "Speed [m/s]", "km / h"])
def test_a_walking_pace_is_not_a_time(title: str) -> None:
    found = meaning(title)
    assert found is not None and found.quantity == "other"
