"""What hand readings teach about a pack: resistance from volts under load; capacity from volts at rest and
charge that was put back or counted by a meter's AVG; and what a motor that ran to the end of a mow rules out.

Two or three figures stand for the pack: the logarithms of its capacity, of its resistance at half charge and,
for lead-acid, of Peukert's exponent less one. Their means and covariance before and after the readings come
from the weighed draws, and are passed on to all parameters by Gaussian conditioning (Bishop 2006, Pattern
Recognition and Machine Learning, 2.3.1).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from estimator.arrays import Array
from estimator.descriptions import Pack
from estimator.fitting.by_hand.habit import ALIKE
from estimator.fitting.by_hand.volts_doubts import volts_doubts
from estimator.fitting.by_hand.weighing import weigh
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted, left_at_pace
from estimator.fitting.pack.log_facts import HIGHEST_STOP, with_capacity_known, without_stop
from estimator.fitting.pack.pack_fit import drifted
from estimator.importer.by_hand.amps import mean_current
from estimator.importer.by_hand.spot_order import has_amps, tells_current
from estimator.importer.log import SpotNotes

HABIT_STD = np.array([0.05, 0.15, 0.15])
"""The best that any number of readings can say about these logarithms, since a person and their meters err
alike in all mows (common practice)."""
GAVE_MORE = 1.2
"""A mow that drew this many times what the pack gave before it stopped the motor shows that it does not stop
there (common practice)."""
RULED_OUT = 0.05
"""A mow that shows only that the motor ran on must rule out this share of draws to teach the pack."""


def learn_by_hand(
    pack: Pack,
    spot: SpotNotes,
    start_charge: float | None = None,
    temperature_c: float | None = None,
    ran_out: bool = False,
) -> FittedPack:
    """The pack after one more mow noted by hand; unchanged where the readings say nothing about it.

    temperature_c : of the pack [°C], None for 25 °C; ran_out : whether the battery stopped the motor

    Here 54 V at rest and 52.5 V under 5 A are more sag than was believed of such a pack:

    >>> crate = Pack(chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39)
    >>> notes = SpotNotes(typical_a=5, load_v=52.5, minutes=5, rest_before_v=54.0, rest_after_v=53.5)
    >>> learn_by_hand(crate, notes).resistance_ohm > 1.2 * as_fitted(crate).resistance_ohm
    True
    """
    before = as_fitted(pack)
    counted = spot.put_back_ah, spot.put_back_wh, spot.socket_wh, spot.mean_a
    rests = spot.rest_before_v is not None or spot.rest_after_v is not None or start_charge is not None
    if not spot.minutes or spot.minutes <= 0 or volts_doubts(spot, before):
        return before
    if ran_out and start_charge and before.chemistry != "lead_acid" and tells_current(spot):
        fitted, read = drifted(before), spot
        if has_amps(spot) or any(counted):  # volts at rest say how much of a capacity that is not known yet
            read = replace(spot, rest_before_v=None, rest_after_v=None)
        return _run_out(fitted, weigh(read, fitted, start_charge, temperature_c).ah / start_charge)
    if not has_amps(spot):
        return before
    fitted = drifted(before)
    if fitted.stops_at and mean_current(spot).amps * spot.minutes / 60 > GAVE_MORE * fitted.usable_ah:
        fitted = without_stop(fitted)
    lead_acid = fitted.chemistry == "lead_acid"
    places = [prior.CAPACITY, prior.OHMIC.start + 4, prior.PEUKERT][: 2 + lead_acid]
    habit_std = HABIT_STD[: len(places)]
    if (np.diag(fitted.covariance)[places] <= habit_std**2).all():
        return before
    counts = rests and (spot.load_v is not None or any(counted))
    if not counts:  # rest volts beside a guessed current would show the current, not the pack
        spot = replace(spot, rest_before_v=None, rest_after_v=None, load_v=None)
    found = weigh(spot, fitted, start_charge, temperature_c)
    if not counts and found.ruled_out < RULED_OUT:
        return before
    figures = _figures(found.drawn_before, lead_acid)
    off = figures - figures.mean(axis=0)
    was = off.T @ off / len(off)
    apart = found.drawn_before - found.drawn_before.mean(axis=0)
    slopes = np.linalg.solve(apart.T @ apart + 1e-9 * np.eye(apart.shape[1]), apart.T @ off).T
    after = _figures(found.parameters, lead_acid) - figures.mean(axis=0)
    mean, now_alone = after.mean(axis=0), np.cov(after.T)
    now = now_alone.copy()
    reach = fitted.covariance @ slopes.T
    across = slopes @ reach
    new = np.diag(slopes @ as_fitted(fitted.rated).covariance @ slopes.T)
    held = _held(np.diag(was), np.diag(now), 1.0 / np.diag(across) - 1.0 / new, habit_std)
    wider = np.sqrt(held / np.diag(now))
    now *= np.outer(wider, wider)
    # a figure that is narrowed less is also moved less
    mean *= np.clip((np.diag(was) - held) / np.maximum(np.diag(was) - np.diag(now_alone), 1e-12), 0.0, 1.0)
    gain = np.linalg.solve(across, reach.T).T
    root = np.linalg.cholesky(was)
    less = np.linalg.solve(root, np.linalg.solve(root, was - now).T)  # share of the variance taken away
    values, vectors = np.linalg.eigh((less + less.T) / 2)
    across_root = np.linalg.cholesky(across) @ vectors
    gone = across_root @ np.diag(np.clip(values, 0.0, 0.999)) @ across_root.T
    covariance = fitted.covariance - gain @ gone @ gain.T
    return replace(fitted, mean=fitted.mean + gain @ mean, covariance=covariance)


def _run_out(fitted: FittedPack, full_ah: Array) -> FittedPack:
    """The pack that gives so much (n,) [Ah] from full before it stops the motor, whatever its label says."""
    known = with_capacity_known(fitted.covariance, float(full_ah.std() / full_ah.mean()))
    given, out = float(full_ah.mean()) / fitted.own_ah, fitted
    for _ in range(2):  # what the lag leaves behind comes on top of what the surface has left
        behind = out.usable * left_at_pace(out, out.pace) if out.stops_at else 0.0
        stops_at = float(np.clip(1.0 - given - behind, 0.0, HIGHEST_STOP))
        usable = min(1.0 - stops_at, fitted.usable)
        out = replace(fitted, covariance=known, stops_at=stops_at, usable=usable)
    return out


def _held(was: Array, now: Array, known: Array, habit_std: Array) -> Array:
    """Variances (k,) that one more mow may leave of `was`, where by itself it would leave `now`.

    known : what was learnt before [1/variance]. Curve, recovery, meter and charger err alike in all mows: on
        the share `ALIKE` of a mow's variance, two mows say hardly more than one.
    """
    alone = np.maximum(1.0 / now - 1.0 / was, 1e-12)
    counts = np.clip(1.0 - ALIKE * np.maximum(known, 0.0) / alone, 0.0, 1.0)
    return np.asarray(np.maximum(1.0 / (1.0 / was + counts * alone), np.minimum(was, habit_std**2)))


def _figures(parameters: Array, lead_acid: bool) -> Array:
    """(n, k) logarithms of the capacity, of the resistance at half charge and 25 °C, and of Peukert's law."""
    half = np.array([np.interp(0.5, prior.RESISTANCE_AT, row) for row in np.eye(prior.N_AT)])
    ohmic, quick = (np.exp(parameters[:, part] @ half) for part in (prior.OHMIC, prior.QUICK))
    figures = [parameters[:, prior.CAPACITY], np.log(ohmic + quick), parameters[:, prior.PEUKERT]]
    return np.stack(figures[: 2 + lead_acid], axis=1)
