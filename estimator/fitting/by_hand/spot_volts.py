"""Volts that stand in where hand readings hold none: what the pack shows under such a load."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.importer.log import HALF_90

if TYPE_CHECKING:
    from estimator.importer.log import Log


def with_usual_volts(log: Log, pack: Pack | None, start_charge: float | None = None) -> Log:
    """The log, the pack's usual volts standing in where its hand readings hold none; any other as it is.

    Raises InputError where no pack is known whose volts could stand in.
    """
    spot = log.spot
    if spot is None or bool(log.readings["voltage_v"].notna().all()):
        return log
    if pack is None:
        raise InputError(
            "volts are missing, and no pack is known whose usual volts could stand in",
            file=log.name,
            mend="note volts at rest before or after, or while cutting, or describe the pack and name it",
        )
    from estimator.fitting.by_hand.weighing import weigh
    from estimator.fitting.pack.fitted_pack import as_fitted

    weighed = weigh(spot, pack, start_charge)
    volts = weighed.wh / weighed.ah
    middle, std = float(np.median(volts)), float(volts.std())
    sag_v = float(np.median(weighed.mean_a)) * (as_fitted(pack).resistance_ohm or 0.0)
    cutting = log.readings["current_a"].to_numpy(float) > 0
    said = (
        f"No volts were read: {middle:.1f} V within ± {HALF_90 * std:.1f} V (90 % band), usual "
        f"for {pack.name} under this load, stand in."
    )
    return replace(
        log,
        readings=log.readings.assign(voltage_v=np.where(cutting, middle, middle + sag_v)),
        notes=(*log.notes, said),
        error=replace(log.error, voltage_gain=std / middle),
    )
