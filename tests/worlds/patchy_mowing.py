"""What mowing takes from a pack, second by second: a walked lawn with patches, never a piece of another log.

A person walks up and down rows that overlap. Where the grass is dense, the blades take more and the feet slow
down; at the ends the machine turns in no grass; on a slope one row climbs and the next rolls down; a full box
stops everything; now and then a clump is caught. All figures are invented.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from half_cells import Array
from scipy.ndimage import gaussian_filter
from scipy.signal import lfilter

CELL_M = 0.5
"""Edge of a cell of the grass map."""
USUAL_GROWTH_MM = 25.0
OFF_W = 3.0
"""Power of controller and lamp with the motor off."""


@dataclass(frozen=True)
class Crew:
    """Machine and person.

    most_w : the most that the controller gives; cut_j_m2 : energy to cut a square metre of usual dry grass
    with sharp blades; growth_power, wet_more : how that rises with growth, and from dry to soaked; mass_kg :
    what the drive moves uphill (0: pushed by hand)
    """

    width_m: float
    overlap: float
    pace_m_s: float
    pace_spread: float
    slowing: float
    idle_w: float
    most_w: float
    cut_j_m2: float
    drive_j_m: float
    mass_kg: float
    turn_s: float
    box_m3: float
    clumps_per_min: float
    growth_power: float
    wet_more: float
    droop: float


@dataclass(frozen=True)
class Field:
    """A lawn: area, length over width, slope along the rows, density, and how patchy it is."""

    name: str
    area_m2: float
    aspect: float
    grade: float
    density: float
    patch_sigma: float
    patch_m: float


@dataclass(frozen=True)
class Day:
    """Grass on one day: growth [mm], wetness 0..1, dullness of the blades (1 sharp), all else (1 usual)."""

    growth_mm: float
    wetness: float
    dullness: float = 1.0
    mood: float = 1.0


def work_factor(crew: Crew, field: Field, day: Day) -> float:
    """Energy to cut a square metre, over that of usual, dry grass."""
    grown = (max(day.growth_mm, 1.0) / USUAL_GROWTH_MM) ** crew.growth_power
    return grown * (1 + crew.wet_more * day.wetness) * day.dullness * day.mood * field.density


def grass_map(rng: np.random.Generator, rows: int, columns: int, row_m: float, field: Field) -> Array:
    """Density (rows, columns), log-normal with mean 1, patches of two sizes, cut out of a wider meadow."""
    around = 8 * field.patch_m
    meadow = (max(rows, int(around / row_m)), max(columns, int(around / CELL_M)))
    rough = np.zeros((rows, columns))
    for share, size in ((0.75, field.patch_m), (0.25, field.patch_m / 4)):
        smooth = gaussian_filter(rng.normal(size=meadow), (size / row_m, size / CELL_M), mode="wrap")
        smooth = (smooth - smooth.mean()) / smooth.std()
        rough += np.sqrt(share) * smooth[:rows, :columns]
    return np.exp(field.patch_sigma * rough - field.patch_sigma**2 / 2)


def _slow_noise(rng: np.random.Generator, steps: int, seconds: float) -> Array:
    """Standard normal noise with a memory of `seconds`."""
    keep = np.exp(-1 / seconds)
    start = rng.normal()
    return np.asarray(
        lfilter([np.sqrt(1 - keep**2)], [1, -keep], rng.normal(size=steps), zi=[keep * start])[0]
    )


def walk(rng: np.random.Generator, crew: Crew, field: Field, day: Day) -> tuple[Array, Array]:
    """Power [W] and area done [m²] in each second of mowing one lawn once."""
    row_m = crew.width_m * (1 - crew.overlap)
    length = np.sqrt(field.area_m2 * field.aspect)
    rows = max(int(np.ceil(field.area_m2 / length / row_m)), 1)
    columns = max(int(np.ceil(length / CELL_M)), 1)
    density = grass_map(rng, rows, columns, row_m, field)
    steps = int(rows * length / crew.pace_m_s * 2.2) + 60
    own_pace = crew.pace_m_s * np.exp(crew.pace_spread * _slow_noise(rng, steps, 10.0))
    heavy = work_factor(crew, field, day)
    speed = own_pace
    for _ in range(2):  # the pace depends on the place, and the place on the pace
        place = np.minimum(np.cumsum(speed), rows * length)
        row = np.minimum((place / length).astype(int), rows - 1)
        along = place - row * length
        along = np.where(row % 2, length - along, along)
        here = density[row, np.minimum((along / CELL_M).astype(int), columns - 1)]
        speed = own_pace * np.clip(here * heavy, 0.3, 4.0) ** -crew.slowing
    count = int(np.searchsorted(place, rows * length - 1e-9)) + 1
    row, here, speed, place = row[:count], here[:count], speed[:count], place[:count]
    bite = row_m * (1 + 0.08 * _slow_noise(rng, rows, 4.0))[row]
    shake = np.exp(0.10 * rng.normal(size=count) - 0.005)
    cut = crew.cut_j_m2 * heavy * here * np.maximum(bite, 0) * speed * shake
    caught = np.zeros(count)
    for at in rng.integers(0, count, rng.poisson(crew.clumps_per_min * count / 60)):
        caught[at : at + rng.integers(1, 6)] += rng.uniform(0.5, 1.8)
    climb = crew.mass_kg * 9.81 * field.grade * np.where(row % 2, -1, 1) / 0.6
    power = crew.idle_w + cut * (1 + caught) + speed * (crew.drive_j_m + climb)
    power = np.maximum(power, 0.1 * crew.idle_w)

    # seconds in which no grass is cut: turns at the ends of rows, stops to empty the box
    turning = np.diff(row, prepend=row[0]) > 0
    boxes = (
        np.floor(np.cumsum(speed * bite * here) * day.growth_mm / 1000 * 0.035 / crew.box_m3)
        if crew.box_m3
        else 0 * place
    )
    emptying = np.diff(boxes, prepend=0.0) > 0
    turn = np.where(turning, np.maximum(rng.normal(crew.turn_s, 1.0, count), 1), 0).astype(int)
    stop = np.where(emptying, rng.integers(15, 60, count), 0)
    index = np.repeat(np.arange(count), 1 + turn + stop)
    first = np.r_[0, np.cumsum(1 + turn + stop)[:-1]]
    since = np.arange(len(index)) - first[index]
    power = np.where(
        since == 0, power[index], np.where(since <= turn[index], 0.95 * crew.idle_w, OFF_W)
    ) * np.exp(0.03 * rng.normal(size=len(index)))
    restart = np.flatnonzero((power[1:] > 5 * OFF_W) & (power[:-1] < 2 * OFF_W)) + 1
    power[restart] += 1.5 * crew.idle_w
    return np.minimum(power, crew.most_w), place[index] / (rows * length) * field.area_m2


def mow(
    rng: np.random.Generator, crew: Crew, fields: list[Field], day: Day, least_j: float = 0.0
) -> tuple[Array, list[int]]:
    """Power [W] in each second of mowing `fields` one after another, with a standstill before and after.

    Mowing goes on in the same kind of grass until at least `least_j` [J] were used. Also returns the second
    at which each of the fields was done.
    """
    parts = [
        np.full(int(rng.integers(20, 50)), OFF_W),
        crew.idle_w * np.r_[2.5, 1.5, np.ones(int(rng.integers(4, 15)))],
    ]
    done: list[int] = []
    asked = sum(float(part.sum()) for part in parts)
    turn = 0
    while turn < len(fields) or asked < least_j:
        power, _ = walk(rng, crew, fields[turn % len(fields)], day)
        parts.append(power)
        asked += float(power.sum())
        if turn < len(fields):
            done.append(sum(map(len, parts)))
            if turn + 1 < len(fields):
                parts.append(np.full(int(rng.integers(40, 150)), OFF_W))
        turn += 1
    return np.concatenate(parts), done
