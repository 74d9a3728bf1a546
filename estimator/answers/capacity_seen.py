"""The capacity of a pack as its mows show it, one by one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from estimator.answers.pack_chain import steps_of_pack
from estimator.answers.pack_curves import DatedCurve, curves_of_pack
from estimator.descriptions import Pack
from estimator.logbook import Logbook, mows

if TYPE_CHECKING:
    from estimator.fitting.capacity_history import CapacityHistory


def capacity_seen(
    logbook: Logbook, pack: Pack, curves: Sequence[DatedCurve] | None = None
) -> CapacityHistory:
    """What each dated mow by itself says of the pack's capacity, oldest first.

    curves : the discharge curves of its mows, where they are read already
    """
    from estimator.fitting.capacity_history import capacity_history

    steps = {step.mow: step for step in steps_of_pack(logbook, pack)}
    dated = [
        (mow.id, mow.started.date())
        for mow in mows(logbook, pack=pack.name)
        if mow.started and mow.id in steps
    ]
    if curves is None:
        latest = list(steps.values())[-1].capacity_ah if steps else pack.capacity_ah
        curves = curves_of_pack(logbook, pack, latest)
    curve_of = {each.mow: each.curve for each in curves}
    return capacity_history(
        [day for _, day in dated],
        [steps[number].capacity_ah for number, _ in dated],
        [steps[number].capacity_std_ah for number, _ in dated],
        [curve_of.get(number) for number, _ in dated],
        pack.series,
        pack.capacity_ah,
    )
