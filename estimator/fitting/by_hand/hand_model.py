"""What a person with a clamp, a voltmeter, a watch and a charger would read in a mow, for many draws at once.

A draw holds the pack's parameters, the charge at the start, and one standard normal for each thing that
nobody knows: the mean current, the minutes, the meter's own error, the moment and the current at which volts
were read, how long the pack had rested, how well the charger works.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from estimator.arrays import Array, Flags
from estimator.fitting.by_hand.hand_circuit import rates_after, shown
from estimator.fitting.pack import prior
from estimator.fitting.pack.circuit import QUICK_S
from estimator.fitting.pack.fitted_pack import FittedPack
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws, draws_of
from estimator.importer.by_hand.amps import (
    Habit,
    MeanCurrent,
    current_by_charger,
    expected_current,
    mean_current,
)
from estimator.importer.by_hand.spot_notes import UNNOTED_MINUTES
from estimator.importer.by_hand.spot_order import has_amps
from estimator.importer.log import SpotNotes

METER_SHARE, LAST_DIGIT_V = 0.0015, 0.05
"""A voltmeter's error that all its readings share, as a fraction, and that of a single reading [V] (common
practice: 0.5 % of the reading at worst)."""
RECOVERY_V_PER_CELL = 0.003
"""What the model of the recovery leaves unexplained [V per cell] (common practice)."""
GAUGE_STD = 0.12
"""A gauge of five bars: half a step of 0.25, rectangular, 0.07; and most gauges follow the volts evenly
between empty and full, which a cell does not: some 0.1 off when half full (common practice)."""
SHOWS_FULL_FROM, FULL_AGAIN = 0.96, 0.10
"""A full pack at rest shows the voltage of this charge or a higher one, as its surface charge fades; once the
second figure is drawn, that is over (common practice)."""
MINUTES_STD, ROUND_STD = 0.5, 1.3
"""Error [min] of a watch started and stopped by hand, and of a multiple of five, to which most people round
(common practice)."""
UNNOTED_SHARE, UNNOTED_LOG_STD = 0.4, 0.9
"""If no minutes were noted, a mow uses two fifths of a charge, within a factor of four (common practice)."""
AMPS_UNREAD_STD = 0.5
"""Where no amps were read, the mean current is within a factor of two of what the charger shows (common
practice)."""
BREAKS, LONGEST_BREAK = 0.1, 0.3
"""Share of mows whose minutes include a break in which nothing ran, and the largest part that a break takes
(common practice)."""
RESTED_MINUTES, RESTED_LOG_STD = 6.0, 0.8
"""Minutes until volts "some minutes later" are read, if not noted, and their spread (common practice)."""
AMPS_STD = 0.15
"""Spread of the current, relative to the usual one, when volts under load are read (common practice)."""
SQUARE_OVER_MEAN = 1.12
"""Mean square of a mowing current over its squared mean: 0.25² from cutting, and the idling (`amps`)."""
ENERGY_METER_STD = 0.02
"""Relative error of a plug-in or in-line meter of charge and energy (common practice: 1 to 2 %)."""
CHARGE_BACK = {False: (0.995, 0.004), True: (0.87, 0.04)}
"""Charge taken out over charge put in, for lithium and for lead-acid, which gasses at the end of a charge
(common practice: 0.85 to 0.9 in the upper half of the charge)."""
VOLTS_RISE = {False: (1.02, 0.012), True: (1.10, 0.03)}
"""Volts while charging over the open-circuit volts of the discharge, for lithium and lead-acid: a charge of
some four hours; 14.4 V over 12.5 V of a lead-acid block, less in its first hours (common practice)."""
CHARGER = {False: (0.87, 0.06), True: (0.82, 0.08)}
"""Share of the socket's energy that a charger passes on, and the standard deviation of its logarithm, for
lithium and for lead-acid, whose chargers are older and often have a transformer (common practice: 0.80 to
0.93; 0.70 to 0.90)."""
MOMENTS = np.array([0.1, 0.3, 0.5, 0.7, 0.9])
"""Middles of the fifths of a mow: its mean voltage is the mean over these moments."""

UNKNOWN = ("mean", "minutes", "meter", "moment", "amps", "rested", "shows", "charge", "rise", "charger")
"""The standard normals of a draw, in the order of their columns after the parameters and the start."""
N_COLUMNS = prior.N_PARAMETERS + 1 + len(UNKNOWN)


@dataclass(frozen=True)
class Told:
    """What all draws share: notes, pack, mean current, temperature [°C], seed of the pack's noise."""

    spot: SpotNotes
    fitted: FittedPack
    mean: MeanCurrent
    temperature_c: float
    seed: int


