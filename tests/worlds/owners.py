"""Owners, their packs and what they mow: everything that one seed decides.

Even seeds are the open half, which anybody may look at; odd seeds are the closed half, which nobody looks at
before the estimator is finished.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from balanced_cells import Cells, Make, draw_cells, draw_make
from cheap_meters import Meters, draw_meters
from patchy_mowing import Crew, Day, Field

SEASON = datetime(2025, 7, 1)
HALVES = {"open": 0, "closed": 1}
CELL_V = {"nmc": 3.65, "lfp": 3.25}


def seeds(half: str, count: int) -> list[int]:
    """The first `count` seeds of a half; "closed+24" skips its first 24 seeds.

    >>> seeds("open", 3), seeds("closed", 3), seeds("closed+24", 2)
    ([0, 2, 4], [1, 3, 5], [49, 51])
    """
    name, _, after = half.partition("+")
    first = HALVES[name] + 2 * int(after or 0)
    return list(range(first, first + 2 * count, 2))


def stream(seed: int, *purpose: int) -> np.random.Generator:
    """Random numbers of one seed for one purpose, independent of what was drawn for others."""
    return np.random.default_rng([20_270, seed, *purpose])


@dataclass(frozen=True)
class Owner:
    """A pack with its label, a machine with the person behind it, lawns, meters and habits.

    health : capacity now over capacity when new; hours : how long a full pack lasts in usual mowing;
    knows_air : whether the owner tells the air temperature; air_c : mean air temperature of the season [°C]
    """

    seed: int
    chemistry: str
    make: Make
    cells: Cells
    label_ah: float
    new_ah: float
    health: float
    series: int
    cut_off_v: float
    hold_s: float
    crew: Crew
    fields: tuple[Field, ...]
    meters: Meters
    hours: float
    knows_air: bool
    air_c: float

    @property
    def first_year(self) -> int | None:
        """Year of the pack's first use, which eight owners of ten know.

        Packs fade partly with the square root of the years and partly in proportion to them, each by its own
        amounts; none is older than twenty years.
        """
        rng = stream(self.seed, 12)
        root, even = rng.uniform(0.01, 0.06), rng.uniform(0.002, 0.03)
        fade = 1 - self.health
        years = ((np.sqrt(root**2 + 4 * even * fade) - root) / (2 * even)) ** 2
        return None if rng.random() < 0.2 else SEASON.year - int(min(years, 20.0) + rng.random())

    def joules(self, charge_ah: float) -> float:
        """About how much energy [J] so much charge of this pack gives."""
        return charge_ah * self.series * CELL_V[self.chemistry] * 3600

    def aged(self, health: float) -> Cells:
        """The same cells at another age."""
        return cells_at(self.seed, self.make, self.new_ah, self.series, health)


def draw_health(rng: np.random.Generator) -> float:
    """Capacity left: seven packs of ten are nearly new, the others have lost up to a quarter."""
    return float(rng.uniform(0.95, 1.0) if rng.random() < 0.7 else rng.uniform(0.75, 0.95))


def draw_crew(rng: np.random.Generator, power_w: float) -> Crew:
    """A machine that takes about `power_w` in usual grass."""
    width, pace, overlap = rng.uniform(0.3, 0.6), rng.uniform(0.75, 1.25), rng.uniform(0.05, 0.25)
    idle = rng.uniform(0.2, 0.45)
    driven = rng.random() < 0.4
    drive = rng.uniform(0.08, 0.22) if driven else 0.0
    return Crew(
        width_m=width,
        overlap=overlap,
        pace_m_s=pace,
        pace_spread=rng.uniform(0.04, 0.12),
        slowing=rng.uniform(0.1, 0.4),
        idle_w=idle * power_w,
        most_w=rng.uniform(2.0, 3.5) * power_w,
        cut_j_m2=(1 - idle - drive) * power_w / (width * (1 - overlap) * pace),
        drive_j_m=drive * power_w / pace,
        mass_kg=rng.uniform(25, 60) if driven else 0.0,
        turn_s=rng.uniform(3, 8),
        box_m3=rng.uniform(0.04, 0.08) if rng.random() < 0.5 else 0.0,
        clumps_per_min=rng.uniform(0, 0.5),
        growth_power=rng.uniform(0.5, 1.0),
        wet_more=rng.uniform(0.2, 0.7),
        droop=rng.uniform(0, 0.4),
    )


def draw_field(rng: np.random.Generator, name: str, area_m2: float) -> Field:
    """A lawn of about this area."""
    return Field(
        name=name,
        area_m2=area_m2,
        aspect=rng.uniform(1, 4),
        grade=abs(rng.normal(0, 0.03)) if rng.random() < 0.5 else 0.0,
        density=rng.lognormal(0, 0.12),
        patch_sigma=rng.uniform(0.2, 0.55),
        patch_m=rng.uniform(1.0, 6.0),
    )


def draw_day(rng: np.random.Generator, dullness: float = 1.0, lushness: float = 1.0) -> Day:
    """Grass on one day of the season."""
    return Day(
        growth_mm=float(np.clip(rng.lognormal(np.log(24), 0.4), 6, 80)),
        wetness=float(
            rng.choice([rng.uniform(0, 0.2), rng.uniform(0.2, 0.6), rng.uniform(0.6, 1)], p=[0.55, 0.3, 0.15])
        ),
        dullness=dullness,
        mood=lushness * rng.lognormal(0, 0.07),
    )


def judged(rng: np.random.Generator, day: Day) -> tuple[float | None, str | None]:
    """What a volunteer says of the grass: growth [mm] and moisture, now and then wrong or not said."""
    growth = float(round(day.growth_mm * rng.lognormal(0, 0.2) / 5) * 5) if rng.random() < 0.9 else None
    felt = day.wetness + rng.normal(0, 0.08)
    moisture = "dry" if felt < 0.2 else "damp" if felt < 0.6 else "wet"
    return (None if growth is None else max(growth, 5.0)), moisture if rng.random() < 0.95 else None


def cells_at(seed: int, make: Make, new_ah: float, series: int, health: float) -> Cells:
    """The cells of one seed, always the same except for their age."""
    return draw_cells(stream(seed, 2), make, new_ah, series, health)


def draw_owner(seed: int, chemistry: str, health: float | None = None) -> Owner:
    """Everything about one owner but the mows."""
    rng = stream(seed, 1, *chemistry.encode())
    make = draw_make(rng, chemistry)
    series = int(rng.choice([7, 10, 12, 13, 14] if chemistry == "nmc" else [8, 12, 15, 16]))
    label = float(rng.choice([4, 5, 7.5, 10, 12, 15, 20, 30, 40]))
    new_ah = label * (1 + float(np.clip(rng.normal(0.01, 0.06), -0.12, 0.14)))
    health = draw_health(rng) if health is None else health
    cells = cells_at(seed, make, new_ah, series, health)
    hours = float(np.exp(rng.uniform(np.log(0.65), np.log(2.2))))
    power = label * series * CELL_V[chemistry] / hours
    crew = draw_crew(rng, power)
    per_charge_m2 = hours * 3600 * crew.pace_m_s * crew.width_m * (1 - crew.overlap) * 0.8
    sizes = rng.uniform(0.18, 0.75, int(rng.integers(2, 5)))
    names = ("orchard", "churchyard", "playing field", "bank")
    return Owner(
        seed=seed,
        chemistry=chemistry,
        make=make,
        cells=cells,
        label_ah=label,
        new_ah=new_ah,
        health=health,
        series=series,
        cut_off_v=round(make.cut_v * series, 1),
        hold_s=float(rng.choice([1.0, 1.0, 2.0, 3.0])),
        crew=crew,
        fields=tuple(
            draw_field(rng, n, float(np.round(s * per_charge_m2))) for n, s in zip(names, sizes, strict=False)
        ),
        meters=draw_meters(rng, power / (series * CELL_V[chemistry])),
        hours=hours,
        knows_air=rng.random() < 0.7,
        air_c=float(rng.uniform(9, 26)),
    )


def hurried(owner: Owner, hours: float = 0.15) -> Owner:
    """The same owner, with pack and lawns so small for the machine that a charge lasts `hours`."""
    smaller = hours / owner.hours
    return replace(
        owner,
        fields=tuple(replace(f, area_m2=f.area_m2 * smaller) for f in owner.fields),
        cells=owner.cells.scaled(np.full(1, smaller)),
        hours=hours,
        label_ah=owner.label_ah * smaller,
        new_ah=owner.new_ah * smaller,
    )
