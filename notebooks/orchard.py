"""The invented orchard's diary (`sample_logs/`) as mows, for the notebooks."""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

import estimator as est

SAMPLES = Path(__file__).resolve().parent.parent / "sample_logs"


@dataclass(frozen=True)
class Orchard:
    """Lawns and packs by name, the machine, and the mows in order of the diary."""

    lawns: dict[str, est.Lawn]
    packs: dict[str, est.Pack]
    machine: est.Machine
    mows: list[est.Mow]


def read_orchard() -> Orchard:
    """Everything that its volunteers wrote down and logged."""
    told = json.loads((SAMPLES / "orchard.json").read_text(encoding="utf-8"))
    lawns = {each["name"]: est.Lawn(**each) for each in told["lawns"]}
    packs = {each["name"]: est.Pack(**each) for each in told["packs"]}
    cared = tuple(date.fromisoformat(day) for day in told["machines"][0]["blade_care"])
    machine = est.Machine(**{**told["machines"][0], "blade_care": cared})
    with (SAMPLES / "mows.csv").open(encoding="utf-8", newline="") as diary:
        mows = [_mow(row, lawns, packs, machine) for row in csv.DictReader(diary)]
    return Orchard(lawns, packs, machine, mows)


def _mow(
    row: dict[str, str], lawns: dict[str, est.Lawn], packs: dict[str, est.Pack], machine: est.Machine
) -> est.Mow:
    return est.Mow(
        est.read_log(*(SAMPLES / name for name in row["files"].split(";"))),
        lawn=lawns[row["lawn"]],
        grass=est.Grass(row["moisture"] or None, _number(row["growth_mm"])),
        pack=packs[row["pack"]],
        machine=machine,
        start_charge=_number(row["start_charge"]),
        temperature_c=_number(row["temperature_c"]),
        started=datetime.fromisoformat(row["started"]),
        tags=tuple(tag.strip() for tag in row["tags"].split(";") if tag.strip()),
    )


def _number(text: str) -> float | None:
    return float(text) if text.strip() else None