@dataclass(frozen=True, eq=False)
class Run:
    """The mow of every draw (n,), and what would have been read: expected values and standard deviations.

    pack : as it is at the end; spare_v : volts per cell above the cut-off at that moment, under the mean load
    """

    mean_a: Array
    hours: Array
    ah: Array
    wh: Array
    before: Array
    after: Array
    pack: PackDraws
    spare_v: Array
    expected: Mapping[str, Array]
    std: Mapping[str, float]


def run_by_hand(told: Told, draws: Array, full: Flags) -> Run:
    """The mow of each draw (n, N_COLUMNS).

    full : (n,) which draws began with a full pack, whose volts at rest say little
    """
    from scipy.special import ndtr  # slow to load

    n, spot = len(draws), told.spot
    parameters, start = draws[:, : prior.N_PARAMETERS], draws[:, prior.N_PARAMETERS]
    unit = dict(zip(UNKNOWN, draws[:, prior.N_PARAMETERS + 1 :].T, strict=True))
    if spot.minutes is None:
        usual_h = UNNOTED_SHARE * told.fitted.capacity_ah / told.mean.amps
        hours = usual_h * np.exp(UNNOTED_LOG_STD * unit["minutes"])
    else:
        watch_std = ROUND_STD if spot.minutes % 5 == 0 else MINUTES_STD
        hours = np.maximum(spot.minutes + watch_std * unit["minutes"], 0.2 * spot.minutes + 1e-3) / 60
        hours *= 1 - LONGEST_BREAK * np.maximum(1 - ndtr(unit["minutes"]) / BREAKS, 0.0)
    mean_a = told.mean.amps * np.exp(told.mean.log_std * unit["mean"])
    warm_c = np.full(n, told.temperature_c)
    rng = np.random.default_rng(told.seed)
    start = np.clip(start, 0.0, 1.02)
    pack = draws_of(told.fitted, parameters, start, np.zeros((5, n)), warm_c, np.zeros(n), rng)
    ah = mean_a * hours
    after = start - ah / pack.capacity_ah
    unseen = np.where(full, (1.0 - SHOWS_FULL_FROM) * ndtr(unit["shows"]), 0.0)

    def at(moment: Array | float) -> Array:
        used = (start - after) * moment
        return np.asarray(start - used - unseen * np.maximum(1.0 - used / FULL_AGAIN, 0.0))

    open_v, sag_v = np.zeros(n), np.zeros(n)
    for moment in MOMENTS:
        here = shown(pack, at(moment), rates_after(mean_a, pack, 3600 * hours * moment), mean_a)
        open_v += here.open_v / len(MOMENTS)
        sag_v += here.sag_v / len(MOMENTS)
    open_v = np.maximum(open_v, 1.0)
    wh = ah * np.maximum(open_v - SQUARE_OVER_MEAN * sag_v, told.fitted.cut_off_v)
    read = _expected(told, pack, unit, at, mean_a, hours)
    read |= {"gauge_before": start, "gauge_after": after}
    lead = pack.lead_acid
    share, rise = (mean + std * unit[of] for of, (mean, std) in
                   (("charge", CHARGE_BACK[lead]), ("rise", VOLTS_RISE[lead])))  # fmt: skip
    back_ah = np.maximum((1.0 - after) * pack.capacity_ah, 1e-3) / np.clip(share, 0.5, 1.0)
    read["put_back_ah"], read["put_back_wh"] = np.log(back_ah), np.log(back_ah * open_v * rise)
    charger, charger_log_std = CHARGER[lead]
    read["socket_wh"] = read["put_back_wh"] - np.log(charger) - charger_log_std * unit["charger"]
    rest_std = float(np.hypot(LAST_DIGIT_V, RECOVERY_V_PER_CELL * told.fitted.series))
    std = {"rest_before_v": rest_std, "rest_after_v": rest_std, "load_v": 2 * LAST_DIGIT_V}
    std |= dict.fromkeys(("gauge_before", "gauge_after"), GAUGE_STD)
    std |= dict.fromkeys(("put_back_ah", "put_back_wh", "socket_wh"), ENERGY_METER_STD)
    rates = rates_after(mean_a, pack, 3600 * hours)
    place = np.searchsorted(GRID, after)  # no start is over 1.02, and the grid goes beyond
    quick_v = pack.tables[np.arange(n), place, 2] * mean_a * (1 - np.exp(-3600 * hours / QUICK_S))
    now = replace(pack, charge=after, rates_c=rates, quick_v=quick_v)
    spare_v = (shown(pack, after, rates, mean_a).volts - told.fitted.cut_off_v) / told.fitted.series
    given = [name for name in read if getattr(spot, name) is not None]
    return Run(
        mean_a, hours, ah, wh, start, after, now, spare_v,
        {name: read[name] for name in given}, {name: std[name] for name in given},
    )  # fmt: skip


