"""Days not yet mown: whether the present pack finishes them, and which pack they would need."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from discharging import Run, at_rest, discharge, slow_capacity_ah
from half_cells import Array
from owners import Owner, draw_day, judged, stream
from pack_trials import Plan, padded, run
from patchy_mowing import Day, Field, mow
from seasons_of_mows import Season, air_on

RESERVE, END_OF_LIFE = 0.10, 0.80
STEP_S = 2


@dataclass(frozen=True)
class Asked:
    """A day to ask about: lawns in order, what is said of the grass, air [°C], whether each was finished."""

    fields: tuple[Field, ...]
    growth_mm: float | None
    moisture: str | None
    air_c: float
    finished: tuple[bool, ...]


def m2_per_charge(owner: Owner) -> float:
    """The area of usual grass that a full new pack mows, roughly [m²]."""
    crew = owner.crew
    return owner.hours * 3600 * crew.pace_m_s * crew.width_m * (1 - crew.overlap) * 0.8


def days_asked(season: Season, count: int, purpose: int = 21) -> list[Asked]:
    """Days after the season, each with as much lawn as a charge mows or somewhat more, and how far it got."""
    owner, plans, told = season.owner, [], []
    for k in range(count):
        rng = stream(owner.seed, purpose, k)
        day = draw_day(rng, season.dullness, season.lushness)
        fields: list[Field] = []
        while sum(f.area_m2 for f in fields) < rng.uniform(1.0, 1.6) * m2_per_charge(owner) * owner.health:
            fields.append(owner.fields[int(rng.integers(len(owner.fields)))])
        power, done = mow(rng, owner.crew, fields, day)
        air = air_on(rng, owner, season.day_after)
        plans.append(Plan(0, power, air, float(rng.lognormal(0, 0.4)), 0.0, 1.0, stop_s=done[-1]))
        told.append((tuple(fields), done, *judged(rng, day)))
    power_w = padded([p.power_w for p in plans], max(len(p.power_w) for p in plans))
    went = run([owner], plans, power_w, stop_at=np.array([p.stop_s for p in plans], dtype=int))
    return [
        Asked(fields, growth, moisture, plan.air_c, tuple(bool(d <= end) for d in done))
        for (fields, done, growth, moisture), plan, end in zip(told, plans, went.end, strict=True)
    ]


@dataclass(frozen=True)
class Need:
    """The need of many days: lawns, what is said of the grass, coldest air [°C], each day's label [Ah] and
    energy [J]."""

    fields: tuple[Field, ...]
    growth_mm: float
    moisture: str
    coldest_c: float
    needs_ah: Array
    energy_j: Array


def days_of_a_kind(rng: np.random.Generator, count: int, dullness: float) -> tuple[float, str, list[Day]]:
    """What a volunteer says of the grass on a day, and true days of which exactly that would be said."""
    growth, moisture = None, None
    while growth is None or moisture is None or growth > 50:
        growth, moisture = judged(rng, draw_day(rng))
    days: list[Day] = []
    while len(days) < count:
        day = draw_day(rng, dullness)
        if judged(rng, day) == (growth, moisture):
            days.append(day)
    return growth, moisture, days


def lawns_of_a_day(rng: np.random.Generator, owner: Owner) -> list[Field]:
    """Lawns with about a third to four fifths of the area that a charge mows."""
    wanted = rng.uniform(0.35, 0.8) * m2_per_charge(owner)
    fields: list[Field] = []
    while not fields or sum(f.area_m2 for f in fields) < wanted - min(f.area_m2 for f in owner.fields) / 2:
        fields.append(owner.fields[int(rng.integers(len(owner.fields)))])
    return fields


def exact_need(season: Season, days: int = 80, purpose: int = 31) -> Need:
    """For each of many days, the smallest pack of these cells finishing it old, cold and with the reserve.

    A pack of S Ah gives S in a slow discharge when new, and 80 % of S at the end of its life. It finishes a
    day if the motor never stops and at most 90 % of that charge is drawn.
    """
    owner = season.owner
    rng = stream(owner.seed, purpose)
    fields = lawns_of_a_day(rng, owner)
    growth, moisture, of_kind = days_of_a_kind(rng, days, season.dullness)
    loads = [mow(rng, owner.crew, fields, day)[0] for day in of_kind]
    coldest = float(np.round(max(4.0, owner.air_c - 6)))
    energy_j = np.array([load.sum() for load in loads])
    needs = smallest_ah(owner, loads, coldest, rng.lognormal(0, 0.4, days))
    return Need(tuple(fields), growth, moisture, coldest, needs, energy_j)


def smallest_ah(
    owner: Owner,
    loads: list[Array],
    coldest_c: float,
    wind: Array,
    drain: Callable[..., Run] = discharge,
    slow_ah: Callable[..., Array] = slow_capacity_ah,
    rest: Callable[..., object] = at_rest,
) -> Array:
    """The label [Ah] of the smallest pack that finishes each of the loads [W in each second].

    drain, slow_ah, rest : functions for the owner's kind of cells: discharge, slow capacity, rested state
    """
    days = len(loads)
    each_s = padded(loads, -(-max(map(len, loads)) // STEP_S) * STEP_S)
    power = each_s.reshape(days, -1, STEP_S).mean(2)
    old = owner.aged(END_OF_LIFE)
    held_ah = slow_ah(old, np.full(1, owner.cut_off_v))[0]
    many = old.rows(np.zeros(days, dtype=int))
    energy_j = np.array([load.sum() for load in loads])
    low = np.log(energy_j) - np.log(owner.joules(1.0) * END_OF_LIFE * (1 - RESERVE)) - 0.3
    high = low + 1.6
    for _ in range(9):
        size = np.exp((low + high) / 2)
        cells = many.scaled(size * END_OF_LIFE / held_ah)
        went = drain(
            cells,
            rest(cells, coldest_c),
            power,
            np.full(days, coldest_c),
            step_s=float(STEP_S),
            cut_off_v=np.full(days, owner.cut_off_v),
            hold_s=owner.hold_s - 1.0,
            wind=wind,
            droop=owner.crew.droop,
            stop_at=np.full(days, 10**9),
        )
        fits = ~went.cut & (went.drawn_ah[:, -1] <= (1 - RESERVE) * END_OF_LIFE * size)
        low, high = np.where(fits, low, (low + high) / 2), np.where(fits, (low + high) / 2, high)
    return np.exp(high)
