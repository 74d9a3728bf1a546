"""Which columns and units agree with counters of charge and energy and with columns of watts.

A counter of charge must rise by the integral of amps, a counter of energy by that of amps times volts, and
watts must be amps times volts; with one wrong column or unit they are not.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from estimator.importer.arrays import Floats, filled
from estimator.importer.table import quantities as q
from estimator.importer.testimony.cells import IN_STEPS, families_of, is_part_of, scale_by_cells
from estimator.importer.testimony.heard import ClockColumn, Heard, Witness

_NEAR = 0.06
"""How far a counter may differ from the sum (fraction): coarse counters and sparse rows differ by some %
(common practice)."""
_LIE, _CLOCK_LIE, _FITS, _FITS_ROUGHLY, _MISFITS = 3.2, 2.4, 3.0, 2.0, 0.4
"""Costs of a reading: a title's own unit would be wrong (for a clock less: minutes and seconds are often
mixed up); what a witness that agrees takes off, exactly or roughly; what one that does not agree adds (common
practice; the files of tests/importer are read right with them)."""
_STEPS = 1.3
"""The cost of counts in hundredths or tenths for amps and for volts, which only a witness can outweigh."""
_OF_A_PART = 2
"""The doubt from which on a title speaks of a motor, a charger, a cell: no witness about the pack."""
_TIME_SCALES = (1.0, 60.0, 1e-3, 3600.0, 1e-6)
"""What clocks count in [s]: seconds, minutes, milliseconds, hours, microseconds."""
_SCALES: dict[str, tuple[float, ...]] = {  # what a number without a unit may count in: A or mA, and so on
    **dict.fromkeys((q.CURRENT, q.VOLTAGE, q.POWER, q.CHARGE), (1.0, 1e-3)),
    q.ENERGY: (1.0, 1e-3, 1e3),
}


@dataclass(frozen=True)
class Reading:
    """One way to read a table: which columns, and what one count of them is in A, V and s.

    agrees : titles of the witnesses that agree; lies : how many titles' own units would be wrong
    cost : how strong the evidence against it is
    """

    current: Witness
    voltage: Witness
    current_scale: float
    voltage_scale: float
    time_scale: float
    agrees: tuple[str, ...]
    lies: int
    cost: float

    @property
    def index_of(self) -> tuple[int, int]:
        """The places of its columns."""
        return self.current.index, self.voltage.index


def scales(told: float | None, known: Sequence[float]) -> list[tuple[float, float]]:
    """Scales and the cost of each: zero for the title's own, high for any other where the title has one."""
    if told is None:
        return [(s, 0.0 if k == 0 else 0.8 + 0.1 * k) for k, s in enumerate(known)]
    # Only a clock of minutes or hours is wrong by a factor of 60.
    sixties = (60.0, 3600.0)
    return [(told, 0.0)] + [
        (s, _CLOCK_LIE if max(s, told) in sixties and min(s, told) >= 1 else _LIE) for s in known if s != told
    ]


def readings_of(
    heard: Heard, clock: ClockColumn | None, seconds: Floats, fixed: dict[str, int]
) -> list[Reading]:
    """Every way to read a table, the best first.

    seconds : (n,) the clock, in its own counts; fixed : places of columns that the user named, by quantity
    """
    currents, voltages = (_candidates(heard, x, fixed) for x in (q.CURRENT, q.VOLTAGE))
    told = clock.unit.scale if clock is not None and clock.unit is not None else None
    numeric = clock is not None and clock.style == "number"
    sixties = [(60.0, 0.6)] if clock is not None and clock.short else []
    times = scales(told, _TIME_SCALES) if numeric else [(1.0, 0.0), *sixties]
    found: list[Reading] = []
    steps = np.diff(seconds)
    steps = np.where(steps > 0, steps, 0.0)
    cells = families_of(heard)
    parts = {v.index for v in voltages if any(is_part_of(v, w) for w in voltages)}
    for c, v in itertools.product(currents, voltages):
        sums = list(_sums(heard, c, v, steps))
        by_cells = scale_by_cells(cells, v)
        # A meter that counts volts in tenths, hundredths or millionths may count amps in the same way.
        steps_of = _SCALES[q.CURRENT] if by_cells in (None, 1.0, 1e-3) else IN_STEPS
        steps_of = (1e-6,) if by_cells == 1e-6 else steps_of
        volts_of = scales(v.scale, _SCALES[q.VOLTAGE]) if by_cells is None else [(by_cells, 0.0)]
        units = list(itertools.product(scales(c.scale, steps_of), volts_of))
        if sums and by_cells is c.scale is v.scale is None:
            units += [((step, _STEPS), (step, _STEPS)) for step in (1e-2, 1e-1)]
        for (ts, t_cost), ((cs, c_cost), (vs, v_cost)) in itertools.product(times, units):
            cost = t_cost + c_cost + v_cost + 0.6 * (c.meaning.doubt + v.meaning.doubt)
            agrees = []
            for s in sums:
                factor = cs * vs**s.volts * ts**s.time
                off, unit_cost = _misfit(s.counted, [x * factor for x in s.raw], s.witness)
                fits = (_FITS if s.exact else _FITS_ROUGHLY) * (1 - off / _NEAR / 2)  # the nearer, the more
                cost += _MISFITS if off > _NEAR else unit_cost - fits
                if off <= _NEAR:
                    agrees.append(s.witness.title)
            cost += _implausible(c, v, cs, vs) + 2.0 * (v.index in parts)
            lies = sum(x >= _CLOCK_LIE for x in (t_cost, c_cost, v_cost))
            found.append(Reading(c, v, cs, vs, ts, tuple(agrees), lies, cost))
    return sorted(found, key=lambda r: r.cost)


