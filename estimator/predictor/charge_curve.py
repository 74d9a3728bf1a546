"""The charge of a pack along a log, with its band."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from estimator.descriptions import Pack
from estimator.errors import check_kind
from estimator.fitting.by_hand.weighing import weigh
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import usable_slopes
from estimator.fitting.pack.log_model import START, ZERO_A, charge_along
from estimator.fitting.pack.log_share import unfitted_gain
from estimator.fitting.pack.pack_fit import fit_of_log
from estimator.importer.by_hand.amps import USUAL, Habit
from estimator.importer.log import HALF_90, Columns, Log

if TYPE_CHECKING:
    import pandas as pd


def charge_curve(
    log: Log, fitted: Pack, start_charge: float | None = None, *, temperature_c: float | None = None
) -> pd.DataFrame:
    """Usable charge along a log, with its band.

    Parameters
    ----------
    log : Log, n readings
        the mow
    fitted : Pack or FittedPack
        the pack that ran it
    start_charge : float, 0..1, default None
        usable charge at the first reading; None works it out from the voltage
    temperature_c : float, -40..70 [°C], default None
        pack temperature where the log has none; None takes 25 °C

    Returns
    -------
    DataFrame
        (n, 4): time_s [s], charge [0..1], low and high of the 90 % band

    Raises
    ------
    InputError
        for a log without volts, a charge outside 0..1, or a temperature out of range

    Source: Plett 2004, J. Power Sources 134, 252-292.

    >>> import pandas as pd
    >>> steady = pd.DataFrame({"time_s": [0.0, 600, 1200], "current_a": 9.0, "voltage_v": [52.6, 51, 50]})
    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> curve = charge_curve(Log(steady, longest_step_s=900.0), pack, start_charge=1.0)
    >>> round(float(curve.charge.iloc[-1]), 1)  # 9 A for a third of an hour took 3 of 10 Ah
    0.7
    >>> list(curve)
    ['time_s', 'charge', 'low', 'high']
    """
    import pandas as pd

    return pd.DataFrame(charge_columns(log, fitted, start_charge, temperature_c))


def charge_columns(
    log: Log, fitted: Pack, start_charge: float | None, temperature_c: float | None, habit: Habit = USUAL
) -> Columns:
    """The charge curve as plain columns, since pandas is slow to load.

    habit : of the person who took the hand readings, where the log stands in for such readings
    """
    check_kind("log", log, Log)
    if log.spot is not None:
        now = weigh(log.spot, fitted, start_charge, temperature_c, habit)
        time_s = log.arrays["time_s"]
        share = np.interp(time_s, time_s[[2, -3]], (0.0, 1.0))  # `times_of` lays out rest, mowing, rest
        draws = now.before - np.outer(share, now.before - now.after)
        low, charge, high = np.quantile(draws, [0.05, 0.5, 0.95], axis=1).clip(0.0, 1.0)
        return Columns(time_s=time_s, charge=charge, low=low, high=high)
    known = fit_of_log(log, fitted, start_charge, temperature_c)
    found, after, trace = known.found, known.after, known.found.trace
    own = charge_along(found.mean, after, trace.drawn_ah, trace.drawn_h)
    usable_ah = after.own_ah_at(found.mean) * after.usable
    true_drawn = trace.drawn_ah - found.mean[ZERO_A] * trace.drawn_h
    share = true_drawn / usable_ah
    slopes = np.zeros((len(own), len(found.mean)))
    slopes[:, : prior.N_PARAMETERS] = np.outer(share, usable_slopes(after, after.mean))
    slopes[:, START], slopes[:, ZERO_A] = 1.0 / after.usable, trace.drawn_h / usable_ah
    std = np.sqrt(np.einsum("ni,ij,nj->n", slopes, found.covariance, slopes))
    charge = 1.0 - (1.0 - own) / after.usable
    std = np.hypot(std, unfitted_gain(trace) * np.abs(share))
    low, charge, high = np.clip((charge - HALF_90 * std, charge, charge + HALF_90 * std), 0.0, 1.0)
    return Columns(time_s=trace.time_s, charge=charge, low=low, high=high)
