"""The charge at which a log starts: given, full, or worked out from its first voltage."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from estimator.amounts import check_amount
from estimator.arrays import Array
from estimator.fitting.load.phases import motor_on
from estimator.fitting.pack import prior
from estimator.fitting.pack.circuit import SLOW
from estimator.fitting.pack.fitted_pack import CURVE_AND_FAMILY, FittedPack, curve_slopes, open_circuit_table
from estimator.fitting.pack.log_grid import Trace
from estimator.fitting.pack.log_model import lag_parts, ohmic_part
from estimator.fitting.pack.open_circuit import GRID, GRID_STEP, at_charge

FULL_STD = 0.006
"""A pack straight from its charger is full to within 0.6 % of other times: the charger's end current, the
warmth and the time since then differ (common practice)."""

UNTOLD_FULL = 0.5
"""Share of logs that start with a full pack although nobody says so: people who charged it mostly say so, and
where the first volts plainly show a full pack, that is proposed to them (common practice)."""

SURELY_FULL = 4.0
"""Where the first volts make a full pack this many times as likely as any other start, it is taken as full:
four in five are. An LFP cell shows 3.35 V both when full and rested for days, and when two thirds full."""

READINGS_OF_ALL, READINGS_OF_ANYWHERE = 120.0, 30.0
"""Independent readings that a log of the whole charge counts as (common practice); fewer where the start is
unknown, since errors of the curve that are alike over some hundredths of charge look like another charge."""

_TOLD_STD, _READ_V = 0.02, 0.02
"""Uncertainty of a start charge given as a number, and of a first voltage [V per cell] read before the pack
had quite come to rest (common practice)."""
_ANYWHERE_STD = 0.35
"""Uncertainty of a charge of which nothing is known; an even spread from 0 to 1 has 0.29."""
_ONE_PEAK = 0.12
"""Likely charges that scatter by less than this are one peak, which one search finds."""

_DECIDED = 0.01  # at odds of a hundred to one the other start is not followed up
_MET, _END_STD, _SAG_DOUBT, _SHOWN_DOUBT = 1.01, 0.03, 0.3, 0.15
"""The cut-off counts as met up to 1 % above it, since readings miss the dip itself; the charge there is known
no better than .03, and the sag under load to three tenths of itself, but half of that where the volts showed
it as they followed the amps (common practice)."""
_SHOWN_S = 60.0
"""So long [s] before it stopped, a pack's resistance was that at the stop (common practice)."""
_WORN = 0.18
"""Where more than this share of the believed capacity would be left at the cut-off, the pack is probably worn
instead: without this evidence near empty, a fit would make up the resistance (common practice)."""
_BEGIN_AT = np.array([0.03, 0.15, 0.30, 0.50, 0.70, 0.85, 0.97])
"""Quantiles of the likely start charges from which searches begin, so that no peak is missed."""
_RESTED_STD = 0.012
"""How far below full [charge] the voltage of a full pack at rest may lie, since the surface charge fades
(common practice); twice FULL_STD, as nobody said that it is full."""


@dataclass(frozen=True)
class End:
    """Where a log met the cut-off under load: the reading, the model's own charge there, and its std."""

    reading: int
    charge: float
    std: float


@dataclass(frozen=True)
class Start:
    """The belief about the model's own charge at a log's first reading, before the log is fitted.

    charge, std : mean and standard uncertainty
    full : whether it counts as full
    share : how likely this start is among the tries
    begin : charge from which the search for the best fit begins; None for `charge`
    tries : the possibilities where the first readings leave several; else empty
    readings_of_all : number of independent readings that a log of the whole charge counts as
    end : where the log met the cut-off, if the start is unknown or the pack seems worn
    """

    charge: float
    std: float
    full: bool
    share: float = 1.0
    begin: float | None = None
    tries: tuple[Start, ...] = ()
    readings_of_all: float = READINGS_OF_ALL
    end: End | None = None


def start_of(fitted: FittedPack, trace: Trace, start_charge: float | None) -> Start:
    """Where the log starts.

    start_charge : usable charge as given; None compares the calmest of the first readings with what every
        charge would show under that current, allowing for the uncertainty of the pack's resistance; a full
        pack is likely beforehand
    """
    check_amount("start_charge", start_charge)
    if start_charge is not None:
        own = 1.0 - (1.0 - start_charge) * fitted.usable
        told_full, end = start_charge > 0.99, met_cut_off(fitted, trace)
        if end is not None:
            end = end if own - float(trace.drawn_ah[end.reading]) / fitted.own_ah > _WORN else None
        return Start(own, FULL_STD if told_full else _TOLD_STD, told_full, end=end)
    charges = GRID[(GRID >= 0.0) & (GRID <= 1.0)]
    likely = _likelihood(fitted, trace, charges)
    at_full = np.exp(-0.5 * ((1.0 - charges) / _RESTED_STD) ** 2)
    full = UNTOLD_FULL * float(likely @ at_full / at_full.sum())
    other = (1.0 - UNTOLD_FULL) * float(likely.mean())
    as_full = Start(1.0, FULL_STD, True, share=UNTOLD_FULL)
    share = likely / likely.sum()
    mean = float(share @ charges)
    spread = float(np.sqrt(share @ (charges - mean) ** 2))
    surely = full > SURELY_FULL * other
    if spread < _ONE_PEAK and surely:
        return as_full
    end = met_cut_off(fitted, trace)
    if spread < _ONE_PEAK:
        # the fit itself weighs the first readings, together with its doubts about the curve
        return Start(0.5, _ANYWHERE_STD, False, 1.0, mean, (), READINGS_OF_ANYWHERE, end)
    anywhere = [
        Start(0.5, _ANYWHERE_STD, False, 1.0 - UNTOLD_FULL, begin, (), READINGS_OF_ANYWHERE, end)
        for begin in np.interp(_BEGIN_AT, np.cumsum(share), charges).tolist()
    ]
    if full < _DECIDED * other:
        return replace(anywhere[0], tries=tuple(anywhere))
    as_full = replace(as_full, readings_of_all=READINGS_OF_ANYWHERE, end=end, full=surely)
    return replace(as_full, tries=(as_full, *anywhere))


