"""Discharge curves of a pack's mows, kept in the logbook, and the capacity that each mow shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.figures.pack_chain import fit_of_pack, steps_of_pack
from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.logbook import Logbook, derived_of_mows, keep_derived, log_of, mows

if TYPE_CHECKING:
    from estimator.fitting.seasons.capacity_history import CapacityHistory
    from estimator.fitting.seasons.discharge_curves import DischargeCurve
    from estimator.importer.log import Log


CURVE = "discharge curve"
CURVE_VERSION = "6"
"""Raise it whenever `discharge_curve` or the importer finds another curve in the same bytes."""


@dataclass(frozen=True)
class DatedCurve:
    """The discharge curve of one mow, with its day."""

    mow: int
    day: date
    curve: DischargeCurve


def plain_curve(log: Log, start_charge: float | None, temperature_c: float | None) -> dict[str, Any]:
    """A log's discharge curve as plain values; empty where the log gives none, as hand readings do."""
    from estimator.fitting.seasons.discharge_curves import discharge_curve

    try:
        return discharge_curve(log, start_charge, temperature_c).as_plain()
    except InputError:
        return {}


def curves_of_pack(logbook: Logbook, pack: Pack, capacity_ah: float) -> tuple[DatedCurve, ...]:
    """Discharge curves of the pack's dated mows, oldest first.

    capacity_ah : usable capacity [Ah]; needed to place mows that did not start full
    """
    from estimator.fitting.seasons.discharge_curves import DischargeCurve

    records = [mow for mow in mows(logbook, pack=pack.name) if mow.started is not None]
    kept = derived_of_mows(logbook, CURVE, CURVE_VERSION, [mow.id for mow in records])
    found = []
    for mow in records:
        plain = kept.get(mow.id)
        if plain is None:
            plain = plain_curve(log_of(logbook, mow.id), mow.start_charge, mow.temperature_c)
            keep_derived(logbook, mow.id, CURVE, CURVE_VERSION, plain)
        if not plain or mow.started is None:
            continue
        curve = DischargeCurve.from_plain(plain)
        if curve.start_ah is None and mow.start_charge is not None:
            curve = curve.starting_at((1 - mow.start_charge) * capacity_ah, 0.03 * capacity_ah)
        found.append(DatedCurve(mow.id, mow.started.date(), curve))
    return tuple(found)


def capacity_seen(
    logbook: Logbook, pack: Pack, curves: Sequence[DatedCurve] | None = None
) -> CapacityHistory:
    """The pack's capacity as each dated mow by itself shows it, oldest first, up to what the pack holds now.

    curves : the discharge curves of its mows, where they have been read already
    """
    from estimator.fitting.pack.prior import label_std
    from estimator.fitting.seasons.capacity_history import capacity_history

    steps = {step.mow: step for step in steps_of_pack(logbook, pack)}
    records = [mow for mow in mows(logbook, pack=pack.name) if mow.id in steps]
    dated = [(mow.id, mow.started.date()) for mow in records if mow.started]
    ends = features_of_mows(logbook, records)
    fitted = fit_of_pack(logbook, pack)
    if curves is None:
        curves = curves_of_pack(logbook, pack, fitted.capacity_ah)
    curve_of = {each.mow: each.curve for each in curves}
    history = capacity_history(
        [day for _, day in dated],
        [steps[number].capacity_ah for number, _ in dated],
        [steps[number].capacity_std_ah for number, _ in dated],
        [curve_of.get(number) for number, _ in dated],
        pack.series,
        pack.capacity_ah,
        [ends[number].ended_at_cut_off for number, _ in dated],
        label_std(pack),
    )
    return history.anchored(fitted.capacity_ah, fitted.capacity_std_ah / fitted.capacity_ah)
