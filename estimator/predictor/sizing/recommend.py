"""Recommended capacity: the smallest pack that finishes the lawns, and what its margin is made of."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from estimator.amounts import check_amount, check_kind
from estimator.descriptions import Grass, Lawn, Pack
from estimator.errors import InputError
from estimator.fitting.load.load_draws import lay_out
from estimator.fitting.load.mow_needs import WidthSource, check_lawns, draw_needs, grasses_for, width_sources
from estimator.fitting.load.profile import LoadProfile
from estimator.fitting.pack import prior as pack_prior
from estimator.fitting.pack.fitted_pack import FittedPack
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws, draw_pack
from estimator.predictor.lawns.lawns_per_charge import choose_step, not_told
from estimator.predictor.sizing.need import end_of_life_needs, limits_of
from estimator.predictor.sizing.pack_sizes import SizeOdds, built, next_smaller, odds_of, smallest_enough
from estimator.shown import shown

__all__ = ["MarginPart", "RecommendedCapacity", "SizeOdds", "recommend_capacity"]

Array = NDArray[np.float64]

DRAWS = 1000
FEWEST_DRAWS = 20
STEP_AH = 0.1
CAPACITY_AT_END = 0.80
RESISTANCE_AT_END = 1.5
COLDEST_C = 10.0
"""Grass hardly grows below some 6 °C, and a pack mostly comes from a shed (common practice)."""
RESERVE = 0.10
LIKE_NEW = 0.92


@dataclass(frozen=True)
class MarginPart:
    """A named part of the recommended capacity [Ah] with a note on what it stands for."""

    name: str
    ah: float
    note: str


@shown
@dataclass(frozen=True)
class RecommendedCapacity:
    """The smallest pack that finishes the lawns with the certainty asked for.

    capacity_ah : rated capacity [Ah] needed, rounded up to 0.1 Ah; the parts add up to it
    parts : mean need, spread, reserve, ageing, sag, cold, current limit (if any) and rounding [Ah]
    pack : the nearest that can be built or bought
    choice, smaller, half : its size and odds, those of the next smaller, those of half its size
    sources, pack_doubts : why the energy of the first lawn is uncertain, and why sag and cold are
    energy_wh : mean energy [Wh] of the lawns; peak_w : power [W] that one day in twenty tops
    """

    capacity_ah: float
    sure: float
    parts: tuple[MarginPart, ...]
    pack: Pack
    choice: SizeOdds
    smaller: SizeOdds
    half: SizeOdds
    energy_wh: float
    peak_w: float
    sources: tuple[WidthSource, ...]
    pack_doubts: tuple[WidthSource, ...]
    assumptions: tuple[str, ...]


def recommend_capacity(
    profile: LoadProfile,
    pack: Pack,
    lawns: Sequence[Lawn],
    grass: Grass | Sequence[Grass] | None = None,
    sure: float = 0.95,
    *,
    capacity_at_end: float = CAPACITY_AT_END,
    resistance_at_end: float = RESISTANCE_AT_END,
    coldest_c: float = COLDEST_C,
    reserve: float = RESERVE,
    sizes_ah: Sequence[float] = (),
    draws: int = DRAWS,
    seed: int = 1,
) -> RecommendedCapacity:
    """Size a pack of the kind of `pack` so that all lawns finish in one charge.

    Parameters
    ----------
    profile : LoadProfile
    pack : Pack or FittedPack
        the kind of pack: chemistry, cells in series, cut-off, limits
    lawns : sequence of Lawn, (n,)
    grass : Grass, or one a lawn, default None
        None for unknown
    sure : float, 0.5..0.999, default 0.95
        how sure all lawns are finished
    capacity_at_end : float, 0.2..1, default 0.8
        share of the capacity left at end of life (common practice)
    resistance_at_end : float, 1..5, default 1.5
        resistance at end of life, times new (common practice)
    coldest_c : float, -40..70 [°C], default 10
        air on the coldest mowing day
    reserve : float, 0..0.9, default 0.1
        charge that should be left
    sizes_ah : sequence of float, 0.01..2000 [Ah], default ()
        sizes that can be bought; else whole strings of `pack.string_ah`; else any size
    draws : int, from 20, default 1000
    seed : int, default 1

    Returns
    -------
    RecommendedCapacity
        `capacity_ah` [Ah], the named parts that add up to it, and the pack to build or buy

    Raises
    ------
    InputError
        for no lawn, amounts out of range, and lawns that need more than any pack holds

    Source: constant power through the fitted circuit, Plett 2004, J. Power Sources 134, 252.

    >>> from estimator.fitting.load.profile import fit_profile
    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, string_ah=2.5)
    >>> found = recommend_capacity(fit_profile([]), pack, [Lawn("a", 100)], draws=60)
    >>> abs(sum(part.ah for part in found.parts) - found.capacity_ah) < 1e-9
    True
    >>> found.pack.capacity_ah % 2.5
    0.0
    """
    amounts = {
        "sure": sure, "capacity_at_end": capacity_at_end, "resistance_at_end": resistance_at_end,
        "coldest_c": coldest_c, "reserve": reserve,
    }  # fmt: skip
    _check(profile, lawns, sizes_ah, draws, amounts)
    rng = np.random.default_rng(seed)
    grasses = grasses_for(lawns, grass)
    needs = draw_needs(profile, lawns, grasses, draws, rng)
    gain = np.exp(profile.gain_std * rng.standard_normal(draws))
    load = lay_out(profile, lawns, grasses, needs, rng, choose_step(needs))
    load = replace(load, power_w=load.power_w * gain[:, None], energy_wh=load.energy_wh * gain[:, None])
    label_ah = pack.rated.capacity_ah if isinstance(pack, FittedPack) else pack.capacity_ah
    new = _new_pack(pack, label_ah, draws, rng)
    energy = load.energy_wh.sum(1)
    volts = new.tables[:, (GRID >= 0) & (GRID <= 1), 0].mean(1)
    held = new.capacity_ah / label_ah
    mean_ah = float(energy.mean() / volts.mean())
    ideal = energy / volts / held
    spread = float(np.quantile(ideal, sure))
    old = new.aged(capacity_at_end, resistance_at_end)
    least = ideal / (1 - reserve) / capacity_at_end / label_ah
    need = end_of_life_needs(old, load, limits_of(pack, reserve), least, coldest_c)
    q_warm, q_cold, q_need = (
        float(np.quantile(each, sure)) * label_ah for each in (need.warm, need.cold, need.limited)
    )
    capacity = math.ceil(round(q_need / STEP_AH, 6)) * STEP_AH
    check_amount("capacity_ah", capacity, whose="a pack for these lawns")
    with_reserve, with_age = spread / (1 - reserve), spread / (1 - reserve) / capacity_at_end
    parts = [
        MarginPart("mean need", mean_ah, "energy of the lawns on average over the pack's mean voltage"),
        MarginPart(
            "spread",
            spread - mean_ah,
            f"days harder than average, meter and pack doubts, {100 * sure:.0f} % sure",
        ),
        MarginPart("reserve", with_reserve - spread, f"{100 * reserve:.0f} % of charge left at the end"),
        MarginPart(
            "ageing",
            with_age - with_reserve,
            f"{100 * capacity_at_end:.0f} % of the capacity left at end of life",
        ),
        MarginPart(
            "sag", q_warm - with_age, "voltage under load kept above the cut-off, resistance of an old pack"
        ),
        MarginPart("cold", q_cold - q_warm, f"a pack at {coldest_c:g} °C"),
        MarginPart("current limit", q_need - q_cold, "peaks kept within the pack's current limit"),
        MarginPart("rounding", capacity - q_need, f"up to the next {STEP_AH:g} Ah"),
    ]
    parts = [part for part in parts if part.name != "current limit" or pack.current_limit_a is not None]
    parts[-1] = replace(parts[-1], ah=capacity - math.fsum(part.ah for part in parts[:-1]))
    need_ah = need.limited * label_ah
    size = smallest_enough(pack, capacity, sizes_ah)
    below = next_smaller(pack, size, sizes_ah)
    return RecommendedCapacity(
        capacity_ah=capacity,
        sure=sure,
        parts=tuple(parts),
        pack=built(pack, size),
        choice=odds_of(pack, size, need_ah),
        smaller=odds_of(pack, below, need_ah),
        half=odds_of(pack, size / 2, need_ah),
        energy_wh=float(energy.mean()),
        peak_w=float(np.quantile(load.power_w.max(1), 0.95)),
        sources=width_sources(profile, lawns[0], grasses[0]),
        pack_doubts=_pack_doubts(new, coldest_c),
        assumptions=_assumptions(profile, pack, lawns, grasses, label_ah, short=capacity - size),
    )


def _new_pack(pack: Pack, label_ah: float, n: int, rng: np.random.Generator) -> PackDraws:
    """Draws of a new pack of this kind and label: resistance and voltage as fitted; capacity as fitted while
    the pack in use is like new, otherwise what its label promises, within 5 %."""
    drawn = draw_pack(pack, n, rng)
    if not isinstance(pack, FittedPack) or not pack.logs or pack.capacity_ah >= LIKE_NEW * label_ah:
        return drawn
    promised = label_ah * np.exp(
        pack_prior.prior_mean(pack.rated)[pack_prior.CAPACITY] + 0.05 * rng.standard_normal(n)
    )
    return replace(drawn, capacity_ah=promised)


def _pack_doubts(new: PackDraws, coldest_c: float) -> tuple[WidthSource, ...]:
    """Standard deviations of what sag and cold rest on, widest first."""
    half = int(np.argmin(np.abs(GRID - 0.5)))
    rise = pack_prior.arrhenius(coldest_c, new.activation_kk[0])
    doubts = (
        ("resistance of the pack", new.tables[:, half, 1:].sum(1)),
        ("lag of the charge", new.lag_h.sum(0)),
        (f"rise of the resistance at {coldest_c:g} °C", rise),
        ("capacity over its label", new.capacity_ah),
    )
    found = [WidthSource(name, float(np.log(values).std())) for name, values in doubts]
    return tuple(sorted(found, key=lambda one: -one.log_std))


def _read_under_load(pack: Pack) -> bool:
    if not isinstance(pack, FittedPack):
        return False
    before = pack_prior.prior_covariance(pack.rated)[pack_prior.OHMIC, pack_prior.OHMIC]
    return bool(np.trace(pack.covariance[pack_prior.OHMIC, pack_prior.OHMIC]) < 0.999 * np.trace(before))


def _check(
    profile: LoadProfile,
    lawns: Sequence[Lawn],
    sizes_ah: Sequence[float],
    draws: int,
    amounts: Mapping[str, float],
) -> None:
    check_kind("profile", profile, LoadProfile)
    check_lawns(lawns)
    for name, value in (*amounts.items(), *(("size_ah", size) for size in sizes_ah)):
        check_amount(name, value, needed=True)
    if draws < FEWEST_DRAWS:
        raise InputError(f"only {draws} draws are asked for", mend=f"take at least {FEWEST_DRAWS}")


def _assumptions(
    profile: LoadProfile,
    pack: Pack,
    lawns: Sequence[Lawn],
    grasses: Sequence[Grass],
    label_ah: float,
    short: float,
) -> tuple[str, ...]:
    said = [*profile.assumptions, *not_told(profile, lawns, grasses)]
    if short > 1e-9:
        said.append(f"the largest size that can be bought is {short:.1f} Ah too small")
    said.append(
        f"{pack.series} cells in series of the same kind, in parallel strings; resistance falls as they grow"
    )
    if isinstance(pack, FittedPack) and pack.logs:
        if pack.capacity_ah < LIKE_NEW * label_ah:
            said.append("the pack in use has aged: a new one is taken to hold its label less 3 %, within 5 %")
    else:
        said.append(
            "no log of this pack: capacity, resistance and voltage are the wide prior of its chemistry"
            + (", the resistance narrowed by volts read under load" if _read_under_load(pack) else "")
        )
    return tuple(said)
