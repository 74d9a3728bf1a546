"""Files read with what the logbook knows of their meters."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

from estimator import logbook as kept
from estimator.errors import InputError
from estimator.logbook import Logbook

if TYPE_CHECKING:
    from estimator.importer.cleaning.mending import Examined
    from estimator.importer.log import Log
    from estimator.importer.meter import Accuracy, Meter

AS_KEPT = ("day_first", "decimal", "reverse", "interval_s", "gap_s", "sheet", "state", "day_first_seen")
"""The fields of a kept meter that have the importer's names."""
ROOT_3 = math.sqrt(3)
ROOT_12 = math.sqrt(12)
"""Half width and width of a rectangular distribution over its standard deviation; JCGM 100:2008, 4.3.7."""
OF_METER = ("columns", "interval_s", "gap_s", "sheet", "state", "decimal", "day_first")
"""Decisions that hold for every file of a meter; a zero error or a reversed clamp belongs to one mow."""


@dataclass(frozen=True)
class ReadFiles:
    """A log with the decisions it was read with, meters included, in the form in which they are kept (JSON).

    learned : what to know of each meter from now on: how its files are recognised and read
    examined : what was mended
    """

    log: Log
    examined: Examined
    decisions: Mapping[str, Any]
    learned: Mapping[str, Mapping[str, Any]]


def read_with_meters(
    logbook: Logbook,
    files: Sequence[tuple[str, bytes]],
    decisions: Mapping[str, Any] | None = None,
    meters: Sequence[str] = (),
) -> ReadFiles:
    """Read files (name, bytes) with the meters named, or with known meters that have these column titles.

    decisions : what overrules the importer, as `Choices`
    Raises InputError for files that cannot be taken, and for a meter that is not described.
    """
    from estimator.importer.read import examine_once

    _check_names(decisions or {})
    used = used_meters(logbook, meters)
    choices = dict(decisions or {})
    found = examine_once(list(files), **({**choices, "meters": used} if used else choices))
    if used:
        choices["meters"] = [meter.as_plain() for meter in used]
    # With two files it is not known for which one a decision was meant.
    one = choices if len(files) == 1 else {}
    told = {name: one[name] for name in OF_METER if one.get(name) not in (None, "", {})}
    learned = {
        each.name: {"signature": each.signature, **_habit(each), **told}
        for each in found.meters
        if each.name and each.signature
    }
    return ReadFiles(found.log, found, choices, learned)


def _habit(meter: Meter) -> dict[str, bool]:
    return {} if meter.day_first_seen is None else {"day_first_seen": meter.day_first_seen}


def remember_meters(logbook: Logbook, learned: Mapping[str, Mapping[str, Any]]) -> None:
    """Keep what was learned of meters, so that their next files are recognised and read in the same way."""
    for name, new in learned.items():
        plain = kept.meter(logbook, name)
        if any(plain.get(what) != value for what, value in new.items()):
            kept.keep_meter(logbook, name, {**plain, **new})


def used_meters(logbook: Logbook, names: Sequence[str]) -> list[Meter]:
    """The meters of those names; without names, all whose files can be recognised by their column titles."""
    if names:
        return [meter_of(name, kept.meter(logbook, name)) for name in names]
    known = [meter_of(name, plain) for name, plain in kept.meters(logbook).items()]
    return [meter for meter in known if meter.signature]


def _check_names(decisions: Mapping[str, Any]) -> None:

    known: tuple[str, ...] = ("columns", "interval_s", "gap_s", "sheet", "state", "day_first", "decimal")
    known += ("gaps", "reverse", "zero_a", "offset_s", "drift_ppm", "max_rows")
    for name in decisions:
        if name not in known:
            near = get_close_matches(name, known, n=1)
            raise InputError(
                f"decision {name!r} is not known",
                mend=f"did you mean {near[0]!r}?" if near else f"choose one of {', '.join(known)}",
            )


def meter_of(name: str, plain: Mapping[str, Any]) -> Meter:
    """A meter as the importer takes it, from its kept description, which holds standard uncertainties.

    >>> meter_of("clamp", {"current_gain": 0.01, "current_zero_a": 0.05}).current.percent
    1.732...
    """
    from estimator.importer.meter import Meter

    return Meter(
        name=name,
        current=_accuracy(plain, "current_gain", "current_zero_a", "current_noise_a"),
        voltage=_accuracy(plain, "voltage_gain", "voltage_zero_v", "voltage_noise_v"),
        columns=tuple((str(what), title) for what, title in dict(plain.get("columns") or {}).items()),
        signature=str(plain.get("signature", "")),
        **{name: plain.get(name) for name in AS_KEPT},
    )


def _accuracy(plain: Mapping[str, Any], gain: str, zero: str, noise: str) -> Accuracy | None:
    from estimator.importer.log import MeterError
    from estimator.importer.meter import Accuracy

    if plain.get(gain) is None and plain.get(zero) is None:
        return None
    usual = asdict(MeterError())
    said = {
        each: float(plain[each] if plain.get(each) is not None else usual[each])
        for each in (gain, zero, noise)
    }
    resolution = said[noise] * ROOT_12
    digits = said[zero] * ROOT_3 / resolution if resolution > 0 else 0.0
    return Accuracy(percent=100 * said[gain] * ROOT_3, digits=digits, resolution=resolution)
