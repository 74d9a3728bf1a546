"""Files read with what the logbook knows of their meters."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from estimator import logbook as kept
from estimator.errors import InputError
from estimator.logbook import Logbook

if TYPE_CHECKING:
    from estimator.importer.cleaning.mending import Examined
    from estimator.importer.log import Log
    from estimator.importer.meter import Accuracy, Meter

ROOT_3 = math.sqrt(3)
ROOT_12 = math.sqrt(12)


@dataclass(frozen=True)
class ReadFiles:
    """A log with the decisions it was read with, as they are kept: JSON-able, meters included.

    signatures : by which the files of each named meter are recognised next time; examined : what was mended
    """

    log: Log
    examined: Examined
    decisions: Mapping[str, Any]
    signatures: Mapping[str, str]


def read_with_meters(
    logbook: Logbook,
    files: Sequence[tuple[str, bytes]],
    decisions: Mapping[str, Any] | None = None,
    meters: Sequence[str] = (),
) -> ReadFiles:
    """Read files (name, bytes) with the meters named, or with known meters whose titles the files bear.

    decisions : what overrules the importer, as `Choices`
    Raises InputError for files that cannot be taken, and for a meter that is not described.
    """
    from estimator.importer.once import examine_once

    _check_names(decisions or {})
    if meters:
        used = [meter_of(name, kept.meter(logbook, name)) for name in meters]
    else:
        known = [meter_of(name, plain) for name, plain in kept.meters(logbook).items()]
        used = [meter for meter in known if meter.signature]
    choices = dict(decisions or {})
    found = examine_once(list(files), **({**choices, "meters": used} if used else choices))
    if used:
        choices["meters"] = [meter.as_plain() for meter in used]
    signatures = {
        each.name: each.signature for each in found.meters if each.name in meters and each.signature
    }
    return ReadFiles(found.log, found, choices, signatures)


def remember_meters(logbook: Logbook, signatures: Mapping[str, str]) -> None:
    """Keep by what the files of the named meters are recognised next time."""
    for name, signature in signatures.items():
        plain = kept.meter(logbook, name)
        if plain.get("signature") != signature:
            kept.keep_meter(logbook, name, {**plain, "signature": signature})


def _check_names(decisions: Mapping[str, Any]) -> None:
    from difflib import get_close_matches

    known: tuple[str, ...] = ("columns", "interval_s", "gap_s", "sheet", "state", "day_first", "decimal")
    known += ("reverse", "zero_a", "offset_s", "drift_ppm", "max_rows")
    for name in decisions:
        if name not in known:
            near = get_close_matches(name, known, n=1)
            raise InputError(
                f"decision {name!r} is not known",
                mend=f"did you mean {near[0]!r}?" if near else f"choose one of {', '.join(known)}",
            )


def meter_of(name: str, plain: Mapping[str, Any]) -> Meter:
    """A meter as the importer takes it, from its kept description in standard uncertainties.

    >>> meter_of("clamp", {"current_gain": 0.01, "current_zero_a": 0.05}).current.percent
    1.732...
    """
    from estimator.importer.meter import Meter

    return Meter(
        name=name,
        current=_accuracy(plain, "current_gain", "current_zero_a", "current_noise_a"),
        voltage=_accuracy(plain, "voltage_gain", "voltage_zero_v", "voltage_noise_v"),
        columns=tuple((str(what), title) for what, title in dict(plain.get("columns") or {}).items()),
        day_first=plain.get("day_first"),
        decimal=plain.get("decimal"),
        reverse=plain.get("reverse"),
        signature=str(plain.get("signature", "")),
        interval_s=plain.get("interval_s"),
        gap_s=plain.get("gap_s"),
        sheet=plain.get("sheet"),
        state=plain.get("state"),
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
