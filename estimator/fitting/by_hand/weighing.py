"""All hand readings of one mow, weighed together in one inference.

Draws of everything unknown (`hand_model`) are first resampled by a part of the likelihood (importance
resampling; Kish 1965 for how many draws that leaves), which decides between a full pack and any other start.
The rest of the likelihood then moves them by the ensemble form of Kalman's update (Evensen 1994, J. Geophys.
Res. 99, 10143; Emerick and Reynolds 2013, Computers & Geosciences 55, 3, for dividing the likelihood).
"""

from __future__ import annotations

import zlib
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from estimator.amounts import check_amount
from estimator.arrays import Array, Flags
from estimator.descriptions import Pack
from estimator.fitting.by_hand.hand_circuit import in_use
from estimator.fitting.by_hand.hand_model import (
    GAUGE_STD,
    N_COLUMNS,
    SHOWS_FULL_FROM,
    Told,
    first_current,
    read_value,
    run_by_hand,
)
from estimator.fitting.by_hand.volts_doubts import volts_doubts
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted, open_circuit_table
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws, draw_parameters
from estimator.fitting.pack.start_charge import FULL_STD
from estimator.importer.by_hand.amps import USUAL, Habit
from estimator.importer.log import SpotNotes

DRAWS = 1500
"""At least 500 of these count, which gives a band's ends to some 6 % of half its width (order statistics)."""
STARTS_FULL = 0.9
"""Share of mows that start with a full pack (common practice: people mow after charging)."""
LEAST_EFFECTIVE = 500.0
"""At least this many draws count after the first part of the likelihood."""
TOLD_STD = 0.06
"""A start charge other than full, as people guess it (common practice)."""
STOPPED_V = 0.03
"""The motor ran to the end of what was noted, so the pack stayed above the cut-off: standard deviation of
that limit for a cell under the mean load (common practice)."""
SURPRISE = 2.5
"""A reading further than this, in standard deviations, from what all else leads one to expect counts as less
certain, so that one slip cannot outvote the rest (after Huber 1964, Ann. Math. Statist. 35, 73)."""


@dataclass(frozen=True, eq=False)
class Weighed:
    """One mow as known from its hand readings: n equally likely draws.

    mean_a, hours, ah, wh : (n,) mean current [A], time [h], charge [Ah] and energy [Wh] used
    before, after : (n,) usable charge at the start and at the end
    parameters, drawn_before : (n, parameters) of the pack, after and before the readings
    pack : draws of the pack as it is at the end
    surprise : by reading, how many standard deviations it lies from what was expected before any of them
    ruled_out : share of the draws made before the readings that would have stopped the motor too early
    """

    mean_a: Array
    hours: Array
    ah: Array
    wh: Array
    before: Array
    after: Array
    parameters: Array
    drawn_before: Array
    pack: PackDraws
    surprise: Mapping[str, float]
    ruled_out: float

    @property
    def power_w(self) -> Array:
        """Mean power (n,) [W] over the minutes noted."""
        return np.asarray(self.wh / self.hours)


def weigh(
    spot: SpotNotes,
    pack: Pack,
    start_charge: float | None = None,
    temperature_c: float | None = None,
    habit: Habit = USUAL,
) -> Weighed:
    """Weigh all hand readings of one mow; where one voltage can hardly be right, no volts count.

    start_charge : usable charge 0..1 as given, None where unknown
    temperature_c : of the pack [°C], None for 25 °C
    habit : how the person's typical current compares with the mean

    >>> notes = SpotNotes(typical_a=10, minutes=30, rest_before_v=54.2, rest_after_v=50.0)
    >>> crate = Pack(chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39)
    >>> alone = weigh(SpotNotes(typical_a=10, minutes=30), crate, 1.0)
    >>> both = weigh(notes, crate, 1.0)
    >>> float(both.ah.std()) < float(alone.ah.std())
    True
    """
    check_amount("start_charge", start_charge)
    check_amount("temperature_c", temperature_c)
    asked = (spot, start_charge, temperature_c, habit)
    for known in tuple(_LATEST):
        if known.pack is pack and known.asked == asked:
            return known.found
    found = _weighed(spot, as_fitted(pack), start_charge, temperature_c, habit)
    _LATEST.append(_Known(pack, asked, found))
    return found


@dataclass(frozen=True)
class _Known:
    """A recent weighing, kept since figures, doubts and the pack's fit ask for it one after the other."""

    pack: Pack
    asked: tuple[SpotNotes, float | None, float | None, Habit]
    found: Weighed


# the last few answers: one question asks for the same weighing several times
_LATEST: deque[_Known] = deque(maxlen=4)


