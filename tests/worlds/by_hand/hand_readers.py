"""People with a clamp that holds the highest reading, a voltmeter and a watch: what they note of a mow.

Nobody writes nonsense here; people round, forget a number, misjudge the grass and are a little off. How many
have which habit, and how much habits differ, is invented.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from half_cells import Array
from load_habits import HERTZ, clamp_shows, ripple

GLANCE_S = 3
"""How long a stretch [s] of a fluctuating display an eye averages."""


@dataclass(frozen=True)
class Notes:
    """What one person wrote about one mow; None where nothing was written.

    gauge_before, gauge_after : percent, 0..100; start_charge : 0..1; socket_wh : from the socket for charging
    after the mow; pack_wh, put_back_ah : into the pack until it was full, by the charger's display
    """

    date: date
    lawn: str
    area_m2: float | None = None
    idle_a: float | None = None
    typical_a: float | None = None
    highest_a: float | None = None
    minutes: float | None = None
    volts_before_v: float | None = None
    rested_before_min: float | None = None
    volts_after_v: float | None = None
    rested_after_min: float | None = None
    load_volts_v: float | None = None
    gauge_before: float | None = None
    gauge_after: float | None = None
    socket_wh: float | None = None
    pack_wh: float | None = None
    put_back_ah: float | None = None
    start_charge: float | None = None
    moisture: str | None = None
    growth_mm: float | None = None
    days_since_cut: int | None = None


@dataclass(frozen=True)
class Reader:
    """One person's instruments and habits, the same all season.

    clamp_* : gain, offset, step, time constant; lean : what is called typical, from 0 (median of the glances)
    to 1 (their mean); eye : factor on that; early : glances only in the first third; catches_surge : holds
    the highest from before the start; watch_min : minutes are rounded to this; keeps_break : forgets to
    deduct a break; rest_before_min, rest_after_min : usual rests; gauge : "", "volts" or "counts", in steps
    of `gauge_step` percent; charger : efficiency from socket to pack; energy_over, charge_over : put back
    over drawn; writes : names of what is usually written
    """

    clamp_gain: float
    clamp_zero_a: float
    clamp_step_a: float
    clamp_tau_s: float
    lean: float
    eye: float
    glances: int
    early: bool
    round_a: float
    catches_surge: bool
    surge: float
    ripple: float
    watch_min: float
    keeps_break: bool
    volt_gain: float
    volt_step_v: float
    rest_before_min: float
    rest_after_min: float
    gauge: str
    gauge_step: float
    gauge_off: float
    charger: float
    energy_over: float
    charge_over: float
    meter_gain: float
    writes: frozenset[str]
    forgets: float


OFTEN = {
    "idle_a": 0.65, "typical_a": 0.93, "highest_a": 0.75, "minutes": 0.93, "volts_before_v": 0.75,
    "rested_before_min": 0.4, "volts_after_v": 0.75, "rested_after_min": 0.6, "load_volts_v": 0.4,
    "socket_wh": 0.25, "pack_wh": 0.12, "put_back_ah": 0.08, "moisture": 0.9, "growth_mm": 0.85,
    "days_since_cut": 0.5, "area_m2": 0.85, "start_charge": 0.85,
}  # fmt: skip
"""Share of people who usually write down each of these."""


def draw_reader(rng: np.random.Generator, usual_a: float, acid: bool) -> Reader:
    """A person with instruments for about `usual_a`."""
    writes = {name for name, often in OFTEN.items() if rng.random() < often}
    gauge = str(rng.choice(["", "volts", "counts"], p=[0.65, 0.2, 0.15]))
    if gauge:
        writes |= {"gauge_before", "gauge_after"}
    if not writes & {"typical_a", "volts_after_v", "socket_wh"}:
        writes.add("typical_a")
    return Reader(
        clamp_gain=float(np.clip(rng.normal(0, 0.015), -0.035, 0.035)),
        clamp_zero_a=float(rng.normal(0, 0.005 * usual_a)),
        clamp_step_a=float(rng.choice([0.01, 0.1], p=[0.3, 0.7])),
        clamp_tau_s=rng.uniform(0.1, 0.3),
        lean=rng.uniform(0, 1),
        eye=rng.lognormal(0, 0.05),
        glances=int(rng.integers(4, 16)),
        early=bool(rng.random() < 0.25),
        round_a=float(rng.choice([0.1, 0.5, 1.0] if usual_a > 8 else [0.1, 0.1, 0.5])),
        catches_surge=bool(rng.random() < 0.3),
        surge=rng.uniform(2.5, 7.0),
        ripple=rng.uniform(0.02, 0.20),
        watch_min=float(rng.choice([1, 5], p=[0.65, 0.35])),
        keeps_break=bool(rng.random() < 0.5),
        volt_gain=rng.normal(0, 0.003),
        volt_step_v=0.1,
        rest_before_min=float(rng.choice([20, 60, 180, 720, 2880])),
        rest_after_min=float(rng.choice([1, 2, 5, 10, 20, 30, 60])),
        gauge=gauge,
        gauge_step=float(rng.choice([10, 20, 25]) if gauge == "volts" else rng.choice([1, 5])),
        gauge_off=rng.normal(0, 3.0),
        charger=rng.uniform(0.80, 0.93) if not acid else rng.uniform(0.72, 0.88),
        energy_over=rng.uniform(1.02, 1.08) if not acid else rng.uniform(1.18, 1.35),
        charge_over=rng.uniform(1.0, 1.01) if not acid else rng.uniform(1.06, 1.16),
        meter_gain=rng.normal(0, 0.01),
        writes=frozenset(writes),
        forgets=rng.uniform(0, 0.10),
    )


def stepped(value: float, step: float) -> float:
    """The nearest figure in the steps of a display, or in a person's rounding.

    >>> stepped(12.34, 0.5), stepped(23.0, 5)
    (12.5, 25)
    """
    return round(round(value / step) * step, 4)


@dataclass(frozen=True)
class Happened:
    """What there was to be read in one mow.

    amps, cutting : current [A] in each second from the start of the blades, and whether grass was cut; idle :
    the first seconds of it, in no grass; most_a : the most that the controller gives; load_v : volts in each
    second; before_v, after_v : volts at rest before and after; whole_min : with breaks, clear_min : without;
    share_before, share_after : charge, 0..1; gauge_v : volts when empty and full; full_ah, full_wh : drawn
    since the pack was full
    """

    amps: Array
    cutting: Array
    idle: slice
    most_a: float
    load_v: Array
    before_v: float
    rested_before_min: float
    after_v: float
    rested_after_min: float
    whole_min: float
    clear_min: float
    share_before: float
    share_after: float
    gauge_v: tuple[float, float]
    full_ah: float
    full_wh: float


def _clamp(reader: Reader, amps: float) -> float:
    return stepped(amps * (1 + reader.clamp_gain) + reader.clamp_zero_a, reader.clamp_step_a)


def typical_of(rng: np.random.Generator, reader: Reader, happened: Happened) -> float:
    """What the person calls typical [A]: between the median and the mean of glances while cutting."""
    eye = np.convolve(happened.amps, np.full(GLANCE_S, 1 / GLANCE_S), "same")
    when = np.flatnonzero(happened.cutting)
    if reader.early:
        when = when[: max(len(when) // 3, 1)]
    seen = eye[rng.choice(when, reader.glances)]
    middle = (1 - reader.lean) * np.median(seen) + reader.lean * seen.mean()
    return stepped(_clamp(reader, float(middle)) * reader.eye, reader.round_a)


def highest_of(rng: np.random.Generator, reader: Reader, happened: Happened) -> float:
    """What the clamp holds [A]: with swings within a second, and for some with the surge at the start."""
    swing = happened.amps[:, None] * ripple(rng, len(happened.amps), reader.ripple)
    amps = np.minimum(swing, happened.most_a).ravel()
    shown = clamp_shows(amps, reader.clamp_tau_s)
    if not reader.catches_surge:
        return _clamp(reader, float(shown[HERTZ * happened.idle.start :].max()))
    idle = float(happened.amps[happened.idle].mean())
    start = np.exp(-np.arange(3 * HERTZ) / HERTZ / 0.4) * (reader.surge - 1) * idle + idle
    return _clamp(reader, float(max(shown.max(), clamp_shows(start, reader.clamp_tau_s).max())))


def _gauge(rng: np.random.Generator, reader: Reader, share: float, volts: float, happened: Happened) -> float:
    if reader.gauge == "volts":
        empty, full = happened.gauge_v
        percent = 100 * (volts - empty) / (full - empty) + reader.gauge_off
    else:
        percent = 100 * share + (reader.gauge_off if share < 0.99 else 0) + rng.normal(0, 0.5)
    return stepped(float(np.clip(percent, 0, 100)), reader.gauge_step)


def write(rng: np.random.Generator, reader: Reader, happened: Happened, judged: Notes) -> Notes:
    """The notes of one mow: `judged` (date, lawn, grass, start) and what the instruments showed."""
    volts = lambda value: stepped(value * (1 + reader.volt_gain), reader.volt_step_v)  # noqa: E731
    glance = int(rng.choice(np.flatnonzero(happened.cutting)))
    over = 1 + reader.meter_gain
    pack_wh = happened.full_wh * reader.energy_over * over
    minutes = happened.whole_min if reader.keeps_break else happened.clear_min
    notes = replace(
        judged,
        idle_a=_clamp(reader, float(happened.amps[happened.idle].mean())),
        typical_a=typical_of(rng, reader, happened),
        highest_a=highest_of(rng, reader, happened),
        minutes=max(stepped(minutes + rng.normal(0, 0.4), reader.watch_min), reader.watch_min),
        volts_before_v=volts(happened.before_v),
        rested_before_min=happened.rested_before_min,
        volts_after_v=volts(happened.after_v),
        rested_after_min=float(max(round(happened.rested_after_min), 1)),
        load_volts_v=volts(float(happened.load_v[glance])),
        socket_wh=float(round(pack_wh / reader.charger)),
        pack_wh=float(round(pack_wh)),
        put_back_ah=round(happened.full_ah * reader.charge_over * over, 1),
    )
    if reader.gauge:
        notes = replace(
            notes,
            gauge_before=_gauge(rng, reader, happened.share_before, happened.before_v, happened),
            gauge_after=_gauge(rng, reader, happened.share_after, happened.after_v, happened),
        )
    able = (*OFTEN, "gauge_before", "gauge_after")
    missing = [n for n in able if n not in reader.writes or rng.random() < reader.forgets]
    return replace(notes, **dict.fromkeys(missing))
