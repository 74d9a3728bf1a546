"""The capacity of a pack as its mows show it, one by one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from estimator.answers.pack_chain import steps_of_pack
from estimator.answers.pack_curves import curves_of_pack
from estimator.descriptions import Pack
from estimator.logbook import Logbook, mows

if TYPE_CHECKING:
    from estimator.fitting.capacity_history import CapacityHistory


def capacity_seen(logbook: Logbook, pack: Pack) -> CapacityHistory:
    """What each dated mow by itself says of the pack's capacity, oldest first."""
    from estimator.fitting.capacity_history import capacity_history

    steps = {step.mow: step for step in steps_of_pack(logbook, pack)}
    dated = [
        (mow.id, mow.started.date())
        for mow in mows(logbook, pack=pack.name)
        if mow.started and mow.id in steps
    ]
    latest = steps[dated[-1][0]].capacity_ah if dated else pack.capacity_ah
    curves = {each.mow: each.curve for each in curves_of_pack(logbook, pack, latest)}
    return capacity_history(
        [day for _, day in dated],
        [steps[number].capacity_ah for number, _ in dated],
        [steps[number].capacity_std_ah for number, _ in dated],
        [curves.get(number) for number, _ in dated],
        pack.series,
        pack.capacity_ah,
    )
