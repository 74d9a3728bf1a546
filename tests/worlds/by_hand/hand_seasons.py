"""A season of somebody who logs nothing: the notes of every mow, and what was true of each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from acid_cells import AcidCells, acid_at_rest, drain, slow_charge_ah
from days_to_come import Need, days_of_a_kind, lawns_of_a_day, smallest_ah
from discharging import at_rest
from hand_mows import (
    CHEMISTRIES,
    PURPOSE,
    REST_AT_MOST_MIN,
    Outing,
    Truth,
    Went,
    asked,
    draw_hand_owner,
    draw_outing,
    make_mows,
    seconds_of,
    true_of,
)
from hand_readers import Happened, Notes, Reader, draw_reader, stepped, write
from load_habits import HABITS
from owners import Owner, draw_day, judged, stream
from pack_trials import start_of
from patchy_mowing import OFF_W
from seasons_of_mows import Course, air_on, draw_course

SURFACE_V, SURFACE_MIN = 0.05, 180.0
"""What charging leaves on a lead-acid cell [V], and the time in which it fades [min] (common practice)."""
LONGEST = 60
"""Most mows of a season; a shorter season is the beginning of the same one."""


@dataclass(frozen=True)
class HandSeason:
    """One person's season; usable_ah : what the pack now gives in 20 h at 25 °C; label : `owner.label_ah`.

    dullness : of the blades on the day after the last mow
    """

    owner: Owner
    reader: Reader
    habit: str
    usable_ah: float
    notes: tuple[Notes, ...]
    truths: tuple[Truth, ...]
    dullness: float


def habit_of(seed: int, chemistry: str) -> str:
    """How this machine loads its pack; each habit is equally frequent in both halves and every chemistry."""
    return list(HABITS)[(seed // 2 + CHEMISTRIES.index(chemistry)) % len(HABITS)]


def draw_outings(owner: Owner, habit: str, mows: int) -> tuple[list[Outing], Course]:
    """The mows of a season before they are made, and what drifts over the season."""
    course = draw_course(stream(owner.seed, PURPOSE), LONGEST)
    usual = 7.0 * len(owner.fields)
    last: dict[str, datetime] = {}
    outings = []
    for k, started in enumerate(course.dates[:mows]):
        rng = stream(owner.seed, PURPOSE, 1, k)
        field = owner.fields[int(rng.integers(len(owner.fields)))]
        wait = round(usual * rng.lognormal(0, 0.3))
        if field.name in last:
            wait = (started - last[field.name]).days
        last[field.name] = started
        grown = 24 * (wait / usual) ** 0.7 * rng.lognormal(0, 0.25)
        like = draw_day(rng, float(course.dullness[k]), float(course.lushness[k]))
        day = replace(like, growth_mm=float(np.clip(grown, 6, 80)))
        outing = draw_outing(rng, owner, habit, field, day)
        short = start_of(rng, owner.new_ah * owner.health)[0] if rng.random() < 0.3 else 0.0
        air = air_on(rng, owner, started)
        outings.append(replace(outing, waited_days=wait, air_c=air, short_ah=short))
    return outings, course


def happened_in(
    rng: np.random.Generator,
    owner: Owner,
    reader: Reader,
    outing: Outing,
    went: Went,
    row: int,
    true: Truth,
) -> Happened:
    """What there was to be read in one mow."""
    amps, volts = seconds_of(outing, went, row)
    before_min = float(np.round(reader.rest_before_min * rng.lognormal(0, 0.2) / 10) * 10)
    after_min = float(np.clip(reader.rest_after_min * rng.lognormal(0, 0.2), 0.5, REST_AT_MOST_MIN - 1))
    before_v, cells = float(went.mowing.voltage_v[row, 0]), owner.cells
    if isinstance(cells, AcidCells):
        before_v += SURFACE_V * owner.series * np.exp(-before_min / SURFACE_MIN)
        span = (cells.volts_of(np.full(1, 0.2))[0], cells.full_v[0])
    else:
        ends = cells.equilibrium_v(np.array([[0.0, 0.93 * owner.new_ah * owner.health]]))
        span = (ends[0, 1], ends[0, 0])
    missing_wh = outing.short_ah * owner.joules(1.0) / 3600
    return Happened(
        amps=amps,
        cutting=outing.cutting[: len(amps)],
        idle=outing.idle,
        most_a=owner.crew.most_w / float(volts.mean()),
        load_v=volts,
        before_v=before_v,
        rested_before_min=before_min,
        after_v=went.rested_v(row, after_min),
        rested_after_min=after_min,
        whole_min=true.whole_minutes,
        clear_min=true.minutes,
        share_before=true.charge_start,
        share_after=true.charge_end,
        gauge_v=(span[0] * owner.series, span[1] * owner.series),
        full_ah=true.charge_ah + outing.short_ah,
        full_wh=true.energy_wh + missing_wh,
    )


def _judged(rng: np.random.Generator, outing: Outing, when: datetime, charge_start: float) -> Notes:
    """What the person says without any instrument."""
    growth, moisture = judged(rng, outing.day)
    start = 1.0 if outing.short_ah == 0 or charge_start > 0.985 else None
    if start is None and rng.random() < 0.5:
        start = min(stepped(charge_start + rng.normal(0, 0.08), 0.1), 1.0)
    return Notes(
        date=when.date(),
        lawn=outing.field.name,
        area_m2=stepped(outing.field.area_m2, 10.0 if outing.field.area_m2 > 100 else 1.0),
        start_charge=start,
        growth_mm=growth,
        moisture=moisture,
        days_since_cut=outing.waited_days,
    )


def make_season(seed: int, chemistry: str, mows: int) -> HandSeason:
    """One person's season of `mows` mows on nmc, lfp or lead-acid cells; odd seeds are the closed half."""
    owner, habit = draw_hand_owner(seed, chemistry), habit_of(seed, chemistry)
    usable_ah = float(slow_charge_ah(owner.cells, np.full(1, owner.cut_off_v))[0])
    rng = stream(seed, PURPOSE, 7, *chemistry.encode())
    reader = draw_reader(rng, owner.label_ah / owner.hours, chemistry == "lead-acid")
    outings, course = draw_outings(owner, habit, mows)
    went = make_mows(owner, outings)
    truths = tuple(true_of(outing, went, k, usable_ah) for k, outing in enumerate(outings))
    notes = []
    for k, (outing, true) in enumerate(zip(outings, truths, strict=True)):
        rng = stream(seed, PURPOSE, 2, k)
        said = _judged(rng, outing, course.dates[k], true.charge_start)
        notes.append(write(rng, reader, happened_in(rng, owner, reader, outing, went, k, true), said))
    return HandSeason(owner, reader, habit, usable_ah, tuple(notes), truths, float(course.dullness[mows]))


def need_of(season: HandSeason, days: int = 60) -> Need:
    """The exact need, as in `days_to_come.exact_need`, of days mown by this person's habit.

    A pack enough for 95 % of days has a label of `np.quantile(need.needs_ah, 0.95)` [Ah].
    """
    owner = season.owner
    rng = stream(owner.seed, PURPOSE, 8)
    fields = lawns_of_a_day(rng, owner)
    growth, moisture, of_kind = days_of_a_kind(rng, days, season.dullness)
    rest_w = np.full(60, OFF_W)
    loads = [
        np.concatenate([w for f in fields for w in (asked(rng, owner, season.habit, f, day)[0], rest_w)])
        for day in of_kind
    ]
    coldest = float(np.round(max(4.0, owner.air_c - 6)))
    rest = acid_at_rest if isinstance(owner.cells, AcidCells) else at_rest
    wind = rng.lognormal(0, 0.4, days)
    needs = smallest_ah(owner, loads, coldest, wind, drain, slow_charge_ah, rest)
    return Need(tuple(fields), growth, moisture, coldest, needs, np.array([w.sum() for w in loads]))
