"""What pack, lawn, machine and calendar say against a log: wrong pack, wrong unit, two mows in one.

The limits are common practice and wide: what lies beyond them cannot be true, what lies within may be wrong.
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from estimator.descriptions import FULL_CELL_V, Lawn, Machine, Pack
from estimator.errors import InputError
from estimator.mends import Give, Mend

if TYPE_CHECKING:
    from estimator.importer.log import Log

MOST_OF_RATED = 1.35  # common practice: a new pack may beat its label by a few per cent, a clamp may add ten
MOST_COUNTED = 2.5
"""How many times its label a pack may give in a log that is fitted: a load that pulses in step with the
sampling can double the count, which the volts then show. A wrong unit is out by hundreds."""
_MOST_TIMES_GUESS = 2.0  # common practice: twice what was guessed is no contradiction yet
_MOST_TIMES_LIMIT, _MOST_PER_HOUR = 4.0, 30.0
"""Current as a multiple of the pack's limit, and per capacity [1/h]: no electronics pass more than the first,
and hardly any cell gives more than the second (common practice)."""
_LONG_PAUSE_S = 3600.0  # nobody leaves a machine standing this long within one mow
_FASTEST_M2_MIN, _SLOWEST_M2_MIN, _FASTEST_M_S = 250.0, 0.3, 4.0
"""Paces beyond any one person's mower: a deck of 1.4 m at 3 m/s covers 250 m² a minute (common practice)."""
_MOST_W_PER_M, _LEAST_W_PER_M, _WIDEST_M = 10_000.0, 20.0, 2.0
"""Power per metre of width: the blades of a tractor take some 10 kW/m, a small idling reel 50 W/m
(common practice)."""
_SHORTEST_S = 60.0  # less work than this shows no pace


def most_held(pack: Pack) -> float:
    """The charge [Ah] above which what a pack is said to give is doubted: its label, or well above a guess.

    >>> most_held(Pack("nmc", 10, 10.0, 30.0)), most_held(Pack("nmc", 10, 10.0, 30.0, capacity_guessed=True))
    (10.0, 20.0)
    """
    return pack.capacity_ah * (_MOST_TIMES_GUESS if pack.capacity_guessed else 1.0)


def check_log_of_pack(log: Log, pack: Pack, most_of_rated: float = MOST_OF_RATED) -> None:
    """Raise InputError where a log cannot come from its pack; of hand readings only the volts are checked.

    most_of_rated : how many times its label [Ah] the pack may give in one go, as the log counts it

    >>> import pandas as pd
    >>> from estimator.importer.log import Log
    >>> readings = pd.DataFrame({"time_s": [0.0, 1.0], "current_a": [9.0, 9.0], "voltage_v": [52.0, 51.9]})
    >>> small = Pack("nmc", 10, 10.0, 30.0, name="small")
    >>> check_log_of_pack(Log(readings, name="mow.csv"), small)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: mow.csv: volts of 51.9 to 52.0 are not those of small (10 nmc cells ...
    """
    check_volts_of_pack(np.array(log.spot.volts) if log.spot else log.arrays["voltage_v"], pack, log.name)
    t, i, v = (log.arrays[x] for x in ("time_s", "current_a", "voltage_v"))
    if len(t) < 2 or log.spot is not None:
        return
    _check_power(log, pack, t, i, v)
    _check_charge(log, pack, t, i, most_of_rated)
    _check_pause(log, t, i, v)


def check_log_of_lawn(log: Log, lawn: Lawn, machine: Machine | None = None, short: bool = False) -> None:
    """Raise InputError where no mower could mow the lawn in the log's time at work, or works at its power.

    Hand readings, and logs with less than a minute of work, are not checked. A mow that stopped `short` left
    part of the lawn, so its pace is not checked.

    >>> import pandas as pd
    >>> from estimator.importer.log import Log
    >>> readings = pd.DataFrame({"time_s": [0.0, 30, 60, 90], "current_a": 9.0, "voltage_v": 52.0})
    >>> check_log_of_lawn(Log(readings, name="mow.csv", longest_step_s=60.0), Lawn("far meadow", 900))
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: mow.csv: far meadow in 1.5 min of work would be 600 m²/min, which ...
    """
    if log.spot is not None or len(log.arrays["time_s"]) < 2:
        return
    t, i, v = (log.arrays[x] for x in ("time_s", "current_a", "voltage_v"))
    step = np.diff(t)
    high = float(np.percentile(i, 95))
    works = (step <= log.longest_step_s) & ((i[1:] + i[:-1]) / 2 > 0.1 * high) & (high > 0)
    work_s = float(step[works].sum())
    if work_s < _SHORTEST_S:
        return
    width_m = machine.cutting_width_m if machine is not None else None
    pace = 60.0 * lawn.area_m2 / work_s
    fastest = _FASTEST_M2_MIN if width_m is None else min(_FASTEST_M2_MIN, 60.0 * width_m * _FASTEST_M_S)
    if not short and not _SLOWEST_M2_MIN <= pace <= fastest:
        raise InputError(
            f"{lawn.name} in {work_s / 60:.3g} min of work would be {pace:.3g} m²/min, which no mower does",
            file=log.name,
            mend="name the lawn that was mown, or check its area and the unit of the time",
        )
    power_w = float(np.average(((i * v)[1:] + (i * v)[:-1])[works] / 2, weights=step[works]))
    if not _LEAST_W_PER_M * (width_m or 0.2) <= power_w <= _MOST_W_PER_M * (width_m or _WIDEST_M):
        across = "" if width_m is None else f" over {width_m:g} m of width"
        raise InputError(
            f"{power_w:.3g} W at work{across} is not the power of a mower",
            file=log.name,
            mend=(
                "check the units of the amps and of the volts, such as ",
                Give.column("current", "TITLE[mA]"),
            ),
        )


