"""The load profile: what a lawn in a grass condition takes from the pack, learned from any number of mows."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from estimator.arrays import Array, Whole
from estimator.descriptions import Lawn, Machine
from estimator.errors import check_kind, check_several
from estimator.fitting.by_hand.habit import reweighed
from estimator.fitting.load.features import MowFeatures, mow_features
from estimator.fitting.load.first_answer import KINDS_OF_MOWER, energy_prior
from estimator.fitting.load.grass_effects import (
    ENERGY_PRIOR,
    GROWTH_SCALE_MM,
    PACE_PRIOR,
    Circumstances,
    circumstances,
    mean_columns,
)
from estimator.fitting.load.mixed_model import POINTS, MixedFit, fit_mixed, mixed_data
from estimator.fitting.load.mowing_time import USUAL_PACE_M_S, USUAL_WIDTH_M, usual_area_rate
from estimator.fitting.load.short_mows import log_pace_of, telling_short_mows
from estimator.mow import Mow
from estimator.results import result

IDLE_SHARE = 0.35
"""Idle power over mean power of a reel (common practice: 0.2 to 0.5)."""
CORRELATION_PRIOR_MOWS = 6.0
"""The prior correlation weighs as much as this many mows."""
CORRELATION_PRIOR = -0.3
"""Harder grass is walked more slowly (common practice)."""


@result
class LoadProfile:
    """What the mows so far say about the next one.

    mows : features of the mows that did their whole lawn; loads : of all mows that show a power
    lawns : names of the lawns seen, in the order of the fits' lawn effects
    energy : model of log energy per area [log Wh/m²]; pace : model of log area rate over `mowing_time`'s
    correlation : between the remainders of the two; gain_std : relative meter error common to all mows
    known : circumstances of the mows; idle_w : power [W] of blades turning in no grass
    assumptions : sentences on what was not given and what was assumed instead
    """

    mows: tuple[MowFeatures, ...]
    loads: tuple[MowFeatures, ...]
    lawns: tuple[str, ...]
    energy: MixedFit
    pace: MixedFit
    correlation: float
    known: Circumstances
    machine: Machine
    idle_w: float
    gain_std: float
    assumptions: tuple[str, ...] = ()

    def lawn_index(self, lawn: Lawn) -> int:
        """Place of the lawn among those seen, -1 for a lawn never mown."""
        return self.lawns.index(lawn.name) if lawn.name in self.lawns else -1


def fit_profile(mows: Sequence[Mow | MowFeatures], machine: Machine | None = None) -> LoadProfile:
    """Learn the load profile from mows; fewer mows only widen it.

    Parameters
    ----------
    mows : sequence of Mow or MowFeatures, (n,), n from 0
        the mows so far
    machine : Machine, default None
        for lawns never mown; None takes that of the mows, else the usual width and walking pace

    Returns
    -------
    LoadProfile
        energy per area [Wh/m²], pace [m²/min] and peaks [W], by lawn and grass

    Raises
    ------
    InputError
        for anything that is not a mow

    Source: Bayesian mixed model, Searle, Casella and McCulloch 1992.

    >>> profile = fit_profile([])
    >>> profile.lawns, len(profile.assumptions) > 0
    ((), True)
    """
    check_several("mows", mows, Mow)
    for one in mows:
        if not isinstance(one, MowFeatures):
            check_kind("mow", one, Mow)
    features = [one if isinstance(one, MowFeatures) else mow_features(one) for one in mows]
    described = next((one.machine for one in mows if isinstance(one, Mow) and one.machine), None)
    return fit_features(features, machine or described or Machine())


def fit_features(
    features: Sequence[MowFeatures],
    machine: Machine,
    *,
    before: LoadProfile | None = None,
    points: int = POINTS,
) -> LoadProfile:
    """The profile of mows whose features are known.

    before : a profile of most of these mows, whose search for the spreads is used again to save time
    points : members of the mixture over the spreads
    """
    features = reweighed(features)
    used = tuple(one for one in features if one.whole)
    loads = tuple(one for one in features if one.energy_wh > 0 and one.motor_s > 0)
    seen = (*used, *telling_short_mows(features))
    whole = slice(0, len(used))
    known = circumstances(seen)
    lawns = tuple(dict.fromkeys(one.lawn for one in seen))
    x = mean_columns(seen, known)
    place = {name: i for i, name in enumerate(lawns)}
    lawn = np.array([place[one.lawn] for one in seen], np.int64)
    day = np.array([one.day or f"mow {i}" for i, one in enumerate(seen)], str)
    area = np.array([one.area_m2 for one in used])
    rates = {one: usual_area_rate(Lawn("any", one), machine) for one in {one.area_m2 for one in seen}}
    usual = np.array([rates[one.area_m2] for one in seen])
    log_pace = np.log(60 * area / np.array([one.motor_s for one in used]) / usual[whole])
    unsure = np.array([_unknown_growth_std(one, known) for one in seen])
    pace_noise = np.array([one.pace_log_std for one in used]) ** 2
    pace_noise += (PACE_PRIOR.mean[3] * unsure[whole]) ** 2
    of_pace = mixed_data(log_pace, x[whole], lawn[whole], len(lawns), day[whole], pace_noise)
    pace = fit_mixed(of_pace, PACE_PRIOR, points, before.pace if before else None)
    mean_pace, pace_variance = log_pace_of(pace, x[len(used) :], lawn[len(used) :])
    power_w = np.array([one.mean_w for one in seen[len(used) :]])
    log_energy = np.concatenate(
        [
            np.log(np.array([one.energy_wh for one in used]) / area),
            np.log(power_w / 60 / usual[len(used) :]) - mean_pace,
        ]
    )
    energy_noise = np.array([one.energy_log_std for one in seen]) ** 2 + (ENERGY_PRIOR.mean[3] * unsure) ** 2
    energy_noise[len(used) :] += pace_variance
    of_energy = mixed_data(log_energy, x, lawn, len(lawns), day, energy_noise)
    energy = fit_mixed(of_energy, energy_prior(machine), points, before.energy if before else None)
    return LoadProfile(
        mows=used,
        loads=loads,
        lawns=lawns,
        energy=energy,
        pace=pace,
        correlation=_correlation(x[whole], lawn[whole], log_energy[whole], log_pace, energy, pace),
        known=known,
        machine=machine,
        idle_w=_idle_w(loads),
        gain_std=float(np.median([one.gain_std for one in used])) if used else 0.02,
        assumptions=_assumptions(used, len(loads) - len(used), len(features) - len(loads), machine),
    )


def _unknown_growth_std(mow: MowFeatures, known: Circumstances) -> float:
    """Standard deviation of the growth column of a mow whose growth was not judged; 0 where it was."""
    if mow.growth_mm is not None:
        return 0.0
    if mow.days_since_cut is not None:
        grown = mow.days_since_cut * known.growth_mm_a_day
        return known.growth_rate_log_std * grown / (grown + GROWTH_SCALE_MM)
    return known.growth_std * known.growth_share


def _correlation(x: Array, lawn: Whole, energy: Array, pace: Array, one: MixedFit, two: MixedFit) -> float:
    """Correlation of the two remainders, drawn towards its prior by six imagined mows."""
    if not len(energy):
        return CORRELATION_PRIOR
    p = x.shape[1]
    left = energy - x @ one.coefficients[:p] - one.coefficients[p:][lawn]
    right = pace - x @ two.coefficients[:p] - two.coefficients[p:][lawn]
    left, right = left / np.hypot(*one.typical_spread[1:]), right / np.hypot(*two.typical_spread[1:])
    both = math.sqrt(
        float(left @ left + CORRELATION_PRIOR_MOWS) * float(right @ right + CORRELATION_PRIOR_MOWS)
    )
    return float(
        np.clip((float(left @ right) + CORRELATION_PRIOR_MOWS * CORRELATION_PRIOR) / both, -0.9, 0.9)
    )


def _idle_w(mows: Sequence[MowFeatures]) -> float:
    seen = [one.idle_w for one in mows if one.idle_w is not None]
    if seen:
        return float(np.median(seen))
    return IDLE_SHARE * float(np.median([one.mean_w for one in mows])) if mows else 80.0


def _assumptions(mows: Sequence[MowFeatures], short: int, left_out: int, machine: Machine) -> tuple[str, ...]:
    said = []
    if not mows and machine.kind is not None:
        said.append(
            "no mow was given: energy per area is taken from kind, width and pace of the machine; "
            f"{KINDS_OF_MOWER[machine.kind].source}"
        )
    elif not mows:
        said.append(
            "no mow was given, and the kind of the machine is not given: energy per area is taken as "
            "0.3 Wh/m² within a factor of four, common practice"
        )
    if short:
        said.append(
            "mows that stopped short of the whole lawn (by tag, or at the cut-off without the tag "
            f"'lawn done') or have long gaps: {short}; their power counts, at the pace of the others"
        )
    if left_out:
        said.append(f"mows without energy or time, left out: {left_out}")
    if machine.cutting_width_m is None or machine.pace_m_s is None:
        said.append(
            f"lawns never mown take a cutting width of {machine.cutting_width_m or USUAL_WIDTH_M:g} m "
            f"and a walking pace of {machine.pace_m_s or USUAL_PACE_M_S:g} m/s, corrected by the mows so far"
        )
    for what, known in (
        ("moisture", [m.moisture for m in mows]),
        ("growth", [m.growth_mm if m.growth_mm is not None else m.days_since_cut for m in mows]),
    ):
        missing = sum(value is None for value in known)
        if missing:
            said.append(f"{what} was not noted for {missing} of {len(mows)} mows")
    if mows and all(m.idle_w is None for m in mows):
        said.append(f"idle power was not seen and is taken as {100 * IDLE_SHARE:.0f} % of the mean")
    return tuple(said)
