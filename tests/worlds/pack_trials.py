"""Mows of many packs at once, with what the logs showed and what was true, for judging a pack fit."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from balanced_cells import joined
from cheap_meters import read_off
from discharging import Run, at_rest, discharge, slow_capacity_ah
from half_cells import Array
from owners import Owner, draw_day, stream
from patchy_mowing import OFF_W, mow

TAIL_S = 90
"""How long [s] the meters go on after the motor has stopped."""


@dataclass(frozen=True)
class Plan:
    """One mow to be made: power [W] each second, air [°C], wind, charge missing at first [Ah], start as told.

    stop_ah : charge drawn at which the person stops; infinite where the mow goes on to the cut-off
    stop_s : second at which the lawn is done; infinite where that does not matter
    health : of the pack, where it is not the owner's present one
    """

    owner: int
    power_w: Array
    air_c: float
    wind: float
    short_ah: float
    told: float | None
    stop_ah: float = np.inf
    stop_s: float = np.inf
    health: float | None = None


@dataclass(frozen=True)
class Made:
    """A mow that was made: its log, and the truth.

    columns : of the log; stop_s : second at which it ended; cut : whether the cut-off ended it; cut_s :
    second at which the cut-off would have ended it, had the person gone on; drawn_ah : in that case, at each
    second [Ah]; usable_ah : drawn until then
    """

    plan: Plan
    columns: dict[str, Array]
    stop_s: int
    cut: bool
    cut_s: int
    drawn_ah: Array
    usable_ah: float

    def until(self, seconds: float) -> dict[str, Array]:
        """The log as it was after `seconds`."""
        keep = self.columns["time_s"] <= seconds
        return {name: values[keep] for name, values in self.columns.items()}


def run(owners: list[Owner], plans: list[Plan], power: Array, stop_at: Array | None = None) -> Run:
    """Run plans side by side."""
    of = [owners[p.owner] for p in plans]
    aged = {(p.owner, p.health): o for p, o in zip(plans, of, strict=True)}
    cells_of = {key: o.cells if key[1] is None else o.aged(key[1]) for key, o in aged.items()}
    cells = joined([cells_of[p.owner, p.health] for p in plans])
    air = np.array([p.air_c for p in plans])
    state = at_rest(cells, 0.0)
    state.temp_c += air
    state.drawn_ah += np.array([p.short_ah for p in plans])
    return discharge(
        cells,
        state,
        power,
        air,
        stop_at=stop_at,
        cut_off_v=np.array([o.cut_off_v for o in of]),
        hold_s=np.array([o.hold_s for o in of]),
        wind=np.array([p.wind for p in plans]),
        droop=np.array([o.crew.droop for o in of]),
    )


def padded(loads: list[Array], length: int) -> Array:
    """Loads of unequal length side by side; beyond its end a load is small."""
    out = np.full((len(loads), length), OFF_W)
    for row, load in zip(out, loads, strict=True):
        row[: min(len(load), length)] = load[:length]
    return out


def read_logs(
    owners: list[Owner], plans: list[Plan], log: Run, stop: Array, purpose: int
) -> list[dict[str, Array]]:
    """What each owner's meters showed, up to some time after the motor stopped."""
    seen: Counter[int] = Counter()
    logs = []
    for k, plan in enumerate(plans):
        rng = stream(owners[plan.owner].seed, purpose, seen[plan.owner])
        seen[plan.owner] += 1
        upto = min(int(stop[k]) + int(rng.integers(20, TAIL_S)), log.current_a.shape[1])
        shown = (values[k, :upto] for values in (log.current_a, log.voltage_v, log.temp_c))
        logs.append(read_off(rng, owners[plan.owner].meters, *shown))
    return logs


def make_mows(owners: list[Owner], plans: list[Plan], purpose: int) -> list[Made]:
    """Carry out every plan twice: on to the cut-off for the truth, and as planned for the log."""
    power = padded([p.power_w for p in plans], max(len(p.power_w) for p in plans))
    on = run(owners, plans, power)
    drawn = on.drawn_ah - np.array([p.short_ah for p in plans], dtype=np.float32)[:, None]
    by_charge = (drawn < np.array([p.stop_ah for p in plans])[:, None]).sum(1)
    stop = np.minimum(np.minimum(by_charge, on.end), [p.stop_s for p in plans]).astype(int)
    longest = min(int(stop.max()) + TAIL_S, power.shape[1])
    log = run(owners, plans, power[:, :longest], stop_at=np.where(stop < on.end, stop, 10**9))
    return [
        Made(
            plan=plan,
            columns=columns,
            stop_s=int(stop[k]),
            cut=bool(on.cut[k] and stop[k] >= on.end[k]),
            cut_s=int(on.end[k]),
            drawn_ah=drawn[k].astype(float),
            usable_ah=float(drawn[k, on.end[k] - 1]),
        )
        for k, (plan, columns) in enumerate(
            zip(plans, read_logs(owners, plans, log, stop, purpose), strict=True)
        )
    ]


def start_of(rng: np.random.Generator, held_ah: float) -> tuple[float, float | None]:
    """Charge missing at the start [Ah], and the start charge as told: mostly full, and said to be."""
    if rng.random() < 0.7:
        return held_ah * abs(rng.normal(0, 0.006)), 1.0
    return (held_ah * (abs(rng.normal(0, 0.006)) if rng.random() < 0.5 else rng.uniform(0.05, 0.4))), None


def draw_plan(
    owners: list[Owner],
    which: int,
    number: int,
    purpose: int,
    held_ah: float,
    *,
    full: bool = False,
    to_the_end: bool = False,
) -> Plan:
    """A mow of one owner, stopped at 30 to 80 % of what the pack holds, or now and then by the cut-off.

    full : a discharge on purpose from full to the cut-off, mowing or idle
    """
    owner = owners[which]
    rng = stream(owner.seed, purpose, number, int(full))
    air = float(np.clip(owner.air_c + rng.normal(0, 4), 4, 32))
    short, told = (0.0, 1.0) if full else start_of(rng, held_ah)
    enough_j = 1.25 * owner.joules(held_ah)
    seconds = int(enough_j / owner.crew.idle_w)
    if full and seconds < 5 * 3600 and rng.random() < 0.6:
        power = owner.crew.idle_w * np.exp(0.03 * rng.normal(size=seconds))
        power[: int(rng.integers(20, 50))] = OFF_W
    else:
        field = owner.fields[int(rng.integers(len(owner.fields)))]
        power, _ = mow(rng, owner.crew, [field], draw_day(rng), enough_j)
    to_the_end = bool(rng.random() < 0.06) or full or to_the_end
    return Plan(
        owner=which,
        power_w=power,
        air_c=air,
        wind=float(rng.lognormal(0, 0.4)),
        short_ah=short,
        told=told,
        stop_ah=np.inf if to_the_end else max(rng.uniform(0.3, 0.8) * held_ah - short, 0.12 * held_ah),
    )


def true_capacity_ah(owners: list[Owner]) -> Array:
    """What each pack gives in a slow discharge at 25 °C [Ah], from full to the cut-off."""
    return slow_capacity_ah(joined([o.cells for o in owners]), np.array([o.cut_off_v for o in owners]))
