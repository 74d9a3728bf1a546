"""Draws of the energy and time that mows will need; the lawns of one drawn day share what a day shares."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from estimator.arrays import Array, Whole
from estimator.descriptions import Grass, Lawn
from estimator.errors import InputError, check_each, check_kind
from estimator.fitting.load.grass_effects import Situation, draw_columns
from estimator.fitting.load.mixed_model import MixedFit, choose_points, draw_coefficients
from estimator.fitting.load.mowing_time import usual_area_rate
from estimator.fitting.load.profile import LoadProfile

POWER_LOG_STD = 0.2
"""Spread of a machine's mean power from mow to mow, as a logarithm (common practice)."""


@dataclass(frozen=True)
class MowNeeds:
    """Draws (n, lawns) of the energy [Wh] and motor time [s] of each lawn.

    causes : what each named cause, unknown or varying, adds (n,) to the logarithm of the energy of all lawns
        together, approximately
    """

    energy_wh: Array
    motor_s: Array
    causes: Mapping[str, Array] = field(default_factory=dict)


def check_lawns(lawns: Sequence[Lawn]) -> None:
    """Raise InputError unless at least one lawn is named, and all are lawns."""
    check_each("lawns", lawns, Lawn)
    if not len(lawns):
        raise InputError("no lawns to mow", mend="name at least one")


def grasses_for(lawns: Sequence[Lawn], grass: Grass | Sequence[Grass] | None) -> tuple[Grass, ...]:
    """The grass of each lawn, from one for all or one for each; None for unknown.

    >>> grasses_for([Lawn("a", 10), Lawn("b", 10)], None)[1]
    Grass(moisture=None, growth_mm=None, days_since_cut=None)
    """
    if grass is None or isinstance(grass, Grass):
        return (grass or Grass(),) * len(lawns)
    for one in grass if isinstance(grass, (tuple, list)) else (grass,):
        check_kind("grass", one, Grass)
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
    seen_w: float = 0.0,
) -> MowNeeds:
    """Draw n days on which the lawns are mown; the lawns of one draw share its day, effects and weather.

    seen_w : mean power [W] of the day so far, with which the draws agree; 0 where nothing was mown

    >>> from estimator.fitting.load.profile import fit_profile
    >>> needs = draw_needs(fit_profile([]), [Lawn("a", 300)], [Grass()], 500, np.random.default_rng(1))
    >>> needs.energy_wh.shape, bool(20 < np.median(needs.energy_wh) < 400)
    ((500, 1), True)
    """
    situations = [
        Situation(lawn.area_m2, grass, days_since_care, temperature_c)
        for lawn, grass in zip(lawns, grasses, strict=True)
    ]
    many = 4 * n if seen_w > 0 else n
    x = draw_columns(situations, profile.known, rng.standard_normal((many, 3)), rng.random(many))
    place = np.array([profile.lawn_index(lawn) for lawn in lawns], np.int64)
    names = {lawn.name: i for i, lawn in reversed(list(enumerate(lawns)))}
    same = np.array([names[lawn.name] for lawn in lawns], np.int64)
    mine = [rng.standard_normal((many, count)) for count in (1, len(lawns), len(lawns))]
    other = [rng.standard_normal(z.shape) for z in mine]
    rho = profile.correlation
    tied = [rho * a + math.sqrt(1 - rho**2) * b for a, b in zip(mine, other, strict=True)]
    of_energy = _draw(profile.energy, x, place, same, mine, rng)
    log_pace = _draw(profile.pace, x, place, same, tied, rng).sum()
    area = np.array([lawn.area_m2 for lawn in lawns])
    usual = np.array([usual_area_rate(lawn, profile.machine) for lawn in lawns])
    energy = area * np.exp(of_energy.sum())
    causes = of_energy.causes(energy.mean(0) / energy.mean(0).sum(), bool((place < 0).any()))
    needs = MowNeeds(energy, 60 * area / (usual * np.exp(log_pace)), causes)
    unfinished = [] if profile.mows else [one.mean_w for one in profile.loads]
    needs = at_seen_power(needs, unfinished, rng) if unfinished else needs
    return at_seen_power(needs, [seen_w], rng, n) if seen_w > 0 else needs


@dataclass(frozen=True)
class _Drawn:
    """The parts of a drawn logarithm, (n, lawns) or (n, 1) each, which add up to it."""

    level: Array
    grass: Array
    lawn: Array
    day: Array
    mow: Array

    def sum(self) -> Array:
        return np.asarray(self.level + self.grass + self.lawn + self.day + self.mow)

    def causes(self, share: Array, never_mown: bool) -> dict[str, Array]:
        """The parts (n,) by name, averaged over the lawns by their shares (lawns,) of the energy."""
        lawns = self.mow.shape[1]
        if not never_mown:  # doubt of a lawn already mown varies together with the level of its mows
            named = {"few mows": self.level + self.lawn}
        else:
            named = {"few mows": self.level, "lawn never mown": self.lawn}
        named |= {"grass": self.grass, "from day to day": self.day, "from mow to mow": self.mow}
        return {
            name: np.asarray(np.broadcast_to(part, (len(part), lawns)) @ share)
            for name, part in named.items()
        }


def at_seen_power(
    needs: MowNeeds, seen_w: Sequence[float], rng: np.random.Generator, n: int | None = None
) -> MowNeeds:
    """Draws picked anew, `n` or as many as before, the more often the better they agree with powers seen [W].

    Mows that stopped short, and a mow so far, show neither energy per area nor pace, but their product well.

    >>> drawn = MowNeeds(np.array([[100.0], [200.0]]), np.full((2, 1), 3600.0))
    >>> kept = at_seen_power(drawn, [100.0], np.random.default_rng(1), 50)
    >>> bool(np.mean(kept.energy_wh) < 110)
    True
    """
    seen = float(np.mean(np.log(seen_w)))
    power_w = 3600 * needs.energy_wh.sum(axis=1) / needs.motor_s.sum(axis=1)
    off = (np.log(power_w) - seen) / (POWER_LOG_STD * math.sqrt(1 + 1 / len(seen_w)))
    share = np.exp(-0.5 * (off**2 - np.min(off**2)))
    kept = rng.choice(len(off), n or len(off), p=share / share.sum())
    causes = {name: part[kept] for name, part in needs.causes.items()}
    return MowNeeds(needs.energy_wh[kept], needs.motor_s[kept], causes)


def _draw(
    fit: MixedFit, x: Array, place: Whole, same: Whole, unit: list[Array], rng: np.random.Generator
) -> _Drawn:
    """Draw the parts; unit holds standard normals for the day (n, 1), the mow and the lawn (n, lawns)."""
    n = len(x)
    chosen = choose_points(fit, n, rng)
    drawn = draw_coefficients(fit, chosen, rng.standard_normal((n, fit.mean.shape[1])))
    lawn_std, day_std, rest_std = fit.spread[chosen].T[:, :, None]
    effect = lawn_std * unit[2][:, same]
    seen = place >= 0
    effect[:, seen] = drawn[:, fit.fixed + place[seen]]
    fixed = drawn[:, : fit.fixed]
    usual = x.mean(0)
    return _Drawn(
        level=fixed @ usual.T,
        grass=np.einsum("nlp,np->nl", x - usual, fixed),
        lawn=effect,
        day=day_std * unit[0],
        mow=rest_std * unit[1],
    )