def _weighed(
    spot: SpotNotes, fitted: FittedPack, start_charge: float | None, temperature_c: float | None, habit: Habit
) -> Weighed:
    if volts_doubts(spot, fitted):
        spot = replace(spot, rest_before_v=None, rest_after_v=None, load_v=None)
    # each mow has its own draws: the same ones would err the same way in every mow of a season
    seed = zlib.crc32(repr(spot).encode())
    rng = np.random.default_rng(seed)
    warm_c = 25.0 if temperature_c is None else float(temperature_c)
    fitted = in_use(fitted)
    told = Told(spot, fitted, first_current(spot, fitted, habit), warm_c, seed)
    draws = rng.standard_normal((DRAWS, N_COLUMNS))
    draws[:, : prior.N_PARAMETERS] = draw_parameters(fitted, DRAWS, rng)
    drawn_before = draws[:, : prior.N_PARAMETERS].copy()
    begin = _begins(fitted, spot, start_charge, rng)
    draws[:, prior.N_PARAMETERS] = begin.charge
    run = run_by_hand(told, draws, begin.full)
    seen = {name: read_value(spot, name) for name in run.expected}
    off = {name: _Off(value - run.expected[name], run.std[name]) for name, value in seen.items()}
    surprise = {name: one.surprise for name, one in off.items()}
    std = {name: one.believed_std for name, one in off.items()}
    log = begin.log_weight - 0.5 * sum((one.by / std[name]) ** 2 for name, one in off.items())
    log -= 0.5 * (np.minimum(run.spare_v, 0.0) / STOPPED_V) ** 2
    ruled_out = float((run.spare_v < 0).mean())
    part, weight = _first_part(log)
    kept = np.searchsorted(np.cumsum(weight), (np.arange(DRAWS) + rng.random()) / DRAWS)
    kept = kept.clip(max=DRAWS - 1)
    draws, full = draws[kept], begin.full[kept]
    if part < 1.0 and off:
        expected = np.stack([run.expected[name][kept] for name in off], axis=1)
        noise = np.array([std[name] for name in off]) / np.sqrt(1.0 - part)
        draws = _moved(draws, expected, np.array(list(seen.values())), noise, rng)
    run = run_by_hand(told, draws, full)
    around_c = np.full(DRAWS, warm_c)
    warmth = fitted.warming.draw(DRAWS, around_c, fitted.series, fitted.rated.capacity_ah, rng)
    return Weighed(
        run.mean_a, run.hours, run.ah, run.wh, run.before, run.after,
        draws[:, : prior.N_PARAMETERS], drawn_before, replace(run.pack, warmth=warmth), surprise, ruled_out,
    )  # fmt: skip


@dataclass(frozen=True)
class _Off:
    """How far (n,) a reading is from what each draw expects, and the reading's standard deviation."""

    by: Array
    std: float

    @property
    def surprise(self) -> float:
        """Standard deviations between the reading and what was expected."""
        return float(np.mean(self.by) / np.hypot(np.std(self.by), self.std))

    @property
    def believed_std(self) -> float:
        """The reading's standard deviation, larger where it surprises."""
        needed = (float(np.mean(self.by)) / SURPRISE) ** 2 - float(np.var(self.by))
        return float(np.sqrt(max(self.std**2, needed)))


@dataclass(frozen=True)
class _Begin:
    charge: Array
    full: Flags
    log_weight: Array


def _begins(fitted: FittedPack, spot: SpotNotes, told: float | None, rng: np.random.Generator) -> _Begin:
    """Charges at the start: as given, else full nine times in ten and otherwise anywhere.

    Without a given charge, draws are placed where gauge and volts make them likely, and weighted for that.
    """
    near_full = 1.0 + FULL_STD * rng.standard_normal(DRAWS)
    if told is not None:
        full = np.full(DRAWS, told > 0.99)
        charge = told + TOLD_STD * rng.standard_normal(DRAWS)
        return _Begin(np.where(full, near_full, charge), full, np.zeros(DRAWS))
    grid = np.linspace(0.0, 1.0, 101)
    log = np.zeros(101)
    if spot.gauge_before is not None:
        log -= 0.5 * ((grid - spot.gauge_before) / (2 * GAUGE_STD)) ** 2
    if spot.rest_before_v is not None:
        own = 1.0 - fitted.usable * (1.0 - GRID)
        curve = np.interp(grid, GRID, np.interp(own, GRID, open_circuit_table(fitted, fitted.mean)))
        log -= 0.5 * ((curve - spot.rest_before_v / fitted.series) / 0.06) ** 2
    odds = np.exp(log - log.max())
    as_full = STARTS_FULL * float(odds[grid >= SHOWS_FULL_FROM].max())
    share = float(np.clip(as_full / (as_full + (1 - STARTS_FULL) * odds.mean()), 0.05, 0.95))
    full = rng.random(DRAWS) < share
    odds = 0.9 * odds / odds.sum() + 0.1 / 101
    place = rng.choice(101, DRAWS, p=odds)
    charge = np.clip(grid[place] + rng.uniform(-0.005, 0.005, DRAWS), 0.0, 1.0)
    other = np.log((1 - STARTS_FULL) / (1 - share) / (101 * odds[place]))
    return _Begin(np.where(full, near_full, charge), full, np.where(full, np.log(STARTS_FULL / share), other))


def _first_part(log: Array) -> tuple[float, Array]:
    """The largest part of the log likelihood (n,) that leaves enough draws; weights (n,) that sum to 1."""
    part = 1.0
    while True:
        weight = np.exp(part * (log - log.max()))
        weight /= weight.sum()
        if 1.0 / float(weight @ weight) >= LEAST_EFFECTIVE or part < 1e-4:
            return part, np.asarray(weight)
        part *= 0.7


def _moved(draws: Array, expected: Array, seen: Array, std: Array, rng: np.random.Generator) -> Array:
    """Draws (n, k) moved towards the readings (m,), by how they vary with what each draw expects (n, m)."""
    apart, off = draws - draws.mean(axis=0), expected - expected.mean(axis=0)
    across = off.T @ off / len(off) + np.diag(std**2)
    gain = np.linalg.solve(across, off.T @ apart / len(off))
    return np.asarray(draws + (seen + std * rng.standard_normal(expected.shape) - expected) @ gain)
