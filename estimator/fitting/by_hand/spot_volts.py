"""Volts that stand in where hand readings hold none: what a pack like this usually shows under load."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.open_circuit import open_circuit_v
from estimator.fitting.pack.start_charge import STARTS_FULL
from estimator.importer.by_hand.spot_notes import mean_current
from estimator.importer.log import HALF_90, SpotNotes

if TYPE_CHECKING:
    from estimator.importer.log import Log

SAG_IN_ALL, SAG_STD = 1.7, 0.35
"""Sag through a mow over resistance times mean amps: energy is drawn at more than the mean amps, and slow
diffusion adds to what answers at once; and its standard uncertainty as a fraction (common practice)."""
CURVE_STD = 0.01
"""Cells that differ from the table of their chemistry, as a fraction of the volts (common practice)."""


ALONG = np.linspace(0.0, 1.0, 21)


@dataclass(frozen=True)
class UsualVolts:
    """Mean voltage [V] under load over a mow, its standard uncertainty [V], and the sag in it [V]."""

    volts: float
    std: float
    sag_v: float


def usual_volts(spot: SpotNotes, pack: Pack, start_charge: float | None = None) -> UsualVolts:
    """The pack's usual voltage under load through a mow of which only amps and minutes were noted.

    The mean of the open-circuit curve over the charge used, less the sag. Where neither
    `start_charge` (0..1) nor the gauge says where the mow began, nine mows in ten began full and the others
    anywhere (`start_charge.STARTS_FULL`); the standard uncertainty holds that spread too.

    >>> crate = Pack(chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39)
    >>> usual = usual_volts(SpotNotes(typical_a=5, minutes=24), crate, start_charge=1.0)
    >>> round(13 * float(open_circuit_v("nmc", 0.9)), 1), round(usual.volts + usual.sag_v, 1)
    (53.3, 53.4)
    """
    fitted = as_fitted(pack)
    mean = mean_current(spot)
    share = min(mean.amps * (spot.minutes or 0.0) / 60 / fitted.capacity_ah, 1.0)
    begin = start_charge if start_charge is not None else spot.gauge_before
    if begin is None:
        begins = np.linspace(share, 1.0, 40)
        odds = np.full(40, (1 - STARTS_FULL) / 39)
        odds[-1] = STARTS_FULL
    else:
        begins, odds = np.array([begin]), np.ones(1)
    left = np.maximum(begins[:, None] - share * ALONG, 0.0)
    charge = 1.0 - (1.0 - left) * fitted.usable
    rests = pack.series * open_circuit_v(pack.chemistry, charge).mean(axis=1)
    rest_v = float(odds @ rests)
    spread = float(np.sqrt(odds @ (rests - rest_v) ** 2))
    sag_v = min(SAG_IN_ALL * mean.amps * (fitted.resistance_ohm or 0.0), 0.3 * rest_v)
    volts = max(rest_v - sag_v, pack.cut_off_v)
    return UsualVolts(volts, float(np.hypot(np.hypot(spread, SAG_STD * sag_v), CURVE_STD * volts)), sag_v)


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
    usual = usual_volts(spot, pack, start_charge)
    cutting = log.readings["current_a"].to_numpy(float) > 0
    volts = np.where(cutting, usual.volts, usual.volts + usual.sag_v)
    said = (
        f"No volts were read: {usual.volts:.1f} V within ± {HALF_90 * usual.std:.1f} V (90 % band), usual "
        f"for {pack.name} under this load, stand in."
    )
    return replace(
        log,
        readings=log.readings.assign(voltage_v=volts),
        notes=(*log.notes, said),
        error=replace(log.error, voltage_gain=usual.std / usual.volts),
    )