def check_volts_of_pack(volts: np.ndarray, pack: Pack, file: str | None = None) -> None:
    """Raise InputError where volts (n,) [V] cannot be those of a pack; any nan is left out.

    >>> box = Pack("lfp", 16, 20.0, 44.0, name="box")
    >>> check_volts_of_pack(np.array([24.4]), box)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: volts of 24.4 are not those of box (16 lfp cells in series, charged ...
    """
    cell_v = FULL_CELL_V[pack.chemistry]
    full_v = cell_v * pack.series
    volts = volts[np.isfinite(volts)]
    if not len(volts):  # hand readings without volts
        return
    low_v, usual_v, high_v = (float(x) for x in np.quantile(volts, [0.02, 0.5, 0.98]))
    if high_v <= 1.05 * full_v and usual_v >= 0.45 * full_v:
        return
    if 0.45 * full_v <= usual_v / 1000 and high_v / 1000 <= 1.05 * full_v:
        mend: Mend = ("if they are thousandths, say so with ", Give.column("voltage", "TITLE[mV]"))
    else:
        block = 3 if pack.chemistry == "lead_acid" else 1  # a block has 3 or 6 cells (common practice)
        series = max(1, math.ceil((high_v / cell_v - 0.15) / block)) * block
        mend = (
            f"name another pack, or correct its series count (about {series}, by these volts) or the volts",
        )
    span = f"{low_v:.1f}" if low_v == high_v else f"{low_v:.1f} to {high_v:.1f}"
    raise InputError(f"volts of {span} are not those of {pack.name} ({pack.cells})", file=file, mend=mend)


def _check_charge(log: Log, pack: Pack, t: np.ndarray, i: np.ndarray, most_of_rated: float) -> None:
    """Refuse a log that counts more charge in one go than the pack holds."""
    step = np.diff(t)
    step = np.where(step > log.longest_step_s, 0.0, step)
    drawn = np.concatenate(([0.0], np.cumsum((i[1:] + i[:-1]) / 2 * step))) / 3600
    most = float((drawn - np.minimum.accumulate(drawn)).max())
    # an error of the clamp's zero adds up over a day: three standard uncertainties of it are no contradiction
    meter_ah = 3 * log.error.current_zero_a * float(step.sum()) / 3600
    if most > most_of_rated * most_held(pack) + meter_ah:
        raise InputError(
            f"{most:.1f} Ah were drawn in one go, and {pack.name} holds {pack.says}",
            file=log.name,
            mend="name another pack, or check the unit of the amps and of the time",
        )


def _check_power(log: Log, pack: Pack, t: np.ndarray, i: np.ndarray, v: np.ndarray) -> None:
    """Refuse a current that the pack or its controller would not give for long."""
    top = float(np.percentile(i, 90))
    limit = _MOST_PER_HOUR * most_held(pack)
    if pack.current_limit_a is not None:
        limit = min(limit, _MOST_TIMES_LIMIT * pack.current_limit_a)
    if top <= limit:
        return
    mean_w = float(np.mean((i * v)[i > 0.1 * top]))
    milli = float(np.percentile(np.abs(i), 90)) / 1000 < limit and top > 500
    raise InputError(
        f"{top:.0f} A ({mean_w:.0f} W on average) are more than {pack.name} can give ({pack.says})",
        file=log.name,
        mend=("if the amps are thousandths, say so with ", Give.column("current", "TITLE[mA]"))
        if milli
        else "check the unit of the amps",
    )


def _check_pause(log: Log, t: np.ndarray, i: np.ndarray, v: np.ndarray) -> None:
    """Refuse a pause without readings after which the pack is fuller: it was charged between two mows."""
    high = 0.1 * float(np.percentile(np.abs(i), 95))
    for k in np.flatnonzero(np.diff(t) > _LONG_PAUSE_S):
        before, after = slice(max(0, k - 30), k + 1), slice(k + 1, k + 31)
        rests = [x[np.abs(i[part]) <= high] for part, x in ((before, v[before]), (after, v[after]))]
        if min(map(len, rests)) < 3 or float(np.median(rests[1])) < 1.015 * float(np.median(rests[0])):
            continue
        raise InputError(
            f"holds two mows: after a pause of {np.diff(t)[k] / 3600:.1f} h the pack is fuller than before "
            f"({np.median(rests[0]):.1f} V, then {np.median(rests[1]):.1f} V)",
            file=log.name,
            mend="split the file at the pause and add each mow by itself",
        )


def check_date(log: Log, started: datetime | None) -> None:
    """Raise InputError where the meter's clock runs ahead and nobody said when the mow began."""
    if started is not None or log.started is None:
        return
    now = datetime.now()
    if log.started.replace(tzinfo=None) > now + timedelta(days=2):
        raise InputError(
            f"the meter's clock says {log.started:%Y-%m-%d}, which is in the future (this computer's says "
            f"{now:%Y-%m-%d})",
            file=log.name,
            mend=("say when the mow began, with ", Give("started")),
        )
