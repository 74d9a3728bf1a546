"""Volts, minutes and amps that stand in where none were read: what the pack shows under such a load, how long
the charge used lasts at the amps that were read, and which amps use it in the minutes noted."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.importer.by_hand.amps import current_read
from estimator.importer.by_hand.spot_notes import times_of
from estimator.importer.log import HALF_90

VOLTMETER_STD = 0.005 / 3**0.5
"""Volts that stand in for a reading are known no better than a plain voltmeter reads them: within ± 0.5 %
(common practice), divided by √3 (JCGM 100:2008, 4.3.7)."""

if TYPE_CHECKING:
    from estimator.fitting.by_hand.weighing import Weighed
    from estimator.importer.log import Log


def with_usual_volts(log: Log, pack: Pack | None, start_charge: float | None = None) -> Log:
    """The log of hand readings, with the pack's usual volts and likely minutes and amps where none were read.

    Any other log stays as it is. Raises InputError where a pack is needed for this and none is known.
    """
    spot = log.spot
    volts_lack = not bool(log.readings["voltage_v"].notna().all())
    if spot is None:
        return log
    amps_lack = current_read(spot) is None
    if spot.minutes is not None and not volts_lack and not amps_lack:
        return log
    lack = "amps" if amps_lack else "minutes"
    if pack is None:
        raise InputError(
            "volts are missing, and no pack is known whose usual volts could stand in"
            if volts_lack
            else f"{lack} are missing, and no pack is known that could tell them",
            file=log.name,
            mend="note volts at rest before or after, or while cutting, or describe the pack and name it"
            if volts_lack
            else "note them, or describe the pack and name it",
        )
    from estimator.fitting.by_hand.weighing import weigh

    weighed = weigh(spot, pack, start_charge)
    log = log if spot.minutes is not None else _with_minutes(log, weighed)
    log = _with_amps(log, weighed) if amps_lack else log
    return _with_volts(log, pack, weighed) if volts_lack else log


def _with_minutes(log: Log, weighed: Weighed) -> Log:
    minutes = 60 * weighed.hours
    low, middle, high = np.quantile(minutes, [0.05, 0.5, 0.95])
    said = (
        f"Minutes were not noted: {middle:.0f} ({low:.0f} to {high:.0f} in 90 of 100 cases), by the amps and "
        "what was used, stand in."
    )
    if said in log.notes:
        return log
    return replace(
        log,
        readings=log.readings.assign(time_s=times_of(60 * float(middle))),
        notes=(*log.notes, said),
        longest_step_s=60 * float(middle),
    )


def _with_amps(log: Log, weighed: Weighed) -> Log:
    low, middle, high = np.quantile(weighed.mean_a, [0.05, 0.5, 0.95])
    said = (
        f"No amps were read: {middle:.3g} A ({low:.3g} to {high:.3g} in 90 of 100 cases), by the minutes and "
        "what was used, stand in."
    )
    if said in log.notes:
        return log
    amps = log.readings["current_a"] / log.readings["current_a"].max() * float(middle)
    return replace(log, readings=log.readings.assign(current_a=amps), notes=(*log.notes, said))


def _with_volts(log: Log, pack: Pack, weighed: Weighed) -> Log:
    from estimator.fitting.pack.fitted_pack import as_fitted

    volts = weighed.wh / weighed.ah
    middle = float(np.median(volts))
    std = max(float(volts.std()), VOLTMETER_STD * middle)  # all draws may end at the cut-off
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
