"""Recommended capacity: the smallest new pack that finishes the lawns, and what its margin is made of."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from estimator.amounts import check_amount
from estimator.descriptions import Grass, Lawn, Pack
from estimator.errors import InputError, check_kind
from estimator.fitting.load.load_draws import lay_out
from estimator.fitting.load.mow_needs import check_lawns, draw_needs, grasses_for
from estimator.fitting.load.profile import LoadProfile
from estimator.fitting.pack.open_circuit import GRID
from estimator.predictor.lawns.day import choose_step
from estimator.predictor.lawns.day_unknowns import temperatures_seen
from estimator.predictor.narrowing import Doubt, doubts_by_cause
from estimator.predictor.sizing.margin import (
    STEP_AH,
    MarginPart,
    Saving,
    assured,
    best_saving,
    enough_for,
    margin_parts,
    part_names,
    saved_by_cut_off,
)
from estimator.predictor.sizing.need import FAST_CELL_V, end_of_life_needs, limits_of, needs_when_new
from estimator.predictor.sizing.new_pack import (
    CAPACITY_AT_END,
    coldest_of,
    label_of,
    new_pack,
    pack_causes,
    rise_at_end,
    sizing_assumptions,
)
from estimator.predictor.sizing.pack_sizes import SizeOdds, built, enough_of, odds_of, sizes_on_offer
from estimator.results import result

__all__ = ["MarginPart", "RecommendedCapacity", "SizeOdds", "recommend_capacity"]


DRAWS, MOST_DRAWS, FEWEST_DRAWS = 1000, 4000, 20  # with fewer, no drawn day would lie beyond `sure`
BEYOND = 10
"""At least this many drawn days are harder than the share `sure` of them."""
NEW_DRAWS = 200  # for the table of sizes, which is rougher than the recommendation
RESERVE, ROOM_C = 0.10, 20.0
"""Charge left in the pack to spare it; air temperature [°C] where none was noted (common practice)."""
DIFFERS = ("grass", "from day to day", "from mow to mow")
"""The causes that differ between days; all others (machine, lawns, pack) are the same on every day."""


@result
class RecommendedCapacity:
    """The smallest new pack that finishes the lawns with certainty `sure`.

    capacity_ah : rated capacity [Ah] that finishes a share `sure` of the days, and does so with the same
        certainty whatever is not yet known; rounded up to 0.1 Ah; the parts add up to it
    parts : mean need, doubt, day-to-day variation, reserve, ageing, sag, cold, current limit (if any) and
        rounding [Ah]
    sizes : every size on offer, rising, with its chances, which are averages over what is not yet known;
        choice : the smallest of them that is large enough, None where none is
    pack : a pack of that size or, where none is large enough, of the smallest size that can be built
    coldest_c : temperature [°C] of the coldest mowing day
    energy_wh : mean energy [Wh] of the lawns; peak_w : peak power [W] that one day in twenty exceeds
    doubts : why the need is uncertain, the largest cause first; saving : what one measurement would save
    in_use : the pack in use, if it were new; cut_off : what a lower one would save, None for little
    """

    capacity_ah: float
    sure: float
    parts: tuple[MarginPart, ...]
    pack: Pack
    sizes: tuple[SizeOdds, ...]
    choice: SizeOdds | None
    coldest_c: float
    energy_wh: float
    peak_w: float
    doubts: tuple[Doubt, ...]
    saving: Saving | None
    in_use: SizeOdds
    cut_off: Saving | None
    assumptions: tuple[str, ...]


def recommend_capacity(
    profile: LoadProfile,
    pack: Pack,
    lawns: Sequence[Lawn],
    grass: Grass | Sequence[Grass] | None = None,
    sure: float = 0.95,
    *,
    capacity_at_end: float = CAPACITY_AT_END,
    resistance_at_end: float | None = None,
    coldest_c: float | None = None,
    reserve: float = RESERVE,
    sizes_ah: Sequence[float] = (),
    draws: int = DRAWS,
    seed: int = 1,
) -> RecommendedCapacity:
    """Size a pack of the kind of `pack` so that all lawns finish on one charge.

    Parameters
    ----------
    profile : LoadProfile
        what mowing takes from the pack, from `fit_profile`
    pack : Pack or FittedPack
        the kind of pack: chemistry, cells in series, cut-off, limits
    lawns : sequence of Lawn, (n,)
        the lawns to finish on one charge
    grass : Grass, or one a lawn, default None
        None for unknown
    sure : float, 0.5..0.999, default 0.95
        how surely all lawns must be finished
    capacity_at_end : float, 0.2..1, default 0.8
        share of the capacity left at end of life (common practice)
    resistance_at_end : float, 1..5, default None
        resistance at end of life, times new; None for 1.5 (common practice), for lead-acid by `rise_at_end`
    coldest_c : float, -40..70 [°C], default None
        of the pack at the start of the coldest mowing day; None takes that of ten mows or more, else 10 °C
        or the coldest of them
    reserve : float, 0..0.9, default 0.1
        charge that should be left
    sizes_ah : sequence of float, 0.01..2000 [Ah], default ()
        sizes that can be bought; else whole strings of `pack.string_ah`; else common sizes
    draws : int, from 20, default 1000
        simulated days
    seed : int, default 1
        the same seed gives the same answer

    Returns
    -------
    RecommendedCapacity
        `capacity_ah` [Ah], the named parts that add up to it, and the pack to build or buy

    Raises
    ------
    InputError
        for no lawn, amounts out of range, and lawns that need more than any pack holds

    Source: constant power through the fitted circuit, Plett 2004, J. Power Sources 134, 252; tolerance limit,
    ISO 16269-6.

    >>> from estimator.fitting.load.profile import fit_profile
    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, string_ah=2.5)
    >>> found = recommend_capacity(fit_profile([]), pack, [Lawn("a", 100)], draws=60)
    >>> abs(sum(part.ah for part in found.parts) - found.capacity_ah) < 1e-9
    True
    >>> found.pack.capacity_ah % 2.5
    0.0
    """
    amounts = {"sure": sure, "capacity_at_end": capacity_at_end, "reserve": reserve}
    _check(profile, lawns, sizes_ah, draws, amounts)
    check_amount("coldest_c", coldest_c)
    check_amount("resistance_at_end", resistance_at_end)
    resistance_at_end = resistance_at_end or rise_at_end(pack.chemistry, capacity_at_end)
    draws = max(draws, min(math.ceil(BEYOND / (1 - sure)), MOST_DRAWS) if draws == DRAWS else 0)
    rng = np.random.default_rng(seed)
    grasses = grasses_for(lawns, grass)
    coldest_c = round(coldest_of(profile), 1) if coldest_c is None else coldest_c
    needs = draw_needs(profile, lawns, grasses, draws, rng)
    # an error of the mean that all mows share raises no peak, which MAX hold or the log itself has seen
    gain = np.exp(profile.gain_std * rng.standard_normal(draws))
    needs = replace(needs, energy_wh=needs.energy_wh * gain[:, None])
    load = lay_out(profile, lawns, grasses, needs, rng, choose_step(needs))
    label_ah = label_of(pack)
    usual_c = float(np.mean(temperatures_seen(profile) or [max(ROOM_C, coldest_c)]))
    new = new_pack(pack, label_ah, draws, rng).at_temperature(usual_c)
    energy = load.energy_wh.sum(1)
    volts = new.tables[:, (reserve <= GRID) & (GRID <= 1), 0].mean(1)
    ideal = energy / volts / (new.capacity_ah / label_ah)
    limits = limits_of(pack, reserve)
    least = ideal / (1 - reserve) / label_ah
    old = new.aged(capacity_at_end, resistance_at_end)
    need = end_of_life_needs(old, load, limits, least / capacity_at_end, coldest_c)
    days = np.sum([needs.causes[name] for name in DIFFERS], axis=0)
    bare, warm, cold, limited = (
        assured(each, days, sure) for each in (ideal / label_ah, need.warm, need.cold, need.limited)
    )
    enough = enough_for(need, days, sure)
    capacity = math.ceil(round(enough * label_ah / STEP_AH, 6)) * STEP_AH
    check_amount("capacity_ah", capacity, whose="a pack for these lawns")
    whole = bare.need * label_ah
    parts = margin_parts(
        [
            float(energy.mean() / volts.mean()),
            bare.usual_day * label_ah,
            *(whole / share for share in (1.0, 1 - reserve, (1 - reserve) * capacity_at_end)),
            *(each * label_ah for each in (warm.need, cold.need, enough)),
            capacity,
        ],
        part_names(sure, reserve, capacity_at_end, coldest_c),
    )
    lower = replace(limits, cut_off_v=FAST_CELL_V.get(pack.chemistry, math.inf) * pack.series)
    typical, worst = needs_when_new(new.first(NEW_DRAWS), load, limits, least[:NEW_DRAWS], coldest_c)
    share = 0.0
    if lower.cut_off_v < pack.cut_off_v:
        eased = end_of_life_needs(old, load, lower, least / capacity_at_end, coldest_c)
        share = 1 - enough_for(eased, days, sure) / enough
    drawn = [each * label_ah for each in (typical, worst, need.limited)]
    offered = sizes_on_offer(pack, capacity, sizes_ah)
    if not sizes_ah:  # the pack that was asked about is one that can be had
        offered = tuple(sorted({*offered, label_ah}))
    sizes = tuple(odds_of(pack, size, drawn) for size in offered)
    choice = next((size for size in sizes if size.capacity_ah >= enough * label_ah), None)
    causes = {**needs.causes, **pack_causes(new, coldest_c), "peaks": load.power_w.max(1).astype(float)}
    if any(one.spot for one in profile.mows):
        causes["mean current"] = gain
    by_hand = {one.spot for one in profile.loads} == {True}
    found = doubts_by_cause(need.limited, causes, by_hand=by_hand, grasses=grasses)
    return RecommendedCapacity(
        capacity_ah=capacity,
        sure=sure,
        parts=tuple(part for part in parts if part.name != "current limit" or pack.current_limit_a),
        pack=built(pack, choice.capacity_ah if choice else enough_of(pack, capacity)),
        sizes=sizes,
        choice=choice,
        coldest_c=coldest_c,
        energy_wh=float(energy.mean()),
        peak_w=float(np.quantile(load.power_w.max(1), 0.95)),
        doubts=found,
        saving=best_saving(replace(limited, need=enough), found, sure, label_ah),
        in_use=odds_of(pack, label_ah, drawn),
        cut_off=saved_by_cut_off(capacity, share, lower.cut_off_v, pack.series),
        assumptions=sizing_assumptions(profile, pack, lawns, grasses),
    )


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