def _expected(
    told: Told,
    pack: PackDraws,
    unit: Mapping[str, Array],
    at: Callable[[Array | float], Array],
    mean_a: Array,
    hours: Array,
) -> dict[str, Array]:
    """The volts (n,) [V] that each draw would show at rest and under load."""
    from scipy.special import ndtr

    spot, meter = told.spot, 1.0 + METER_SHARE * unit["meter"]
    moment, still = ndtr(unit["moment"]), np.zeros_like(pack.rates_c)
    amps = (mean_a if spot.typical_a is None else spot.typical_a) * np.exp(AMPS_STD * unit["amps"])
    rested = RESTED_MINUTES * np.exp(RESTED_LOG_STD * unit["rested"])
    rest_s = 60 * (rested if spot.rested_minutes is None else spot.rested_minutes)
    under = shown(pack, at(moment), rates_after(mean_a, pack, 3600 * hours * moment), amps)
    rested_rates = rates_after(mean_a, pack, 3600 * hours, rest_s)
    return {
        "rest_before_v": meter * shown(pack, at(0.0), still).volts,
        "rest_after_v": meter * shown(pack, at(1.0), rested_rates).volts,
        "load_v": meter * under.volts,
    }


def first_current(spot: SpotNotes, fitted: FittedPack, habit: Habit) -> MeanCurrent:
    """What amps say about the mean current; without any, roughly what a charger or a usual mow suggests.

    Only roughly: the charge put back and volts at rest are weighed afterwards and would otherwise count
    twice.
    """
    if has_amps(spot):
        return mean_current(spot, habit)
    if found := expected_current(spot, habit):
        return found
    if found := current_by_charger(spot):
        return replace(found, std=AMPS_UNREAD_STD * found.amps)
    amps = UNNOTED_SHARE * fitted.capacity_ah * 60 / (spot.minutes or UNNOTED_MINUTES)
    return MeanCurrent(amps, UNNOTED_LOG_STD * amps)


def read_value(spot: SpotNotes, name: str) -> float:
    """A reading on the scale on which it is compared: the logarithm for Ah and Wh that a charger put back."""
    value = float(getattr(spot, name))
    return float(np.log(max(value, 1e-3))) if name.endswith(("_ah", "_wh")) else value