def _candidates(heard: Heard, quantity: str, fixed: dict[str, int]) -> list[Witness]:
    found = heard.of(quantity)
    if quantity in fixed:
        return [w for w in found if w.index == fixed[quantity]]
    alive = [w for w in found if np.isfinite(w.values).sum() > 0.02 * len(w.values)]
    # Amps of charging are often all zero, a setting or a supply that is regulated never moves.
    moving = [w for w in alive if np.nanmax(w.values) > np.nanmin(w.values)]
    flowing = [w for w in alive if np.any(np.nan_to_num(w.values))]
    return (moving or flowing or alive or found)[:6]


@dataclass(frozen=True)
class _Sum:
    """What a witness counted, what the readings give in raw counts, and the powers of the scales in that."""

    witness: Witness
    counted: float
    raw: tuple[float, ...]
    volts: int
    time: int
    exact: bool


def _sums(heard: Heard, c: Witness, v: Witness, steps: Floats) -> Iterator[_Sum]:
    amps = filled(c.values)
    mean = (amps[1:] + amps[:-1]) / 2
    power = amps * filled(v.values)
    mean_power = (power[1:] + power[:-1]) / 2
    for w in heard.witnesses:
        if w.meaning.doubt >= _OF_A_PART:
            continue
        if w.meaning.quantity in (q.CHARGE, q.ENERGY):
            counts = filled(w.values)
            dq = np.diff(counts)
            kept = ~_resets(counts, dq)
            counted = float(np.abs(dq[kept]).sum())
            least = np.abs(dq[dq != 0]).min(initial=np.inf)
            if counted < 15 * least or not np.isfinite(least):
                continue
            rate = mean if w.meaning.quantity == q.CHARGE else mean_power
            flow = (rate * steps / 3600)[kept]
            out, into = float(flow[flow > 0].sum()), float(-flow[flow < 0].sum())
            yield _Sum(w, counted, (out + into, out, into), int(w.meaning.quantity == q.ENERGY), 1, True)
        elif w.meaning.quantity == q.POWER:
            watts = filled(w.values)
            if not np.std(watts) or not np.std(power):
                continue
            alike = np.corrcoef(np.abs(watts), np.abs(power))[0, 1]
            if alike > 0.97:
                yield _Sum(w, float(np.abs(watts).sum()), (float(np.abs(power).sum()),), 1, 0, alike > 0.99)


def _resets(counts: Floats, dq: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Steps (n-1,) in which a counter falls to nearly zero, or leaps further than any counter can."""
    usual = float(np.median(np.abs(dq[dq != 0]))) if np.any(dq) else 0.0
    top = float(np.abs(counts).max(initial=0.0))
    falls = (np.abs(counts[1:]) < 0.3 * np.abs(counts[:-1])) & (np.abs(dq) > 3 * usual)
    return np.asarray(falls | ((np.abs(dq) > 0.3 * top) & (np.abs(dq) > 50 * usual)))


def _misfit(counted: float, expected: Sequence[float], w: Witness) -> tuple[float, float]:
    """How far (fraction) a witness in its best unit is from what is expected, and the cost of that unit."""
    best = (np.inf, 0.0)
    for scale, cost in scales(w.scale, _SCALES[w.meaning.quantity]):
        for e in expected:
            if e <= 0:
                continue
            off = abs(counted * scale / e - 1)
            if off <= _NEAR:
                return off, cost
            best = min(best, (off, cost))
    return best


def _implausible(c: Witness, v: Witness, current_scale: float, voltage_scale: float) -> float:
    """The cost of amps and volts that nobody's pack has; limits are common practice."""
    amps, volts = np.abs(c.values[np.isfinite(c.values)]), np.abs(v.values[np.isfinite(v.values)])
    if not amps.size or not volts.size:
        return 1.0
    high_a = float(np.percentile(amps, 98)) * current_scale
    usual_v = float(np.median(volts)) * voltage_scale
    # A cell at over 50 A is rare, one at 50 mA is not: without a unit, the user has to say which.
    bare_cell = c.scale is None and usual_v < 6 and high_a > 50
    return 0.9 * bare_cell + 1.5 * (high_a > 500) + 1.5 * (usual_v > 500) + 1.0 * (high_a * usual_v > 20_000)
