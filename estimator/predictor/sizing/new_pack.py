"""Draws of a new pack of the same kind and label as the one in use, and its coldest day of mowing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from estimator.arrays import Array
from estimator.descriptions import Grass, Lawn, Pack
from estimator.fitting.load.profile import LoadProfile
from estimator.fitting.pack import prior as pack_prior
from estimator.fitting.pack.fitted_pack import FittedPack
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws, draw_pack
from estimator.predictor.lawns.day_unknowns import not_told, temperatures_seen

LABEL_STD = 0.03
"""Spread of a new pack's capacity about its label, relative (common practice: a maker's least and typical
capacity are 2 to 5 % apart)."""

CAPACITY_AT_END = 0.80
"""End of life: 80 % of the capacity (common practice)."""
RESISTANCE_AT_END = 1.5
"""Rise of the resistance by then (common practice: 1.3 to 2)."""
RISE = math.log(RESISTANCE_AT_END) / -math.log(CAPACITY_AT_END)
"""Resistance goes as capacity to the power of minus this: half as much again when 80 % of the capacity is
left (common practice)."""


def rise_at_end(chemistry: str, capacity_at_end: float) -> float:
    """Resistance at end of life divided by that when new, where it is not given.

    Lead-acid ends by the charge it gives at the rate of its duty (IEEE 450 and 1188 test it that way, IEEE
    485 divides the size by 0.8 and by nothing else): at 80 % it is like a new pack of 80 % of its size,
    resistance included.

    >>> rise_at_end("nmc", 0.8), rise_at_end("lead_acid", 0.8)
    (1.5, 1.25)
    """
    return 1 / capacity_at_end if chemistry == "lead_acid" else RESISTANCE_AT_END


COLDEST_C = 10.0
"""Grass hardly grows below some 6 °C, and a pack usually comes from a shed (common practice)."""
MOWS_FOR_COLDEST = 10
"""From this many mows with a temperature on, the coldest of them stands for the coldest of the season."""


def label_of(pack: Pack) -> float:
    """What the pack in use would have on its label [Ah]: what it seems to hold where that was guessed."""
    if isinstance(pack, FittedPack) and not pack.capacity_guessed:
        return pack.rated.capacity_ah
    return float(f"{pack.capacity_ah:.3g}")


def new_pack(pack: Pack, label_ah: float, n: int, rng: np.random.Generator) -> PackDraws:
    """Draws (n,) of a new pack: it holds its label, whatever the pack in use seems to hold now.

    Voltage and resistance are those of the pack in use. Where that has faded, its resistance is reduced to
    what it was when new, by the usual relation of the two. Where its capacity was guessed nobody knows by how
    much: its resistance is taken as that of a new pack of as many Ah, whatever these turn out to be.
    """
    drawn = draw_pack(pack, n, rng)
    tables = drawn.tables.copy()
    if pack.capacity_guessed:
        tables[:, :, 1:] *= (drawn.capacity_ah / label_ah).astype(np.float32)[:, None, None]
    elif isinstance(pack, FittedPack) and pack.logs:
        left = min(max(pack.capacity_ah / label_ah, CAPACITY_AT_END), 1.0)
        tables[:, :, 1:] *= np.float32(left**RISE)
    held = label_ah * np.exp(LABEL_STD * rng.standard_normal(n))
    return replace(drawn, capacity_ah=held, tables=tables)


def coldest_of(profile: LoadProfile) -> float:
    """Temperature [°C] of the coldest mowing day: that of the mows so far if they are many, else 10 °C or the
    coldest of them if that is lower."""
    seen = temperatures_seen(profile)
    return min(seen) if len(seen) >= MOWS_FOR_COLDEST else min([COLDEST_C, *seen])


def coldest_is_assumed(profile: LoadProfile) -> bool:
    """Whether no mow stands for the coldest day, so that `coldest_of` is the usual 10 °C."""
    seen = temperatures_seen(profile)
    return len(seen) < MOWS_FOR_COLDEST and min(seen, default=COLDEST_C) >= COLDEST_C


def pack_causes(new: PackDraws, coldest_c: float) -> dict[str, Array]:
    """The draws of what is poorly known about the pack, by name, (n,) or (n, k) each."""
    near_empty, half = np.searchsorted(GRID, [0.1, 0.5])
    causes = {
        "resistance": np.asarray(new.tables[:, half, 1:].sum(1), float),
        "sag of a pack that is nearly empty": np.stack(
            [new.lag_shape[:, 0] if new.lead_acid else new.lag_shape[:, near_empty] * new.lag_h.sum(0),
             new.tables[:, near_empty, 0], new.tables[:, near_empty, 1:].sum(1)], axis=1,
        ).astype(float),
        "rise of the resistance in the cold": pack_prior.arrhenius(coldest_c, new.activation_kk).T,
        "what a new pack holds over its label": new.capacity_ah,
    }  # fmt: skip
    if new.warmth is not None:
        causes["warming of the pack"] = np.stack(
            [np.asarray(new.warmth.kelvin_per_joule), np.asarray(new.warmth.tau_s)], axis=1
        )
    return causes


def sizing_assumptions(
    profile: LoadProfile, pack: Pack, lawns: Sequence[Lawn], grasses: Sequence[Grass]
) -> tuple[str, ...]:
    """Sentences on what was not given about lawns, grass and pack, and what is assumed instead."""
    said = [*profile.assumptions, *not_told(profile, lawns, grasses)]
    said.append(
        f"{pack.series} cells in series of the same kind, in parallel strings; more strings, less resistance"
    )
    said.append("a new pack holds its label within 5 %, whatever the pack in use seems to hold")
    if not (isinstance(pack, FittedPack) and pack.logs):
        said.append(
            "no log of this pack: resistance and voltage are the wide prior of its chemistry"
            + (", the resistance narrowed by volts read under load" if _read_under_load(pack) else "")
        )
    return tuple(said)


def _read_under_load(pack: Pack) -> bool:
    if not isinstance(pack, FittedPack):
        return False
    before = pack_prior.prior_covariance(pack.rated)[pack_prior.OHMIC, pack_prior.OHMIC]
    return bool(np.trace(pack.covariance[pack_prior.OHMIC, pack_prior.OHMIC]) < 0.999 * np.trace(before))
