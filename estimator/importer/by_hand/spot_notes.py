"""Spot notes: a few hand readings, for people whose meter cannot log."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import fields
from functools import lru_cache

from estimator.errors import InputError
from estimator.importer.by_hand.amps import mean_current
from estimator.importer.by_hand.spot_order import check_spot
from estimator.importer.log import Log, MeterError, SpotNotes
from estimator.importer.table.quantities import plain
from estimator.written import LONGEST_H

UNNOTED_MINUTES = 30.0
"""Minutes of a mow that was not timed, until its pack says more (common practice)."""

_BEFORE = r"(before|start|vor|avant|antes|voor|\bprima\b)"
_AFTER = r"(after|end|nach|apres|despues|\bna\b|\bdopo\b)"
_BACK, _GAUGE = (
    r"(put back|charged|back in)",
    r"(gauge|charge level|soc|percent|anzeige|jauge|indicador|meter stand)",
)
_REST, _VOLTS = r"(rest|volt|spann|tension|spanning|ruhe|repos|reposo|rust)", r"(volt|spann|tension|spanning)"
_LOAD = r"((?<!no )load|cutting|mowing|under|last|charge|carga|belasting)"
_WORDS: tuple[tuple[str, str], ...] = (
    ("socket_wh", r"socket|from the wall|steckdose|prise|enchufe|stopcontact"),
    ("put_back_wh", rf"\bk?wh\b.*{_BACK}|{_BACK}.*\bk?wh\b"),
    ("put_back_ah", rf"\bah\b.*{_BACK}|{_BACK}.*\bah\b"),
    ("rested_minutes", r"rested|minutes (at|of) rest"),
    ("gauge_before", rf"{_GAUGE}.*{_BEFORE}"),
    ("gauge_after", rf"{_GAUGE}.*{_AFTER}"),
    ("rest_before_v", rf"{_REST}.*{_BEFORE}|{_BEFORE}.*(rest|{_VOLTS})"),
    ("rest_after_v", rf"{_REST}.*{_AFTER}|{_AFTER}.*(rest|{_VOLTS})"),
    ("load_v", rf"{_LOAD}.*(v\b|{_VOLTS})|{_VOLTS}.*(load|cutting|mowing|last|charge|carga|belasting)"),
    (
        "minutes",
        r"minute|minutos|duration|\btime\b|dauer|duree|duracion|durata|duur|tijd|tiempo|zeit|stopwatch|hours|seconds",
    ),
    (
        "idle_a",
        r"idle|free run|no load|leerlauf|ralenti|a vide|vacio|vuoto|stationair|lowest|\bmin\b(?!utes)|minim",
    ),
    ("highest_a", r"highest|peak|\bmax|hochst|spitze|massim|pointe|hoogste|piek"),
    ("typical_a", r"typical|usual|most likely|typisch|typique|habituel|tipic|habitual|gewoon"),
    ("mean_a", r"\bmean|\bavg|average|mittel|moyen|medi[oa]\b|gemiddeld"),
)


@lru_cache(maxsize=4096)
def spot_field(label: str) -> str | None:
    """The SpotNotes field that a label means, None where it means none.

    >>> spot_field("highest amps"), spot_field("Spannung vorher (V)"), spot_field("typical_a")
    ('highest_a', 'rest_before_v', 'typical_a')
    """
    key = label.strip().casefold().replace(" ", "_")
    if key in {f.name for f in fields(SpotNotes)}:
        return key
    words = plain(label)
    return next((name for name, pattern in _WORDS if re.search(pattern, words)), None)


_ABOUT = r"\s*(?:[~≈<>]|[^\W\d]{2,7}\.?\s)?\s*"
_NUMBER = re.compile(
    _ABOUT + r"([+-]?\d+(?:[.,]\d+)?)(?:\s*(?:[-–]|to|bis|à)\s*(\d+(?:[.,]\d+)?))?\s*([a-zA-Z%µ]*)"
)
_CLOCK = re.compile(_ABOUT + r"(\d+)\s*(:|h[^\W\d]*\.?)\s*(\d{1,2})(?::(\d\d))?\s*(?:m\w*\.?|h)?\s*")


def _value(field_name: str, text: str, label: str, file: str | None, row: int) -> float:
    clock = _CLOCK.fullmatch(text)
    if field_name == "minutes" and clock:
        a, b, c = (int(clock.group(k) or 0) for k in (1, 3, 4))
        in_hours = clock.group(4) or clock.group(2) != ":" or a < LONGEST_H
        return a * 60 + b + c / 60 if in_hours else a + b / 60
    bars = re.match(r"^\s*(\d{1,2})\s*/\s*(\d{1,2})\b", text)
    if field_name.startswith("gauge") and bars and int(bars.group(2)) > 0:
        return int(bars.group(1)) / int(bars.group(2))
    found = _NUMBER.match(text)
    if not found:
        raise InputError(f"{label} is {text!r}, not a number", file=file, row=row, mend="write it as 12.5")
    ends = [float(end.replace(",", ".")) for end in found.groups()[:2] if end]
    value, unit = sum(ends) / len(ends), (found.group(3) or "").casefold()
    hint = f"{label} {unit}".casefold()
    if field_name in ("minutes", "rested_minutes"):
        if unit in ("h", "hour", "hours", "std") or (not unit and re.search(r"hour|\(h\)", hint)):
            return value * 60
        if unit in ("s", "sec", "seconds") or (not unit and re.search(r"second|\(s\)", hint)):
            return value / 60
    elif field_name.startswith("gauge"):
        return value / 100 if "%" in hint or "percent" in hint or value > 1 else value
    elif unit in ("ma", "mv") or (not unit and re.search(r"\bm[av]\b", hint)):
        return value / 1000
    elif unit == "kwh" or (not unit and "kwh" in hint):
        return value * 1000
    return value


def spot_from_pairs(pairs: Sequence[tuple[str, str, int]], file: str | None = None) -> SpotNotes | None:
    """Spot notes from (label, value, row) triples; None where the labels are not those of spot notes.

    Labels without amps, or a single label, count as spot notes if all of them but a title on top are known:
    then the error can say what is missing.
    """
    # "before: 54.2 V" says by its unit what it is.
    known = {
        label: spot_field(label)
        or (spot_field(f"{label} volts") if re.search(r"\dV\b|\d V\b", text) else None)
        for label, text, _ in pairs
    }
    found = {f for f in known.values() if f}
    amps = found & {"typical_a", "idle_a", "highest_a", "mean_a"}
    enough = len(found) >= 2
    if not (amps and enough) and not ((enough or found & set(known)) and _all_known(known)):
        return None
    values: dict[str, float] = {}
    for label, text, row in pairs:
        name = known[label]
        if name is None or not text.strip():
            continue
        if name in values:
            raise InputError(f"{label} is given twice", file=file, row=row, mend="keep one of them")
        values[name] = _value(name, text, label, file, row)
    return SpotNotes(**values)


def _all_known(known: Mapping[str, str | None]) -> bool:
    """Whether all labels, each with the field it means, belong to spot notes, except for a title on top."""
    labels = [label for label in known if label.strip()]
    return bool(labels) and all(known[label] is not None for label in labels[1:] or labels)


def log_from_spot(spot: SpotNotes, name: str = "spot notes", *, notes: Sequence[str] = ()) -> Log:
    """A coarse log that stands in for spot notes: rest, one steady stretch at the mean current, rest.

    The voltage under load is the one noted, else 97 % of the mean rest voltage (common practice: a few per
    cent of sag). Without any volts, voltage_v is nan; without minutes, the usual number stands in. Both are
    then left to the pack (`fitting.by_hand.spot_volts`). Raises InputError for too few readings or ones that
    cannot be.

    >>> log = log_from_spot(SpotNotes(idle_a=4, typical_a=10, highest_a=28, minutes=30, rest_before_v=54))
    >>> round(float(log.readings.current_a.max()), 1), float(log.readings.time_s.iloc[-1])
    (9.4, 1820.0)
    """
    check_spot(spot, name)
    mean = mean_current(spot)
    if mean.amps <= 0:
        raise InputError(
            f"mean current is {mean.amps:g} A", file=name, mend="note amps as numbers above zero"
        )
    import pandas as pd  # slow to load, and not needed for reading the words alone

    seconds = 60 * (UNNOTED_MINUTES if spot.minutes is None else spot.minutes)
    before, start, end, after = _volts(spot)
    amps = [0.0, 0.0, mean.amps, mean.amps, mean.amps, 0.0, 0.0]
    volts = [before, before, start, (start + end) / 2, end, after, after]
    return Log(
        readings=pd.DataFrame({"time_s": times_of(seconds), "current_a": amps, "voltage_v": volts}),
        notes=[
            f"{name}: hand readings, no log; all of them are weighed together, and anew with each later mow.",
            *notes,
        ],
        error=MeterError(
            current_zero_a=0.1,
            current_gain=mean.std / mean.amps,
            voltage_zero_v=0.2,
            voltage_gain=0.01,
            current_noise_a=mean.std,
            voltage_noise_v=0.5,
        ),
        longest_step_s=seconds,
        name=name,
        spot=spot,
    )


def times_of(seconds: float) -> list[float]:
    """Times [s] of the readings that stand in: rest, one steady stretch of some seconds, rest.

    >>> times_of(60.0)[2:5]
    [10.0, 40.0, 70.0]
    """
    end = 10.0 + seconds
    return [0.0, 10.0 - 1e-3, 10.0, 10.0 + seconds / 2, end, end + 1e-3, end + 10.0]


def _volts(spot: SpotNotes) -> tuple[float, float, float, float]:
    """Volts at rest before, under load at start and end, and at rest after: as noted, or one from another."""
    rests = [v for v in (spot.rest_before_v, spot.rest_after_v) if v is not None]
    if spot.load_v is None and not rests:
        return (math.nan,) * 4
    under = spot.load_v or 0.97 * sum(rests) / len(rests)
    before = rests[0] if rests else under / 0.97
    after = spot.rest_after_v or (under / 0.97 if spot.load_v else before)
    drop = max((before - after) / 2, 0.0) if len(rests) == 2 else 0.0
    return before, under + drop, under - drop, after
