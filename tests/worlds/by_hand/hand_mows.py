"""One mow of somebody who logs nothing: mown to its end, carried on to the cut-off, and left to rest.

It is carried on in the same kind of grass, so that the minutes that were left are known; the rest is for the
voltmeter. The break that some take lies between the start of the blades and the stop.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from acid_cells import AcidCells, acid_at_rest, drain, draw_acid_owner
from discharging import Run, at_rest
from half_cells import Array
from load_habits import HABITS
from owners import Owner, draw_owner, hurried, stream
from patchy_mowing import OFF_W, Day, Field

CHEMISTRIES = ("nmc", "lfp", "lead-acid")
PURPOSE = 41
STEP_S, ON_S, REST_S = 2, 4, 20
"""Length of a step [s] while mowing, while going on to the cut-off, and at rest."""
MOST_C = 2.0
REST_AT_MOST_MIN = 90.0


@dataclass(frozen=True)
class Outing:
    """One mow before it is made: power [W] in each second from the start of the blades to the end of the
    lawn, whether grass is cut, area done [m²], the seconds of the break and of idling, how it would go on,
    the lawn, the day and days since the last cut."""

    power_w: Array
    cutting: Array
    area_m2: Array
    pause: slice
    idle: slice
    on_w: Array
    field: Field
    day: Day
    waited_days: int
    air_c: float
    wind: float
    short_ah: float


def draw_hand_owner(seed: int, chemistry: str) -> Owner:
    """An owner whose pack lasts, in usual grass, as long as at about 0.8 C to 1.8 C."""
    acid = chemistry == "lead-acid"
    owner = draw_acid_owner(seed) if acid else draw_owner(seed, chemistry)
    pace_c = stream(seed, PURPOSE, 5).uniform(0.8, 1.0 if acid else 1.8)
    fast = hurried(owner, 1 / pace_c)
    reach = 0.6 if acid else 1.0  # lead-acid gives about half at this pace, and people know how far they get
    fields = tuple(replace(f, area_m2=float(round(f.area_m2 * reach))) for f in fast.fields)
    return replace(fast, fields=fields, label_ah=round(fast.label_ah, 1))


def asked(rng: np.random.Generator, owner: Owner, habit: str, field: Field, day: Day) -> tuple[Array, Array]:
    """Power [W] and area done [m²] in each second of one lawn."""
    power, area = HABITS[habit](rng, owner.crew, field, day)
    above = np.maximum(power - owner.crew.idle_w, 0)
    most_w = MOST_C * owner.label_ah * owner.cut_off_v
    less = np.clip((power.mean() - most_w) / above.mean(), 0, 1)
    return power - less * above, area  # people who would draw more than 2 C take less grass at a time


def draw_outing(rng: np.random.Generator, owner: Owner, habit: str, field: Field, day: Day) -> Outing:
    """One lawn mown by one habit from full at 20 °C, perhaps with a break, and carried on in the same way."""
    lawn_w, area = asked(rng, owner, habit, field, day)
    idle_s = int(rng.integers(8, 20))
    power = np.r_[owner.crew.idle_w * np.r_[2.0, 1.4, np.ones(idle_s)], lawn_w]
    area = np.r_[np.zeros(2 + idle_s), area]
    cutting = np.diff(area, prepend=0.0) > 0
    at, length = int(len(power) * rng.uniform(0.3, 0.7)), 0
    if rng.random() < 0.2:
        length = int(rng.uniform(0.08, 0.35) * len(power))
    even = (len(power) + length) % STEP_S
    power = np.r_[power[:at], np.full(length, OFF_W), power[at:], power[-1:].repeat(even)]
    cutting = np.r_[cutting[:at], np.zeros(length, bool), cutting[at:], cutting[-1:].repeat(even)]
    area = np.r_[area[:at], np.full(length, area[at - 1]), area[at:], area[-1:].repeat(even)]
    on: list[Array] = []
    wanted = 1.35 * owner.joules(owner.new_ah * owner.health) - power.sum()
    while not on or sum(float(o.sum()) for o in on) < wanted:
        on.append(asked(rng, owner, habit, field, day)[0])
    return Outing(
        power_w=power,
        cutting=cutting,
        area_m2=area,
        pause=slice(at, at + length),
        idle=slice(4, 2 + idle_s),
        on_w=np.concatenate(on),
        field=field,
        day=day,
        waited_days=7,
        air_c=20.0,
        wind=float(rng.lognormal(0, 0.4)),
        short_ah=0.0,
    )


def _stepped(loads: list[Array], step_s: int, *, late: bool) -> Array:
    """Loads side by side as means over steps; `late` aligns their ends, with a step or more of rest first."""
    steps = max(len(load) for load in loads) // step_s + 1
    out = np.zeros((len(loads), steps))
    for row, load in zip(out, loads, strict=True):
        mean = load[: len(load) // step_s * step_s].reshape(-1, step_s).mean(1)
        row[slice(steps - len(mean), None) if late else slice(len(mean))] = mean
    return out


@dataclass(frozen=True)
class Went:
    """The mows of a season as they went: while mowing, carried on, and at rest."""

    mowing: Run
    on: Run
    rest: Run

    def rested_v(self, row: int, minutes: float) -> float:
        """Volts at rest so many minutes after the motor stopped."""
        volts, end = self.mowing.voltage_v[row], int(self.mowing.end[row])
        after_s = minutes * 60 - (len(volts) - end) * STEP_S
        if after_s <= 0:
            return float(volts[end + int(minutes * 60 / STEP_S) - 1])
        return float(self.rest.voltage_v[row, min(int(after_s / REST_S), self.rest.voltage_v.shape[1] - 1)])


def make_mows(owner: Owner, outings: list[Outing]) -> Went:
    """All mows of a season side by side."""
    n = len(outings)
    cells = owner.cells.rows(np.zeros(n, dtype=int))
    air, wind = np.array([o.air_c for o in outings]), np.array([o.wind for o in outings])
    full = acid_at_rest if isinstance(owner.cells, AcidCells) else at_rest
    state = full(cells, air, np.array([o.short_ah for o in outings]))
    given = {
        "cut_off_v": np.full(n, owner.cut_off_v), "hold_s": owner.hold_s - 1.0, "wind": wind,
        "droop": owner.crew.droop,
    }  # fmt: skip
    never = np.full(n, 10**9)
    load = _stepped([o.power_w for o in outings], STEP_S, late=True)
    mowing = drain(cells, state, load, air, step_s=float(STEP_S), stop_at=never, **given)
    stopped = mowing.state.copy()
    on_w = _stepped([o.on_w for o in outings], ON_S, late=False)
    on = drain(cells, mowing.state.copy(), on_w, air, step_s=float(ON_S), **given)
    still = np.zeros((n, int(REST_AT_MOST_MIN * 60 / REST_S)))
    return Went(mowing, on, drain(cells, stopped, still, air, step_s=float(REST_S), as_current=True))


@dataclass(frozen=True)
class Truth:
    """What was true of one mow.

    minutes : from the start of the blades to the stop, without the break (whole_minutes: with it); mean_a,
    median_a : over these; cutting_a : while cutting; highest_a : of one second; charge_start, charge_end : of
    usable_ah, 0..1; to_cut_ah : from this start down to the cut-off in this mowing; left_half_min : left
    after half of `minutes`; pack_c : mean temperature; cut : whether the cut-off stopped it
    """

    minutes: float
    whole_minutes: float
    mean_a: float
    median_a: float
    cutting_a: float
    idle_a: float
    highest_a: float
    charge_ah: float
    energy_wh: float
    charge_start: float
    charge_end: float
    to_cut_ah: float
    left_end_min: float
    left_half_min: float
    air_c: float
    pack_c: float
    area_m2: float
    growth_mm: float
    wetness: float
    cut: bool


def seconds_of(outing: Outing, went: Went, row: int) -> tuple[Array, Array]:
    """Amps and volts in each second from the start of the blades to the stop."""
    run = went.mowing
    steps = len(outing.power_w) // STEP_S
    first = run.current_a.shape[1] - steps
    upto = int(run.end[row])
    amps, volts = (
        np.repeat(v[row, first:upto], STEP_S).astype(float) for v in (run.current_a, run.voltage_v)
    )
    power = outing.power_w[: len(amps)]
    mean = np.repeat(power.reshape(-1, STEP_S).mean(1), STEP_S)
    return amps * power / mean, volts  # each second gets its share of the step in proportion to its load


def true_of(outing: Outing, went: Went, row: int, usable_ah: float) -> Truth:
    """The truth of one mow."""
    amps, volts = seconds_of(outing, went, row)
    clear = np.ones(len(amps), bool)
    clear[outing.pause] = False
    cutting, cut = outing.cutting[: len(amps)], bool(went.mowing.cut[row])
    minutes = float(clear.sum() / 60)
    left = 0.0 if cut else float(went.on.end[row] * ON_S / 60)
    drawn = float(went.mowing.drawn_ah[row, -1])
    on_ah = 0.0 if cut else float(went.on.drawn_ah[row, went.on.end[row] - 1]) - drawn
    temp = went.mowing.temp_c[row, went.mowing.temp_c.shape[1] - len(outing.power_w) // STEP_S :]
    return Truth(
        minutes=minutes,
        whole_minutes=len(amps) / 60,
        mean_a=float(amps[clear].mean()),
        median_a=float(np.median(amps[clear])),
        cutting_a=float(amps[cutting].mean()),
        idle_a=float(amps[outing.idle].mean()),
        highest_a=float(amps.max()),
        charge_ah=drawn - outing.short_ah,
        energy_wh=float((amps * volts).sum() / 3600),
        charge_start=1 - outing.short_ah / usable_ah,
        charge_end=1 - drawn / usable_ah,
        to_cut_ah=drawn - outing.short_ah + on_ah,
        left_end_min=left,
        left_half_min=left + minutes / 2,
        air_c=outing.air_c,
        pack_c=float(temp.mean()),
        area_m2=float(outing.area_m2[len(amps) - 1]),
        growth_mm=outing.day.growth_mm,
        wetness=outing.day.wetness,
        cut=cut,
    )
