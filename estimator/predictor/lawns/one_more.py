"""Whether the charge left finishes the lawn under way, and one more, judged by the log so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from estimator.contradictions import check_volts_of_pack
from estimator.descriptions import Grass, Lawn, Pack
from estimator.fitting.by_hand.habit import learn_habits
from estimator.fitting.by_hand.weighing import Weighed, weigh
from estimator.fitting.load.load_draws import lay_out
from estimator.fitting.load.mow_needs import draw_needs, grasses_for
from estimator.fitting.load.phases import find_phases, motor_runs
from estimator.fitting.load.power_seconds import PowerSeconds
from estimator.fitting.load.profile import LoadProfile
from estimator.fitting.pack.pack_draws import PackDraws, draw_now
from estimator.fitting.pack.pack_fit import fit_of_log
from estimator.importer.by_hand.amps import USUAL
from estimator.importer.by_hand.spot_order import check_spot
from estimator.importer.log import Log, SpotNotes
from estimator.predictor.lawns.day import run_day

DRAWS = 200
"""Odds from this many draws are off by at most 0.035 (one sigma, at even odds)."""
STEP_S = 2.0
"""Short compared with the quickest pair of the pack (15 s)."""


@dataclass(frozen=True)
class OneMoreLawn:
    """A lawn, and the chance that the charge left finishes it if nothing else is mown first.

    minutes, energy_wh : medians of what it takes [min, Wh]
    """

    lawn: str
    area_m2: float
    odds: float
    minutes: float
    energy_wh: float


@dataclass(frozen=True)
class Running:
    """How long [s] the motor ran, and its mean power [W] meanwhile."""

    seconds: float
    mean_w: float


def running(log: Log) -> Running:
    """What the motor did so far; gaps do not count.

    >>> import pandas as pd
    >>> amps = [0.0] * 10 + [5.0] * 20
    >>> running(Log(pd.DataFrame({"time_s": np.arange(30.0), "current_a": amps, "voltage_v": 50.0})))
    Running(seconds=19.0, mean_w=250.0)
    """
    power_w = PowerSeconds.of(log).power_w
    ran_w = power_w[motor_runs(power_w, find_phases(power_w))]
    return Running(float(ran_w.size), float(ran_w.mean()) if ran_w.size else 0.0)


@dataclass(frozen=True)
class SoFar:
    """A day that has begun: draws of the pack as it stands, and the mean power [W] so far, 0 if unknown."""

    pack: PackDraws
    seen_w: float


def so_far_of_log(log: Log, fitted: Pack, start_charge: float | None, temperature_c: float | None) -> SoFar:
    """How the day stands at the end of a log."""
    known = fit_of_log(log, fitted, start_charge, temperature_c)
    return SoFar(draw_now(known.found, known.after, DRAWS, np.random.default_rng(2)), running(log).mean_w)


def weighed_so_far(
    notes: SpotNotes,
    pack: Pack,
    profile: LoadProfile | None,
    start_charge: float | None,
    temperature_c: float | None,
) -> Weighed:
    """Hand readings of a mow that still runs, weighed with the habit learnt from earlier mows."""
    check_spot(notes)
    check_volts_of_pack(np.array(notes.volts), pack)
    habit = USUAL
    if profile is not None:
        habit = learn_habits(profile.loads).of(profile.machine.name if profile.mows else None, None)
    return weigh(notes, pack, start_charge, temperature_c, habit)


def lawns_that_fit(
    profile: LoadProfile,
    so_far: SoFar,
    fitted: Pack,
    lawns: Sequence[Lawn],
    grass: Grass | Sequence[Grass] | None = None,
    *,
    temperature_c: float | None = None,
    reserve: float = 0.0,
) -> tuple[OneMoreLawn, ...]:
    """The chance that the pack as it stands finishes each lawn, likeliest first.

    Today's grass is known from `grass`, as far as it was judged, and from the power so far: drawn days whose
    power disagrees with it are left out.
    """
    rng, now = np.random.default_rng(1), so_far.pack.first(DRAWS)
    found = []
    for lawn, its_grass in zip(lawns, grasses_for(lawns, grass), strict=True):
        asked = [its_grass]
        needs = draw_needs(
            profile, [lawn], asked, now.n, rng, temperature_c=temperature_c, seen_w=so_far.seen_w
        )
        load = lay_out(profile, [lawn], asked, needs, rng, STEP_S)
        run = run_day(now, fitted, load, reserve_charge=reserve)
        found.append(
            OneMoreLawn(
                lawn=lawn.name,
                area_m2=lawn.area_m2,
                odds=float(run.finished[:, 0].mean()),
                minutes=float(np.median(needs.motor_s[:, 0])) / 60,
                energy_wh=float(np.median(needs.energy_wh[:, 0])),
            )
        )
    return tuple(sorted(found, key=lambda one: (-one.odds, one.area_m2)))


UNDER_WAY_DRAWS = 400  # a chance is off by 0.025 at most (one sigma)
FEWEST = 20  # from fewer days a chance is no better than a guess
LONGER = 0.1
"""A lawn that took longer than on nearly all drawn days takes this share longer still (common practice)."""


@dataclass(frozen=True)
class LawnUnderWay:
    """A lawn that is being mown: the chance that the charge left finishes it, and the median time of mowing
    [min] that it still takes."""

    lawn: str
    odds: float
    minutes: float


def lawn_under_way(
    profile: LoadProfile,
    log: Log,
    lawn: Lawn,
    ends_min: Sequence[float],
    grass: Grass | None = None,
    *,
    temperature_c: float | None = None,
) -> LawnUnderWay:
    """The chance that the motor runs for as long as the rest of the lawn takes.

    ends_min : evenly spaced quantiles of the minutes left until the motor stops [min], as in `MinutesLeft`

    The time the lawn takes is drawn from the profile for today's grass, on days whose power agrees with that
    of the log; days on which it would be done by now are left out.

    >>> import pandas as pd
    >>> from estimator.fitting.load.profile import fit_profile
    >>> log = Log(pd.DataFrame({"time_s": [0.0, 60.0], "current_a": 5.0, "voltage_v": 50.0}))
    >>> [lawn_under_way(fit_profile([]), log, Lawn("a", 300), [left] * 9).odds for left in (0.0, np.inf)]
    [0.0, 1.0]
    """
    rng, so_far = np.random.default_rng(1), running(log)
    needs = draw_needs(
        profile, [lawn], [grass or Grass()], UNDER_WAY_DRAWS, rng,
        temperature_c=temperature_c, seen_w=so_far.mean_w,
    )  # fmt: skip
    still = (needs.motor_s[:, 0] - so_far.seconds) / 60
    still = still[still > 0]
    if still.size < FEWEST:
        still = LONGER * so_far.seconds / 60 * np.abs(rng.standard_normal(UNDER_WAY_DRAWS))
    lasts = np.sort(np.asarray(ends_min, float))
    odds = 1.0 - np.searchsorted(lasts, still) / lasts.size
    return LawnUnderWay(lawn.name, float(odds.mean()), float(np.median(still)))
