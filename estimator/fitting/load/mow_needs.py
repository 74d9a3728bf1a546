"""Draws of the energy and the time that mows will need, all of a day sharing what they share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.descriptions import Grass, Lawn
from estimator.errors import InputError
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.grass_effects import Situation, draw_columns
from estimator.fitting.load.mixed_model import MixedFit, choose_points, draw_coefficients
from estimator.fitting.load.profile import LoadProfile, usual_area_rate

Array = NDArray[np.float64]

SAID_FROM = 0.001
"""Sources of width smaller than a tenth of a per cent are not worth a line."""

POWER_LOG_STD = 0.2
"""By how much the mean power of a machine differs from mow to mow (common practice)."""


@dataclass(frozen=True)
class MowNeeds:
    """Draws (n, lawns) of the energy [Wh] and motor time [s] of each lawn."""

    energy_wh: Array
    motor_s: Array


@dataclass(frozen=True)
class WidthSource:
    """One reason why a prediction is wide, as a standard deviation of the logarithm (about a fraction)."""

    name: str
    log_std: float


def grasses_for(lawns: Sequence[Lawn], grass: Grass | Sequence[Grass] | None) -> tuple[Grass, ...]:
    """One grass for every lawn, or one each; None for unknown.

    >>> grasses_for([Lawn("a", 10), Lawn("b", 10)], None)[1]
    Grass(moisture=None, growth_mm=None, days_since_cut=None)
    """
    if grass is None or isinstance(grass, Grass):
        return (grass or Grass(),) * len(lawns)
    if len(grass) != len(lawns):
        raise InputError(
            f"{len(grass)} grasses for {len(lawns)} lawns", mend="give one for all or one for each"
        )
    return tuple(grass)


def draw_needs(
    profile: LoadProfile,
    lawns: Sequence[Lawn],
    grasses: Sequence[Grass],
    n: int,
    rng: np.random.Generator,
    *,
    days_since_care: float | None = None,
    temperature_c: float | None = None,
) -> MowNeeds:
    """Draw n days on which the lawns are mown: one draw shares its day, its effects and its weather.

    >>> from estimator.fitting.load.profile import fit_profile
    >>> needs = draw_needs(fit_profile([]), [Lawn("a", 300)], [Grass()], 500, np.random.default_rng(1))
    >>> needs.energy_wh.shape, bool(20 < np.median(needs.energy_wh) < 400)
    ((500, 1), True)
    """
    situations = [
        Situation(lawn.area_m2, grass, days_since_care, temperature_c)
        for lawn, grass in zip(lawns, grasses, strict=True)
    ]
    x = draw_columns(situations, profile.known, rng.standard_normal((n, 3)), rng.random(n))
    place = np.array([profile.lawn_index(lawn) for lawn in lawns], np.int64)
    names = {lawn.name: i for i, lawn in reversed(list(enumerate(lawns)))}
    same = np.array([names[lawn.name] for lawn in lawns], np.int64)
    mine = [rng.standard_normal((n, count)) for count in (1, len(lawns), len(lawns))]
    other = [rng.standard_normal(z.shape) for z in mine]
    rho = profile.correlation
    tied = [rho * a + math.sqrt(1 - rho**2) * b for a, b in zip(mine, other, strict=True)]
    log_energy = _draw(profile.energy, x, place, same, mine, rng)
    log_pace = _draw(profile.pace, x, place, same, tied, rng)
    area = np.array([lawn.area_m2 for lawn in lawns])
    usual = np.array([usual_area_rate(lawn, profile.machine) for lawn in lawns])
    needs = MowNeeds(area * np.exp(log_energy), 60 * area / (usual * np.exp(log_pace)))
    return needs if profile.mows else _at_seen_power(needs, profile.loads, rng)


def _at_seen_power(needs: MowNeeds, unfinished: Sequence[MowFeatures], rng: np.random.Generator) -> MowNeeds:
    """Draws of the prior kept as often as their power agrees with mows that stopped short of a whole lawn.

    Such mows tell nothing of energy per area or of pace, but much of the two together.
    """
    if not unfinished:
        return needs
    seen = float(np.mean([math.log(one.mean_w) for one in unfinished]))
    power_w = 3600 * needs.energy_wh.sum(axis=1) / needs.motor_s.sum(axis=1)
    off = (np.log(power_w) - seen) / (POWER_LOG_STD * math.sqrt(1 + 1 / len(unfinished)))
    share = np.exp(-0.5 * (off**2 - np.min(off**2)))
    kept = rng.choice(len(off), len(off), p=share / share.sum())
    return MowNeeds(needs.energy_wh[kept], needs.motor_s[kept])


def _draw(
    fit: MixedFit,
    x: Array,
    place: NDArray[np.int64],
    same: NDArray[np.int64],
    unit: list[Array],
    rng: np.random.Generator,
) -> Array:
    """Draws (n, lawns); unit holds standard normals for the day (n, 1), the mow and the lawn (n, lawns)."""
    n = len(x)
    chosen = choose_points(fit, n, rng)
    drawn = draw_coefficients(fit, chosen, rng.standard_normal((n, fit.mean.shape[1])))
    lawn_std, day_std, rest_std = fit.spread[chosen].T[:, :, None]
    effect = lawn_std * unit[2][:, same]
    seen = place >= 0
    effect[:, seen] = drawn[:, fit.fixed + place[seen]]
    fixed = np.einsum("nlp,np->nl", x, drawn[:, : fit.fixed])
    return np.asarray(fixed + effect + day_std * unit[0] + rest_std * unit[1])


def width_sources(profile: LoadProfile, lawn: Lawn, grass: Grass) -> tuple[WidthSource, ...]:
    """Why the energy of one mow is uncertain, widest first."""
    fit, place = profile.energy, profile.lawn_index(lawn)
    rng = np.random.default_rng(3)
    n = 512
    x = draw_columns(
        [Situation(lawn.area_m2, grass)], profile.known, rng.standard_normal((n, 3)), rng.random(n)
    )[:, 0]
    known = x.mean(0)
    drawn = draw_coefficients(fit, choose_points(fit, n, rng), rng.standard_normal((n, fit.mean.shape[1])))
    spread = np.sqrt(fit.weight @ fit.spread**2)
    lawn_effect = drawn[:, fit.fixed + place] if place >= 0 else np.zeros(n)
    sources = [
        WidthSource(
            "few mows: level and effects", float((drawn[:, : fit.fixed] @ known + lawn_effect).std())
        ),
        WidthSource("from day to day", float(spread[1])),
        WidthSource("from mow to mow", float(spread[2])),
        WidthSource("grass not told", float((x @ fit.coefficients[: fit.fixed]).std())),
    ]
    if place < 0:
        sources.append(WidthSource("lawn never mown", float(spread[0])))
    return tuple(sorted((one for one in sources if one.log_std >= SAID_FROM), key=lambda one: -one.log_std))
