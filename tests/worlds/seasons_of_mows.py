"""A season: one owner's mows in order of time, with what the owner says about each.

Blades dull slowly and are sharpened; weather and grass differ from mow to mow; from some mow on the machine
may be a changed one, and the pack may be older with every mow.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from half_cells import Array
from owners import Owner, draw_day, judged, stream
from pack_trials import TAIL_S, Plan, padded, read_logs, run, start_of
from patchy_mowing import Day, Field, mow

BEGIN = datetime(2025, 4, 5, 10, 0)


@dataclass(frozen=True)
class Change:
    """A change of the machine: cutting energy is multiplied by `factor` from mow `first` on."""

    first: int
    factor: float


@dataclass(frozen=True)
class Outing:
    """One mow before it is run: the plan, the truth about lawn and day, and what is said of them."""

    plan: Plan
    field: Field
    day: Day
    growth_mm: float | None
    moisture: str | None
    started: datetime
    changed: bool


@dataclass(frozen=True)
class Season:
    """The mows of one owner: outings, their logs, whether the cut-off ended each, dates of blade care.

    day_after : the day after the last mow on which questions are asked; dullness, lushness : on that day
    """

    owner: Owner
    outings: tuple[Outing, ...]
    logs: tuple[dict[str, Array], ...]
    cut: tuple[bool, ...]
    care: tuple[datetime, ...]
    day_after: datetime
    dullness: float
    lushness: float


@dataclass(frozen=True)
class Course:
    """What drifts over a season: dullness of the blades, lushness of the grass; dates of mows and of care."""

    dullness: Array
    lushness: Array
    care: tuple[datetime, ...]
    dates: tuple[datetime, ...]


def draw_course(rng: np.random.Generator, mows: int) -> Course:
    """Dates about a week apart, one more than mows, and blades that dull between sharpenings."""
    dates = BEGIN + np.cumsum([timedelta(days=float(d)) for d in rng.uniform(4, 10, mows + 1)])
    each, rate, since = int(rng.integers(7, 15)), rng.uniform(0, 0.025), int(rng.integers(0, 8))
    dull, care = [], []
    for k in range(mows + 1):
        if since + k and (since + k) % each == 0:
            care.append(dates[k] - timedelta(days=1))
        dull.append(1 + rate * ((since + k) % each))
    days = np.array([(date - dates[0]).days for date in dates])
    lush = np.exp(rng.normal(0, 0.04) * np.sqrt(2) * np.sin(2 * np.pi * (days / 200 + rng.random())))
    return Course(np.array(dull), lush, tuple(care), tuple(dates))


def air_on(rng: np.random.Generator, owner: Owner, when: datetime) -> float:
    """Air temperature [°C] on one day: warmest in late July, from 4 to 32."""
    season = 5 * np.cos((when - datetime(when.year, 7, 25)).days / 365.25 * 2 * np.pi)
    return float(np.clip(owner.air_c - 2.5 + season + rng.normal(0, 2.5), 4, 32))


@dataclass(frozen=True)
class Mown:
    """One lawn mown on one day: its power [W] in each second, and when each lawn was done [s].

    rng : the random numbers of that mow, for whatever else is drawn for it
    """

    rng: np.random.Generator
    field: Field
    day: Day
    power_w: Array
    done_s: list[int]
    changed: bool


def mown_on(owner: Owner, course: Course, k: int, purpose: int, change: Change | None) -> Mown:
    """Mow `k` of a season, on one lawn; from `change.first` on with the changed machine."""
    rng = stream(owner.seed, purpose, 1, k)
    day = draw_day(rng, float(course.dullness[k]), float(course.lushness[k]))
    field = owner.fields[int(rng.integers(len(owner.fields)))]
    crew, changed = owner.crew, change is not None and k >= change.first
    if change is not None and changed:
        crew = replace(crew, cut_j_m2=crew.cut_j_m2 * change.factor)
    power_w, done_s = mow(rng, crew, [field], day)
    return Mown(rng, field, day, power_w, done_s, changed)


def draw_outings(
    owners: list[Owner],
    which: int,
    mows: int,
    purpose: int,
    healths: Array | None = None,
    change: Change | None = None,
) -> tuple[list[Outing], Course]:
    """The mows of one owner before they are run; nearly all start full."""
    owner = owners[which]
    course = draw_course(stream(owner.seed, purpose), mows)
    outings = []
    for k, started in enumerate(course.dates[:mows]):
        mown = mown_on(owner, course, k, purpose, change)
        rng = mown.rng
        held = owner.new_ah * (owner.health if healths is None else float(healths[k]))
        short, told = start_of(rng, held) if rng.random() < 0.3 else (0.0, 1.0)
        plan = Plan(
            owner=which,
            power_w=mown.power_w,
            air_c=air_on(rng, owner, started),
            wind=float(rng.lognormal(0, 0.4)),
            short_ah=short,
            told=told,
            stop_s=mown.done_s[-1],
            health=None if healths is None else float(healths[k]),
        )
        growth, moisture = judged(rng, mown.day)
        outings.append(Outing(plan, mown.field, mown.day, growth, moisture, started, mown.changed))
    return outings, course


def make_seasons(
    owners: list[Owner],
    mows: int,
    purpose: int = 11,
    healths: list[Array] | None = None,
    changes: list[Change | None] | None = None,
) -> list[Season]:
    """Make seasons of `mows` mows each, run side by side."""
    drawn = [
        draw_outings(
            owners,
            k,
            mows,
            purpose,
            None if healths is None else healths[k],
            None if changes is None else changes[k],
        )
        for k in range(len(owners))
    ]
    plans = [o.plan for outings, _ in drawn for o in outings]
    power = padded([p.power_w for p in plans], max(len(p.power_w) for p in plans) + TAIL_S)
    lawn_done = np.array([p.stop_s for p in plans], dtype=int)
    log = run(owners, plans, power, stop_at=lawn_done)
    logs = read_logs(owners, plans, log, log.end, purpose)
    seasons = []
    for k, (outings, course) in enumerate(drawn):
        part = slice(k * mows, (k + 1) * mows)
        seasons.append(
            Season(
                owner=owners[k],
                outings=tuple(outings),
                logs=tuple(logs[part]),
                cut=tuple(bool(c) for c in log.cut[part]),
                care=course.care,
                day_after=course.dates[mows],
                dullness=float(course.dullness[mows]),
                lushness=float(course.lushness[mows]),
            )
        )
    return seasons
