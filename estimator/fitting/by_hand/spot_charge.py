"""Charge used by a mow of which only a few readings were noted by hand.

Up to three estimates, each with its own uncertainty, are combined by inverse variance (JCGM 100:2008, 5.1,
for independent inputs): amps times minutes (three-point estimate, Malcolm et al. 1959), rest voltages
through
the open-circuit curve, and the gauge. Where they disagree by more than they say, the band is widened by the
Birge ratio
(Birge, Physical Review 40, 1932).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.open_circuit import GRID, grid_open_circuit_v
from estimator.importer.by_hand.spot_notes import mean_current
from estimator.importer.log import SpotNotes
from estimator.results import shown

REST_STD_V_PER_CELL = 0.008
"""Recovery that is not over after minutes of rest, and cells that differ from the table [V per cell];
common practice."""
METER_STD_V = 0.1
"""A panel voltmeter of ± 0.2 V, rectangular [V]; common practice."""
GAUGE_STD = 0.07
"""A gauge of five bars: half a step of 0.25, rectangular, as a fraction of the charge; common practice."""
RISES = 2.0
"""A rest voltage or gauge that rose by more than so many standard uncertainties was misread: no charge comes
in while mowing (common practice)."""
MINUTES_STD = 0.5
"""Minutes by a watch: started and stopped by hand [min]; common practice."""


@dataclass(frozen=True)
class ChargeEstimate:
    """One way to the charge used: its name, the charge [Ah], its standard uncertainty [Ah] and weight (they
    add to 1)."""

    way: str
    ah: float
    ah_std: float
    weight: float


@shown
@dataclass(frozen=True)
class SpotCharge:
    """Charge used [Ah], its standard uncertainty [Ah], and the estimates that went in.

    charge_before, charge_after : charge (0..1) by the rest voltage or the gauge, None where neither was read
    disagreement : Birge ratio; above 1 the estimates differ by more than their uncertainties allow
    left_out : ways that would have the charge rise while mowing, where another way is left
    """

    ah: float
    ah_std: float
    estimates: tuple[ChargeEstimate, ...]
    charge_before: float | None
    charge_after: float | None
    disagreement: float
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class RestCharge:
    """Charge (0..1) by a rest voltage, and its standard uncertainty."""

    charge: float
    std: float


def charge_at_rest(pack: Pack, rest_v: float) -> RestCharge:
    """Charge by the voltage [V] of a pack at rest; wide where the open-circuit curve is flat.

    Every charge of the curve is weighted by how well its voltage agrees with the reading.

    >>> nmc = charge_at_rest(Pack(chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39), 13 * 3.75)
    >>> lfp = charge_at_rest(Pack(chemistry="lfp", series=16, capacity_ah=10, cut_off_v=40), 16 * 3.29)
    >>> abs(nmc.charge - 0.5) < 0.02, lfp.std > 2 * nmc.std
    (True, True)
    """
    inside = (GRID >= 0) & (GRID <= 1)
    charge, volts = GRID[inside], grid_open_circuit_v(pack.chemistry)[inside]
    std = float(np.hypot(REST_STD_V_PER_CELL, METER_STD_V / pack.series))
    off = (rest_v / pack.series - volts) / std
    weight = np.exp(-0.5 * (off**2 - float(np.min(off**2))))
    weight /= weight.sum()
    mean = float(weight @ charge)
    return RestCharge(mean, float(np.sqrt(weight @ (charge - mean) ** 2)))


def spot_charge(spot: SpotNotes, pack: Pack) -> SpotCharge:
    """Charge used by a mow that is known from spot notes.

    Parameters
    ----------
    spot : SpotNotes
        amps [A] with minutes [min], rest voltages [V] or a gauge [0..1], whatever was read
    pack : Pack or FittedPack
        its capacity and the uncertainty of that capacity turn fractions into Ah

    Returns
    -------
    SpotCharge
        charge [Ah] with its standard uncertainty, and what each way of working it out says

    Raises
    ------
    InputError
        where the notes hold neither amps with minutes, nor two rest voltages, nor two gauge readings

    Source: three-point estimate, Malcolm et al. 1959, doi 10.1287/opre.7.5.646.

    >>> notes = SpotNotes(idle_a=4, typical_a=10, highest_a=28, minutes=30,
    ...                   rest_before_v=54.2, rest_after_v=48.9)
    >>> found = spot_charge(notes, Pack(chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39))
    >>> [e.way for e in found.estimates], found.ah_std < min(e.ah_std for e in found.estimates)
    (['amps and minutes', 'rest voltages'], True)
    """
    fitted = as_fitted(pack)
    capacity, capacity_std = fitted.capacity_ah, fitted.capacity_std_ah
    found: list[tuple[str, float, float]] = []
    if spot.minutes is not None and _has_amps(spot):
        mean = mean_current(spot)
        hours = spot.minutes / 60
        found.append(
            (
                "amps and minutes",
                mean.amps * hours,
                float(np.hypot(mean.std * hours, mean.amps * MINUTES_STD / 60)),
            )
        )
    before = charge_at_rest(pack, spot.rest_before_v) if spot.rest_before_v is not None else None
    after = charge_at_rest(pack, spot.rest_after_v) if spot.rest_after_v is not None else None
    if before is not None and after is not None:
        drop = before.charge - after.charge
        std = float(np.hypot(before.std, after.std))
        found.append(("rest voltages", drop * capacity, float(np.hypot(std * capacity, drop * capacity_std))))
    if spot.gauge_before is not None and spot.gauge_after is not None:
        drop = spot.gauge_before - spot.gauge_after
        std = GAUGE_STD * np.sqrt(2)
        found.append(("gauge", drop * capacity, float(np.hypot(std * capacity, drop * capacity_std))))
    if not found:
        raise InputError(
            "spot notes do not say how much charge was used",
            mend="note amps and minutes, or volts at rest before and after",
        )
    rising = [f for f in found if f[1] < -RISES * f[2]]
    if len(rising) < len(found):
        found = [f for f in found if f not in rising]
    else:
        rising = []
    values, stds = np.array([f[1] for f in found]), np.array([f[2] for f in found])
    weights = stds**-2 / np.sum(stds**-2)
    ah = float(weights @ values)
    birge = float(np.sqrt(np.sum(((values - ah) / stds) ** 2) / (len(found) - 1))) if len(found) > 1 else 1.0
    std = float(np.sum(stds**-2) ** -0.5) * max(1.0, birge)
    return SpotCharge(
        ah=ah,
        ah_std=std,
        estimates=tuple(
            ChargeEstimate(f[0], f[1], f[2], float(w)) for f, w in zip(found, weights, strict=True)
        ),
        charge_before=before.charge if before is not None else spot.gauge_before,
        charge_after=after.charge if after is not None else spot.gauge_after,
        disagreement=birge,
        left_out=tuple(way for way, _, _ in rising),
    )


def _has_amps(spot: SpotNotes) -> bool:
    return (
        spot.mean_a is not None
        or spot.typical_a is not None
        or (spot.idle_a is not None and spot.highest_a is not None)
    )
