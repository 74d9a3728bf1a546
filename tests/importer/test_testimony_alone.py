"""Evidence of columns, each rule alone: which way amps flow, and in which unit a clock counts."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.layout.named import place
from estimator.importer.layout.search import find_layout
from estimator.importer.table import quantities as q
from estimator.importer.table.quantities import Unit
from estimator.importer.table.titles import Meaning
from estimator.importer.testimony.flow import flow_of
from estimator.importer.testimony.heard import ClockColumn, Heard, Witness
from estimator.importer.testimony.settle import _alike, _rival, _unit_by_second

N = 40
AMPS = Witness(1, "amps", Meaning(q.CURRENT, Unit(q.CURRENT)), np.full(N, 5.0))


def heard(*witnesses: Witness, states: list[str] | None = None, clocks: Any = ()) -> Heard:
    told = () if states is None else (("state", np.array(states, dtype=object)),)
    return Heard(np.arange(N), witnesses, tuple(clocks), told)


def test_amps_that_never_flow_have_no_way() -> None:
    none = Witness(1, "amps", Meaning(q.CURRENT), np.zeros(N))
    assert flow_of(heard(none, states=["discharge"] * N), none) is None


@pytest.mark.parametrize(
    ("states", "way"),
    [
        (["discharge"] * N, 1.0),
        (["charging"] * N, -1.0),
        (["rest"] * N, None),  # words for rest alone say nothing
        (["discharge"] * 20 + ["lap seven"] * 20, None),  # half of the words are not understood
        (["discharge"] * 36 + ["lap seven"] * 4, 1.0),
    ],
)
def test_words_of_a_state_say_which_way_amps_flow(states: list[str], way: float | None) -> None:
    found = flow_of(heard(AMPS, states=states), AMPS)
    assert (None if found is None else float(found.factor[0])) == way


def test_words_that_speak_of_few_readings_are_not_heard() -> None:
    assert flow_of(heard(AMPS, states=["discharge"] + ["rest"] * (N - 1)), AMPS) is None


def test_a_gauge_that_stands_still_says_nothing_and_one_that_falls_says_discharge() -> None:
    for values, way in ((np.full(N, 80.0), None), (np.linspace(80, 60, N), 1.0)):
        gauge = Witness(2, "gauge", Meaning(q.GAUGE), values)
        found = flow_of(heard(AMPS, gauge), AMPS)
        assert (None if found is None else float(found.factor[0])) == way


def clock(index: int, values: Any, unit: Unit | None = None) -> ClockColumn:
    return ClockColumn(index, f"clock {index}", "number", np.asarray(values, float), unit, 0, 0)


@pytest.mark.parametrize(
    ("scale", "said"), [(1.0, "s"), (60.0, "min"), (1e-3, "ms"), (86400.0, "days"), (7.0, None)]
)
def test_a_clock_without_a_unit_has_that_in_which_another_agrees(scale: float, said: str | None) -> None:
    seconds = 100.0 * np.arange(N)
    mine = clock(0, seconds / scale)
    other = clock(1, seconds, Unit(q.TIME, 1.0))
    unit, by = _unit_by_second(mine, heard(AMPS, clocks=(mine, clock(2, seconds), other)))
    assert (None if unit is None else q.unit_name(q.TIME, unit.scale)) == said
    assert by == ("" if said is None else "clock 1")


def test_a_clock_that_stands_still_or_hardly_moves_tells_no_unit() -> None:
    seconds = 100.0 * np.arange(N)
    for mine, other in ((np.zeros(N), seconds), (seconds, np.where(np.arange(N) > 20, 60.0, 0.0))):
        first, second = clock(0, mine), clock(1, other, Unit(q.TIME, 1.0))
        assert _unit_by_second(first, heard(AMPS, clocks=(first, second))) == (None, "")


def test_columns_without_a_reading_in_common_are_not_alike() -> None:
    first, last = np.full(N, np.nan), np.full(N, np.nan)
    first[:20], last[20:] = 5.0, 5.0
    one, other = Witness(1, "a", Meaning(q.CURRENT), first), Witness(2, "b", Meaning(q.CURRENT), last)
    assert not _alike(one, other)
    assert _alike(one, one)


class Read:
    """A reading of a table, as `_rival` compares readings."""

    def __init__(self, cost: float, current: Witness, voltage: Witness, scale: float = 1.0) -> None:
        self.cost, self.current, self.voltage = cost, current, voltage
        self.current_scale, self.time_scale, self.voltage_scale = scale, 1.0, 1.0
        self.index_of = (current.index, voltage.index)


def test_what_a_table_may_as_well_say_is_named() -> None:
    volts = Witness(3, "volts", Meaning(q.VOLTAGE), np.full(N, 52.0))
    motor = Witness(2, "motor amps", Meaning(q.CURRENT), np.full(N, 9.0))
    fuse = Witness(4, "fuse volts", Meaning(q.VOLTAGE), np.full(N, 30.0))
    cells = [Witness(k, f"cell {k}", Meaning(q.VOLTAGE, doubt=2), np.full(N, 4.0 + k)) for k in (5, 6)]
    best = Read(1.0, AMPS, volts)

    def rival(*others: Any) -> str:
        return _rival([best, *others])

    assert rival(Read(1.0, motor, volts)) == "'amps' and 'motor amps' may both be the pack's current"
    assert rival(Read(1.0, AMPS, fuse)) == "'volts' and 'fuse volts' may both be the pack's volts"
    assert rival(Read(1.0, AMPS, volts, 1e-3)) == "the units of 'amps' and 'volts' are not given"
    assert rival(Read(9e9, motor, fuse)) == "", "it costs far more"
    assert _rival([Read(1.0, AMPS, cells[0]), Read(1.0, AMPS, cells[1])]) == "", "cells add up"  # type: ignore[list-item]


def test_a_column_beyond_the_last_and_a_unit_that_is_none() -> None:
    assert place(["t", "amps"], "7") == (None, None)
    assert place(["t", "amps"], "amps[mA]") == (1, Unit(q.CURRENT, 1e-3))
    with pytest.raises(InputError, match="unit 'miles' is not known"):
        place(["t", "amps"], "2[miles]")


def test_an_interval_in_words_above_no_table_helps_nothing() -> None:
    with pytest.raises(InputError):
        find_layout(["# one reading every 60 s", "a walk in the orchard", "and home"], {})
