"""The mow at which a fading pack no longer finishes the chosen lawns."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from estimator.amounts import check_amount
from estimator.arrays import Array
from estimator.descriptions import Grass, Lawn, Pack
from estimator.fitting.load.load_draws import lay_out
from estimator.fitting.load.mow_needs import check_lawns, draw_needs, grasses_for
from estimator.fitting.load.profile import LoadProfile
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import draw_pack
from estimator.fitting.seasons.fade import fade_draws, fade_series
from estimator.predictor.fade_forecast import FadeForecast, first_under, no_fade_words
from estimator.predictor.lawns.day import choose_step
from estimator.predictor.lawns.day_unknowns import day_temperature, pack_causes
from estimator.predictor.narrowing import Doubt, doubts_by_cause
from estimator.predictor.sizing.need import Day, limits_of
from estimator.predictor.sizing.new_pack import RISE
from estimator.results import result

DRAWS = 200
"""Odds from this many draws are off by at most 0.035 (one sigma, at even odds)."""
HALVINGS = 7
"""Of the bracket around the capacity needed, which is then known within one per cent."""


@dataclass(frozen=True)
class CapacityNeeded:
    """The capacity that the lawns need of the pack as it ages.

    needed_ah (draws,) : capacity [Ah] at which the pack, its resistance risen, just finishes each drawn day
    at_sure_ah : capacity [Ah] at which it finishes with certainty `sure`
    doubts : why it is uncertain whether the pack as it is now holds that, the largest cause first
    """

    needed_ah: Array
    at_sure_ah: float
    sure: float
    doubts: tuple[Doubt, ...] = ()


@result
class FinishForecast:
    """When the pack will no longer finish the chosen lawns.

    needed_ah : capacity [Ah] of a slow discharge that the lawns need, as in `fade`
    fade : the forecast of the crossing (mow, low, high, course for plotting)
    odds (n,) : chance of finishing at each of `mows` (n,), over fade and load together
    odds_now : chance of finishing with the pack as it is now
    """

    lawns: tuple[str, ...]
    sure: float
    needed_ah: float
    odds_now: float
    fade: FadeForecast
    mows: tuple[float, ...]
    odds: tuple[float, ...]
    sentence: str


def capacity_needed(
    profile: LoadProfile,
    fitted: Pack,
    lawns: Sequence[Lawn],
    grass: Grass | Sequence[Grass] | None = None,
    sure: float = 0.90,
    *,
    temperature_c: float | None = None,
) -> CapacityNeeded:
    """The capacity [Ah] at which the ageing pack just finishes all the lawns on one charge.

    Each drawn day is run on the pack at trial capacities, its resistance higher the lower they are. The
    bracket around the capacity that just finishes is halved for all draws at once.

    >>> from estimator.fitting.load.profile import fit_profile
    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> need = capacity_needed(fit_profile([]), pack, [Lawn("strip", 200)])
    >>> 1 < need.at_sure_ah < 20
    True
    """
    check_lawns(lawns)
    check_amount("sure", sure, needed=True)
    rng = np.random.default_rng(1)
    grasses = grasses_for(lawns, grass)
    needs = draw_needs(profile, lawns, grasses, DRAWS, rng, temperature_c=temperature_c)
    load = lay_out(profile, lawns, grasses, needs, np.random.default_rng(2), choose_step(needs))
    # a peak above the current limit stops a fresh pack too: no capacity helps against it
    limits = replace(limits_of(fitted, 0.0), current_a=None)
    day = Day(load, limits.hold_s)
    drawn = draw_pack(fitted, DRAWS, rng)
    drawn = drawn.at_temperature(day_temperature(profile, temperature_c, DRAWS, rng))
    now_ah = float(np.median(drawn.capacity_ah))
    inside = (GRID >= 0) & (GRID <= 1)
    least_ah = needs.energy_wh.sum(axis=1) / drawn.tables[:, inside, 0].mean(axis=1)
    low, high = np.log(0.9 * least_ah), np.log(3.0 * least_ah)
    once = np.ones(DRAWS)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        trial = np.exp(middle)
        aged = drawn.aged(trial / drawn.capacity_ah, (trial / now_ah) ** -RISE)
        done = day.finished(aged, limits, once)
        low, high = np.where(done, low, middle), np.where(done, middle, high)
    needed = np.exp((low + high) / 2)
    doubts = doubts_by_cause(
        np.log(drawn.capacity_ah / needed),
        {**needs.causes, **pack_causes(drawn)},
        by_hand={one.spot for one in profile.loads} == {True},
        grasses=grasses,
    )
    return CapacityNeeded(needed, float(np.quantile(needed, sure)), sure, doubts)


def finish_forecast(
    need: CapacityNeeded,
    lawns: Sequence[Lawn],
    mow_number: ArrayLike,
    capacity_ah: ArrayLike,
    std_ah: ArrayLike = 0.0,
    *,
    scale_std: float = 0.0,
    usable_share: float = 1.0,
) -> FinishForecast:
    """The mow at which the pack no longer finishes the lawns of `need` with the certainty `need.sure`.

    mow_number, capacity_ah, std_ah, scale_std : the pack's capacities so far, as in `fade_series`
    usable_share : the share of them that is usable when mowing, for the sentence

    >>> need = CapacityNeeded(np.linspace(6.0, 7.0, 101), 6.9, 0.90)
    >>> seen = np.arange(1, 41)
    >>> found = finish_forecast(need, [Lawn("meadow", 900)], seen, 10.0 - 0.03 * seen)
    >>> found.odds_now, bool(found.fade.low <= 103 <= found.fade.high)
    (1.0, True)
    """
    series = fade_series(mow_number, capacity_ah, std_ah, scale_std)
    future = fade_draws(series)
    sorted_need = np.sort(need.needed_ah)
    odds = np.searchsorted(sorted_need, future.capacity_ah, side="right").mean(axis=0) / len(sorted_need)
    fade = _by_odds(first_under(series, future, need.at_sure_ah), float(odds[0]), need.sure)
    names = tuple(lawn.name for lawn in lawns)
    return FinishForecast(
        lawns=names,
        sure=need.sure,
        needed_ah=need.at_sure_ah,
        odds_now=float(odds[0]),
        fade=fade,
        mows=tuple(future.mows.tolist()),
        odds=tuple(np.asarray(odds, float).tolist()),
        sentence=_sentence(names, need, fade, float(odds[0]), usable_share),
    )


SELDOM = 0.5
"""A pack that finishes the day less often than this holds less than the day needs."""


def _by_odds(fade: FadeForecast, odds_now: float, sure: float) -> FadeForecast:
    """The forecast in which the odds of the day decide whether the pack holds too little: after few mows the
    need is so uncertain that its upper end exceeds most capacities, which says little about the pack. Where
    the odds are neither good nor bad and the mows show no fade, no last mow is named."""
    if odds_now >= sure:
        return replace(fade, under_now=False, reached=None, mow=max(fade.mow, fade.mows[0] + 1.0))
    if odds_now < SELDOM:
        return replace(fade, under_now=True)
    return replace(fade, under_now=None, reached=None, mow=fade.mow if fade.shows_fade else math.inf)


def _sentence(
    names: tuple[str, ...], need: CapacityNeeded, fade: FadeForecast, odds_now: float, usable_share: float
) -> str:
    asked = (
        f"{', '.join(names)} {'need' if len(names) > 1 else 'needs'} {usable_share * need.at_sure_ah:.1f} Ah"
    )
    asked += f" to finish {100 * need.sure:g} times in 100; "
    if fade.under_now and fade.reached is not None:
        return asked + f"the pack holds less, and has done since mow {fade.reached:.0f}."
    if fade.under_now is not False:
        low, high = usable_share * fade.low_ah[0], usable_share * fade.high_ah[0]
        holds = f"it holds {low:.1f} to {high:.1f} Ah"
        return asked + f"the pack finishes {100 * odds_now:.0f} times in 100 now: {holds}."
    if not fade.shows_fade:
        return asked + f"{no_fade_words(fade)}."
    if not math.isfinite(fade.mow):
        return asked + f"the pack most likely keeps that up to mow {fade.horizon}."
    until = f"{fade.high:.0f}" if math.isfinite(fade.high) else f"beyond {fade.horizon}"
    low = min(fade.low, fade.mow)
    return asked + f"the pack will likely fall under that at about mow {fade.mow:.0f} ({low:.0f} to {until})."
