"""What a log most likely shows, before anybody says: its pack, its lawn, and whether the pack was full."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import fmean, median, stdev
from typing import TYPE_CHECKING

import numpy as np

from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.contradictions import check_log_of_lawn, check_log_of_pack
from estimator.descriptions import FULL_CELL_V, Grass, Lawn, Pack
from estimator.errors import InputError
from estimator.logbook import Logbook, MowRecord, lawns, mows, packs
from estimator.mow import Mow

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures
    from estimator.importer.log import Log

LATEST = 60
"""How many of the latest mows are looked at: habits change with the seasons."""
FULL_SHARE = 0.98
"""The share of its charging voltage that a full pack shows when mowing begins (common practice)."""
LATEST_BONUS = 0.02
"""How much nearer the voltage another pack must be than the pack used last, as a share of the voltage."""
MINUTES_STD, ENERGY_STD = 0.15, 0.3
"""Least relative spread of a lawn from mow to mow: the path stays the same, the grass does not (common
practice)."""
UNMOWN_STD = 0.5
"""Relative spread of a lawn that was never mown, so that only its area is known (common practice)."""
SOON, SOON_ODDS = 0.35, 0.1
"""A lawn last mown less than this share of its usual interval ago has its odds multiplied by this factor."""


@dataclass(frozen=True)
class Proposal:
    """What is filled in before anybody says otherwise; None where there is no evidence.

    start_charge : 1 where the first volts are those of a full pack; else None, to be worked out
    minutes [min], energy_wh [Wh] : of the log
    """

    lawn: str | None
    pack: str | None
    start_charge: float | None
    minutes: float
    energy_wh: float


def propose(logbook: Logbook, log: Log, started: datetime | None = None) -> Proposal:
    """Pack from the volts, lawn from minutes, energy and habit, a full start from the first volts.

    started : when the mow began, where the log does not say
    """
    from estimator.fitting.by_hand.spot_volts import with_usual_volts
    from estimator.fitting.load.features import mow_features

    latest = mows(logbook)[-LATEST:]
    pack = likely_pack(log, packs(logbook), latest[-1].pack if latest else None)
    whole = with_usual_volts(log, pack)
    possible = [lawn for lawn in lawns(logbook) if _can_be(whole, lawn)]
    one = mow_features(Mow(whole, lawn=Lawn("not known yet", area_m2=100.0), grass=Grass(), known=True))
    found = features_of_mows(logbook, latest)
    return Proposal(
        lawn=likely_lawn(one, possible, latest, found, log.started or started) if possible else None,
        pack=None if pack is None else pack.name,
        start_charge=1.0 if begins_full(logbook, log, pack) else None,
        minutes=one.motor_s / 60,
        energy_wh=one.energy_wh,
    )


def _can_be(log: Log, lawn: Lawn) -> bool:

    try:
        check_log_of_lawn(log, lawn)
    except InputError:
        return False
    return True


def likely_pack(log: Log, known: Sequence[Pack], used_last: str | None) -> Pack | None:
    """The pack that the volts can come from; of several, the one nearest to a full start, or used last.

    >>> import pandas as pd
    >>> from estimator.importer.log import Log
    >>> readings = pd.DataFrame({"time_s": [0.0, 9.0], "current_a": [0.0, 9.0], "voltage_v": [41.5, 40.9]})
    >>> crates = [Pack("nmc", 13, 10.0, 39.0, name="large"), Pack("nmc", 10, 8.0, 30.0, name="small")]
    >>> likely_pack(Log(readings), crates, "large").name
    'small'
    """

    volts = log.readings["voltage_v"].dropna()
    if volts.empty:  # hand readings without volts
        named = [pack for pack in known if pack.name == used_last]
        return named[0] if named else known[0] if len(known) == 1 else None
    first_v = float(volts.iloc[: max(1, len(volts) // 20)].max())
    possible: list[tuple[float, int, Pack]] = []
    for pack in known:
        try:
            check_log_of_pack(log, pack)
        except InputError:
            continue
        off = abs(first_v / (FULL_CELL_V[pack.chemistry] * pack.series) - FULL_SHARE)
        possible.append((off - (LATEST_BONUS if pack.name == used_last else 0.0), len(possible), pack))
    return min(possible)[2] if possible else None


def likely_lawn(
    one: MowFeatures,
    known: Sequence[Lawn],
    latest: Sequence[MowRecord],
    features: Mapping[int, MowFeatures],
    started: datetime | None,
) -> str | None:
    """The lawn whose mows take about these minutes and this energy, and that is mown often and is due.

    latest, features : the latest mows, and what they took by number
    """
    if not known or one.motor_s <= 0 or one.energy_wh <= 0:
        return latest[-1].lawn if latest else (known[0].name if len(known) == 1 else None)
    whole = [each for each in features.values() if each.whole]
    per_m2 = [(each.motor_s / each.area_m2, each.energy_per_area()) for each in whole]
    if not per_m2:
        return known[0].name if len(known) == 1 else None
    usual_s, usual_wh = (median(each) for each in zip(*per_m2, strict=True))
    scored = []
    for lawn in known:
        own = [each for each in whole if each.lawn == lawn.name]
        took = [(math.log(each.motor_s), math.log(each.energy_wh)) for each in own]
        took = took or [(math.log(usual_s * lawn.area_m2), math.log(usual_wh * lawn.area_m2))]
        score = math.log(len(own) + 1)
        for column, least, came in (
            (0, MINUTES_STD, math.log(one.motor_s)),
            (1, ENERGY_STD, math.log(one.energy_wh)),
        ):
            seen = [each[column] for each in took]
            spread = max(least, stdev(seen)) if len(seen) > 2 else least if own else UNMOWN_STD
            score -= 0.5 * ((came - fmean(seen)) / spread) ** 2 + math.log(spread)
        days = [each.started for each in latest if each.lawn == lawn.name and each.started is not None]
        if started is not None and len(days) > 2:
            usual = median((later - before).total_seconds() for before, later in itertools.pairwise(days))
            if 0 <= (started.replace(tzinfo=None) - days[-1]).total_seconds() < SOON * usual:
                score += math.log(SOON_ODDS)
        scored.append((score, lawn.name))
    return max(scored)[1]


def begins_full(logbook: Logbook, log: Log, pack: Pack | None) -> bool:
    """Whether the first volts are what the pack, as known, shows when full and hardly ever otherwise."""
    from estimator.fitting.pack.log_grid import trace_of
    from estimator.fitting.pack.start_charge import start_of

    if pack is None or bool(np.isnan(log.arrays["voltage_v"]).any()):
        return False
    start = start_of(fit_of_pack(logbook, pack), trace_of(log), None)
    return start.full and not start.tries