def met_cut_off(fitted: FittedPack, trace: Trace) -> End | None:
    """The charge at which the motor stopped at the cut-off, from the curve near empty.

    A fit weighs the last few readings against hundreds on the flat of the curve, whose errors of shape would
    outvote them, so the cut-off's evidence of the charge counts separately. None where the cut-off was not
    met in the last readings under load: a peak that touched it while the motor ran on ended nothing.
    """
    loaded = np.flatnonzero(motor_on(trace.voltage_v * trace.current_a))[-3:]
    met = loaded[trace.voltage_v[loaded] <= fitted.cut_off_v * _MET]
    if not len(met):
        return None
    at = int(met[-1])
    warm_c, amps = trace.temperature_c[at], trace.current_a[at]
    factor = float(prior.arrhenius(warm_c, fitted.mean[prior.ACTIVATION_OHM]))
    ohmic, quick = (float(np.interp(0.05, GRID, table)) for table in prior.resistance_table(fitted.mean))
    part = ohmic_part(fitted.mean, fitted.series, np.array([ohmic]), np.array([warm_c]), np.array([amps]))
    slow_a = float(np.exp(fitted.mean[prior.SLOW])) * trace.rates_a[SLOW, at]
    shown_v = shown_ohm(trace, at) * amps
    believed_v = max(float(part.sag_v[0]) - shown_v, 0.0) + factor * quick * (trace.rates_a[0, at] + slow_a)
    sag = (shown_v + believed_v) / fitted.series
    curve = open_circuit_table(fitted, fitted.mean)
    surface = float(np.interp(trace.voltage_v[at] / fitted.series + sag, curve, GRID))
    rates = trace.rates_a[:, [at]] / fitted.own_ah
    lead_acid = fitted.chemistry == "lead_acid"
    lag = float(lag_parts(fitted.mean, lead_acid, np.array([surface]), np.array([warm_c]), rates).sum())
    slope = float(np.interp(surface, GRID, np.gradient(curve, GRID_STEP)))
    sag_std = np.hypot(_SHOWN_DOUBT * shown_v, _SAG_DOUBT * believed_v) / fitted.series
    doubt_v = np.hypot(float(_curve_std(fitted, np.array([surface]))[0]), sag_std)
    return End(at, surface + lag, float(np.sqrt(_END_STD**2 + (doubt_v / slope) ** 2 + (lag / 2) ** 2)))


def shown_ohm(trace: Trace, reading: int) -> float:
    """The resistance [ohm] at which volts followed the amps from reading to reading in the minute before one;
    0 where they tell none. A peak that such a pack does not carry is no sign that it is empty.

    Source: least squares of the steps, which leaves out what drifts.
    """
    near = slice(int(np.searchsorted(trace.time_s, trace.time_s[reading] - _SHOWN_S)), reading + 1)
    amps, volts = np.diff(trace.current_a[near]), np.diff(trace.voltage_v[near])
    return max(-float(amps @ volts) / max(float(amps @ amps), 1e-9), 0.0)


def _curve_std(fitted: FittedPack, charges: Array) -> Array:
    """(charges,) standard uncertainty [V] of one cell's open-circuit curve."""
    basis = at_charge(curve_slopes(fitted), charges)
    covariance = fitted.covariance[np.ix_(CURVE_AND_FAMILY, CURVE_AND_FAMILY)]
    return np.asarray(np.sqrt(np.einsum("ci,ij,cj->c", basis, covariance, basis)))


def _likelihood(fitted: FittedPack, trace: Trace, charges: Array) -> Array:
    """(charges,) likelihood of the calmest of the first readings at each charge."""
    calm = int(np.argmin(np.abs(trace.current_a[:5])))
    ohm = np.interp(charges, GRID, prior.resistance_table(fitted.mean)[0])
    warm_c, amps = trace.temperature_c[calm], trace.current_a[calm]
    part = ohmic_part(fitted.mean, fitted.series, ohm, np.full_like(ohm, warm_c), np.full_like(ohm, amps))
    middle = prior.OHMIC.start + 4
    std = float(np.sqrt(fitted.covariance[middle, middle] + 0.1**2))
    unit = np.linspace(-3.0, 3.0, 41)
    factors, odds = np.exp(std * unit), np.exp(-0.5 * unit**2)
    curve_std = _curve_std(fitted, charges)
    curve = np.interp(charges, GRID, open_circuit_table(fitted, fitted.mean))
    sag = part.sag_v / fitted.series
    shown = curve[:, None] - sag[:, None] * factors[None, :]
    spread = np.sqrt(_READ_V**2 + (trace.error.voltage_zero_v / fitted.series) ** 2 + curve_std**2)
    off = (trace.voltage_v[calm] / fitted.series - shown) / spread[:, None]
    # curves rise with the charge: volts too high for one charge are too high for every lower one
    off = np.where(off > 0, np.maximum.accumulate(off[::-1])[::-1], np.minimum.accumulate(off))
    return np.asarray(np.exp(-0.5 * off**2) @ (odds / odds.sum()) / spread * _READ_V + 1e-12)
