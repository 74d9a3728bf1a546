"""The invented orchard: fills a logbook from the sample logs, for trying things out."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from estimator import logbook as kept
from estimator.answers.keeping.keep import Circumstances, add_mow
from estimator.descriptions import Grass, Lawn, Machine, Pack
from estimator.errors import InputError
from estimator.logbook import Logbook


def samples_folder() -> Path:
    """Where the sample logs lie: in the installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[2]
    for folder in (package / "_sample_logs", package.parent / "sample_logs"):
        if (folder / "mows.csv").is_file():
            return folder
    raise InputError("the sample logs are not installed", mend="install mowcharge again, or use a checkout")


def describe_samples(logbook: Logbook, folder: Path) -> None:
    """Keep the lawns, packs, machines and meters of the invented orchard."""
    orchard = json.loads((folder / "orchard.json").read_text(encoding="utf-8"))
    for lawn in orchard["lawns"]:
        kept.keep_lawn(logbook, Lawn(**lawn))
    for plain in orchard["packs"]:
        kept.keep_pack(logbook, Pack(**plain))
    for plain in orchard["machines"]:
        days = tuple(datetime.fromisoformat(day).date() for day in plain.pop("blade_care", ()))
        kept.keep_machine(logbook, Machine(**plain, blade_care=days))
    for plain in orchard["meters"]:
        kept.keep_meter(logbook, plain.pop("name"), plain)


def fill_from_samples(
    logbook: Logbook,
    folder: Path,
    progress: Callable[[str], None] = lambda _: None,
    first: int = 0,
    until: int | None = None,
) -> int:
    """Describe the invented orchard and add its mows; returns how many were added.

    first, until : only the mows of the diary from `first` to before `until`, counted from zero
    """
    with logbook.writing():
        describe_samples(logbook, folder)
    with (folder / "mows.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))[first:until]
    for place, row in enumerate(rows, start=1):
        progress(f"adding mow {place} of {len(rows)}")
        add_mow(
            logbook, [(name, (folder / name).read_bytes()) for name in row["files"].split(";")], said_in(row)
        )
    return len(rows)


def said_in(row: dict[str, str]) -> Circumstances:
    """What a row of the diary says of its mow."""
    return Circumstances(
        lawn=row["lawn"],
        pack=row["pack"],
        machine=row["machine"],
        grass=Grass(row["moisture"] or None, _number(row["growth_mm"])),
        start_charge=_number(row["start_charge"]),
        temperature_c=_number(row["temperature_c"]),
        started=datetime.fromisoformat(row["started"]) if row["started"] else None,
        tags=tuple(tag.strip() for tag in row["tags"].split(";") if tag.strip()),
    )


def _number(text: str) -> float | None:
    return float(text) if text.strip() else None
