"""Every limit of what columns testify, and of meters and tables, on both of its sides."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.layout.search import find_layout
from estimator.importer.meter import Accuracy, Meter, assumed_error, current_step, resolution_of
from estimator.importer.read import read_bytes
from estimator.importer.table import quantities as q
from estimator.importer.table.quantities import Unit
from estimator.importer.table.titles import Meaning
from estimator.importer.testimony.agree import Reading, readings_of, scales
from estimator.importer.testimony.cells import adds_up, is_part_of, scale_by_cells, single_cells
from estimator.importer.testimony.flow import flow_of
from estimator.importer.testimony.heard import Heard, Witness
from estimator.importer.testimony.settle import _alike

N = 100
SECONDS = 36.0 * np.arange(N)


def column(index: int, quantity: str, values: Any, scale: float | None = 1.0, **told: Any) -> Witness:
    unit = None if scale is None else Unit(quantity, scale)
    full = np.broadcast_to(np.asarray(values, dtype=float), N)
    return Witness(index, told.pop("title", quantity), Meaning(quantity, unit, **told), full)


def heard(*witnesses: Witness, words: list[str] | None = None) -> Heard:
    told = () if words is None else (("state", np.array(words, dtype=object)),)
    return Heard(np.arange(N), witnesses, (), told)


def read(*witnesses: Witness) -> list[Reading]:
    return readings_of(heard(*witnesses), None, SECONDS, {})


SWING = np.resize([4.0, 6.0], N)
AMPS, VOLTS = column(1, q.CURRENT, SWING), column(2, q.VOLTAGE, 50.0)
DRAWN_AH = np.r_[0.0, np.cumsum((SWING[1:] + SWING[:-1]) / 2 * 36 / 3600)]  # 0.05 Ah a row


def test_what_another_unit_costs() -> None:
    assert scales(None, (1.0, 1e-3, 1e3)) == [(1.0, 0.0), (1e-3, 0.9), (1e3, 1.0)]
    assert scales(1.0, (1.0, 60.0, 1e-3)) == [(1.0, 0.0), (60.0, 2.4), (1e-3, 3.2)]
    assert scales(3600.0, (1.0, 60.0, 1e-3)) == [(3600.0, 0.0), (1.0, 2.4), (60.0, 2.4), (1e-3, 3.2)]
    assert scales(1e-3, (60.0,)) == [(1e-3, 0.0), (60.0, 3.2)]


@pytest.mark.parametrize(
    ("amps", "volts", "cost"),
    [
        (499, 40, 0.0), (501, 30, 1.5), (9, 499, 0.0), (9, 501, 1.5), (410, 50, 1.0), (390, 50, 0.0),
        (501, 501, 4.0),
    ],
)  # fmt: skip
def test_amps_and_volts_that_no_pack_has_cost(amps, volts, cost) -> None:
    (best, *_) = read(column(1, q.CURRENT, amps), column(2, q.VOLTAGE, volts))
    assert best.cost == pytest.approx(cost) or best.current_scale < 1 or best.voltage_scale < 1
    told = [r for r in read(column(1, q.CURRENT, amps), column(2, q.VOLTAGE, volts)) if r.lies == 0]
    assert told[0].cost == pytest.approx(cost)


@pytest.mark.parametrize(("amps", "volts", "cost"), [(51, 5.9, 0.9), (49, 5.9, 0.0), (51, 6.1, 0.0)])
def test_a_single_cell_at_many_amps_without_a_unit_is_doubted(amps, volts, cost) -> None:
    told = read(column(1, q.CURRENT, amps, None), column(2, q.VOLTAGE, volts))
    assert next(r for r in told if r.current_scale == 1 and not r.lies).cost == pytest.approx(cost)


@pytest.mark.parametrize(
    ("quantity", "values", "cost"),
    [
        (q.CHARGE, DRAWN_AH, -3.0), (q.CHARGE, 1.05 * DRAWN_AH, -1.75), (q.CHARGE, 1.07 * DRAWN_AH, 0.4),
        (q.CHARGE, 0.95 * DRAWN_AH, -1.75),
        (q.CHARGE, 0.93 * DRAWN_AH, 0.4), (q.ENERGY, 50 * DRAWN_AH, -3.0), (q.ENERGY, 54 * DRAWN_AH, 0.4),
        (q.POWER, 50 * SWING, -3.0), (q.POWER, 55 * SWING, 0.4),
        (q.CHARGE, np.floor(3 * DRAWN_AH) / 3, 0.0),
        (q.CHARGE, np.floor(3.1 * DRAWN_AH) / 3.1, -2.438),  # 15 steps
    ],
)  # fmt: skip
def test_a_witness_within_six_per_cent_agrees(quantity, values, cost) -> None:
    told = next(r for r in read(AMPS, VOLTS, column(3, quantity, values)) if not r.lies)
    assert told.cost == pytest.approx(cost, rel=1e-3) and bool(told.agrees) == (cost < 0)


@pytest.mark.parametrize(("rho", "cost"), [(0.995, -3.0), (0.985, -2.0), (0.96, 0.0)])
def test_watts_that_move_with_amps_times_volts_agree(rho, cost) -> None:
    """Of two patterns that know nothing of each other, so much of one that they correlate like that."""
    one, other = np.resize([-1.0, 1.0], N), np.resize([1.0, 1.0, -1.0, -1.0], N)
    watts = 250 + 50 * (rho * one + np.sqrt(1 - rho**2) * other)
    assert read(AMPS, VOLTS, column(3, q.POWER, watts))[0].cost == pytest.approx(cost)


def test_a_counter_that_begins_anew_still_agrees() -> None:
    counted = DRAWN_AH % 2.0
    assert read(AMPS, VOLTS, column(3, q.CHARGE, counted))[0].agrees == ("charge",)
    out, into = np.where(SWING > 5, SWING, 0.0), np.where(SWING > 5, 0.0, -SWING)
    both = column(1, q.CURRENT, out + into)
    net = np.r_[0.0, np.cumsum(np.maximum((both.values[1:] + both.values[:-1]) / 2, 0) * 0.01)]
    assert read(both, VOLTS, column(3, q.CHARGE, net))[0].agrees == ("charge",)


@pytest.mark.parametrize(("rows", "found"), [(2, 1), (3, 2)])  # 2 % of 100
def test_a_column_that_is_nearly_empty_is_no_candidate(rows, found) -> None:
    few = np.where(np.arange(N) < rows, 5.0 + np.arange(N), np.nan)
    told = read(AMPS, VOLTS, column(3, q.CURRENT, few, doubt=1))
    assert len({r.current.index for r in told}) == found


def _cells(count: int, volts: float, last: float | None = None, **told: Any) -> list[Witness]:
    each = [volts] * (count - 1) + [volts if last is None else last]
    return [column(10 + k, q.VOLTAGE, v, title=f"u{k}", **told) for k, v in enumerate(each)]


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        (_cells(3, 3.6), 3), (_cells(2, 3.6), 0), (_cells(2, 3.6, doubt=2), 2), (_cells(2, 3.6, doubt=1), 0),
        (_cells(3, 0.9), 0), (_cells(3, 4.9), 3), (_cells(3, 5.1), 0), (_cells(3, 3.0, 3.5), 3),
        (_cells(3, 3.0, 3.7), 0),
    ],
)  # fmt: skip
def test_single_cells_are_three_or_more_of_the_same_volts(cells, found) -> None:
    assert len(single_cells(heard(*cells))) == found


@pytest.mark.parametrize(
    ("whole", "adds", "part"),
    [
        (14.0, True, True),
        (14.2, True, True),
        (14.25, True, False),
        (14.3, False, False),
        (13.7, False, False),
    ],
)
def test_cells_add_up_within_two_per_cent(whole, adds, part) -> None:
    pack = column(1, q.VOLTAGE, whole)
    assert adds_up(_cells(4, 3.5), pack, 1.0) == adds
    assert is_part_of(_cells(1, 3.5)[0], pack) == part


@pytest.mark.parametrize(
    ("part", "whole", "found"),
    [
        (3.5, 7.0, True), (3.5, 3.5, False), (3.5, 39 * 3.5, True), (3.5, 41 * 3.5, False),
        (3.5, 3.5 * np.resize([4.0, 4.07], N), True), (3.5, 3.5 * np.resize([4.0, 4.17], N), False),
        (3.5, np.where(np.arange(N) < 50, 14.0, np.nan), True),
        (3.5, np.where(np.arange(N) < 49, 14.0, np.nan), False),
    ],
)  # fmt: skip
def test_volts_of_a_cell_are_those_of_the_pack_over_a_whole_number(part, whole, found) -> None:
    assert is_part_of(column(1, q.VOLTAGE, part), column(2, q.VOLTAGE, whole)) == found


@pytest.mark.parametrize(
    ("volts", "scale"), [(2.1e6, 1e-6), (1.9e6, None), (1400, 0.01), (140, 0.1), (14_000, 1e-3), (14, 1.0)]
)
def test_volts_without_a_unit_are_counted_as_the_cells_say(volts, scale) -> None:
    family = _cells(4, 3.5)
    assert scale_by_cells([family], column(1, q.VOLTAGE, volts, None)) == scale
    assert scale_by_cells([family[:2]], column(1, q.VOLTAGE, 7, None)) is None
    assert scale_by_cells([family], column(1, q.VOLTAGE, volts)) is None
    milli = [column(w.index, q.VOLTAGE, 3500, None, title=w.title) for w in family]
    assert scale_by_cells([milli], column(1, q.VOLTAGE, 14, None)) == 1.0


@pytest.mark.parametrize(("other", "alike"), [(5.14, True), (5.16, False), (4.86, True), (4.84, False)])
def test_columns_within_three_per_cent_are_alike(other, alike) -> None:
    assert _alike(column(1, q.CURRENT, 5.0), column(2, q.CURRENT, other)) == alike
    assert _alike(column(1, q.CURRENT, 5.0), column(2, q.CURRENT, 1000 * other, 1e-3)) == alike


@pytest.mark.parametrize(
    ("agree", "amps", "way"),
    [
        (88, 5.0, 1.0), (87, 5.0, None), (12, 5.0, -1.0), (13, 5.0, None),  # three quarters more than against
    ],
)  # fmt: skip
def test_signed_amps_follow_words_that_mostly_agree(agree, amps, way) -> None:
    signed = np.where(np.arange(N) < agree, amps, -amps)
    found = flow_of(
        heard(column(1, q.CURRENT, signed), words=["discharge"] * N), column(1, q.CURRENT, signed)
    )
    assert (None if found is None else float(found.factor[0])) == way


@pytest.mark.parametrize(("least", "unsigned"), [(-0.09, True), (-0.11, False)])  # what flows is 2 % of 5 A
def test_amps_without_a_sign_take_it_from_words(least, unsigned) -> None:
    amps = column(1, q.CURRENT, np.r_[np.full(N - 1, 5.0), least])
    found = flow_of(heard(amps, words=["discharge"] * 60 + ["charge"] * 40), amps)
    assert (found is not None) == unsigned
    assert found is None or found.factor.tolist() == [1.0] * 60 + [-1.0] * 40


@pytest.mark.parametrize(("flowing_a", "way"), [(0.11, 1.0), (0.09, None)])  # 2 % of 5 A
def test_hardly_any_amps_have_no_way(flowing_a, way) -> None:
    amps = column(1, q.CURRENT, np.r_[np.full(50, 5.0), np.full(50, flowing_a)])
    words = ["on"] * 50 + ["discharge"] * 50
    found = flow_of(heard(amps, words=["rest"] * 50 + words[50:]), amps)
    assert (None if found is None else float(found.factor[0])) == way


@pytest.mark.parametrize(
    ("step_a", "gain", "zero", "noise"),
    [
        (0.05, 0.03, 0.25, 0.05 / 12**0.5), (0.1, 0.03, 0.3, 0.1 / 12**0.5),
        (0.08, 0.03, 0.25, 0.08 / 12**0.5),
        (0.049, 0.025, 0.15, 0.049 / 12**0.5), (0.005, 0.025, 0.15, 0.01),
        (0.0049, 0.01, 0.0245, 0.003), (0.001, 0.01, 0.01, 0.003),
    ],
)  # fmt: skip
def test_what_a_clamp_may_be_wrong_by_follows_from_its_digits(step_a, gain, zero, noise) -> None:
    e = assumed_error(step_a, 1.0)
    assert (e.current_gain, e.current_zero_a) == pytest.approx((gain / 3**0.5, zero / 3**0.5))
    assert e.current_noise_a == pytest.approx(noise)


@pytest.mark.parametrize(
    ("step_v", "gain", "zero", "noise"),
    [
        (0.05, 0.008, 0.15, 0.05 / 12**0.5), (0.2, 0.008, 0.3, 0.2 / 12**0.5),
        (0.049, 0.005, 0.03, 0.049 / 12**0.5),
        (0.005, 0.005, 0.03, 0.004), (0.0049, 0.001, 0.01, 0.002),
    ],
)  # fmt: skip
def test_what_a_voltmeter_may_be_wrong_by_follows_from_its_digits(step_v, gain, zero, noise) -> None:
    e = assumed_error(1.0, step_v)
    assert (e.voltage_gain, e.voltage_zero_v) == pytest.approx((gain / 3**0.5, zero / 3**0.5))
    assert e.voltage_noise_v == pytest.approx(noise)


def test_accuracy_of_a_data_sheet_is_a_rectangle() -> None:
    e = Meter("clamp", current=Accuracy(3.0, 5, 0.1), voltage=Accuracy(1.0, 2, 0.01)).error(
        assumed_error(1, 1)
    )
    assert (e.current_gain, e.current_zero_a) == pytest.approx((0.03 / 3**0.5, 0.5 / 3**0.5))
    assert (e.voltage_gain, e.voltage_zero_v) == pytest.approx((0.01 / 3**0.5, 0.02 / 3**0.5))
    assert (e.current_noise_a, e.voltage_noise_v) == pytest.approx((0.1 / 12**0.5, 0.01 / 12**0.5))


@pytest.mark.parametrize(
    ("values", "step"),
    [
        (2.0 * np.arange(21), 2.0), (2.0 * np.arange(20), 0.1), (5e-6 * np.arange(21), 5e-6),
        (5.0 * np.arange(21), 5.0), (200.0 * np.arange(21), 200.0), ([0.01, 0.03], 0.01), ([0.0], 0.0),
        (0.02 * np.arange(40), 0.02), ([np.nan, 0.3], 0.1), (1e-5 + np.arange(30), 1e-5),
    ],
)  # fmt: skip
def test_the_step_of_a_display_is_that_of_its_multiples(values, step) -> None:
    assert resolution_of(np.array(values, dtype=float)) == pytest.approx(step)


@pytest.mark.parametrize(
    ("at_rest", "apart", "step"),
    [
        (11, 0.0101, 0.0101 / 0.9539), (11, 0.0089, 0.0001), (10, 0.0301, 0.0001),
        (11, 0.0301, 0.0301 / 0.9539),
        (11, 0.03, 0.01),
    ],
)  # fmt: skip
def test_more_digits_than_a_sensor_has_are_its_noise(at_rest, apart, step) -> None:
    """0.6745 times the square root of two is 0.9539: half of the differences lie within it."""
    amps = np.r_[np.resize([0.1, 0.1 + apart], at_rest), 15.0]
    assert current_step(amps, 0.5) == pytest.approx(step, rel=1e-3)


@pytest.mark.parametrize(("last", "refused"), [(59, True), (60, False)])
def test_minutes_beside_seconds_are_a_clock_in_parts(last, refused) -> None:
    rows = [f"{k // 60},{k % last if k else last},5,50" for k in range(61)]
    if refused:
        with pytest.raises(InputError, match="time is written in 2 columns"):
            find_layout(["time [min],time [s],A,V", *rows], {})
    else:
        find_layout(["time [min],time [s],A,V", *rows], {})
    find_layout(["time [min],time [s],A,V", *rows[:60]], {})


@pytest.mark.parametrize(
    ("titles", "names", "refused"),
    [
        ("time,pack,A,V", "ab" * 20, True), ("time,pack,A,V", "aabb" * 10, False),
        ("time,pack,A,V", "abb" * 13, False),
        ("time,pack,A,V", "ab" * 4, True), ("time,pack,A,V", "ab" * 3 + "a", False),
        ("time,pack,A,V", "abcdefghijklmnop" * 4, True), ("time,pack,A,V", "abcdefghijklmnopq" * 4, False),
        ("time,who,A,V", "ab" * 20, False),
    ],
)  # fmt: skip
def test_packs_that_take_turns_are_refused(titles, names, refused) -> None:
    rows = [f"{k},{name},5,50" for k, name in enumerate(names)]
    if refused:
        with pytest.raises(InputError, match=f"rows of {len(set(names))} packs or meters take turns"):
            find_layout([titles, *rows], {})
    else:
        find_layout([titles, *rows], {})


@pytest.mark.parametrize(("same", "refused"), [(39, True), (36, False)])
def test_names_under_any_title_are_packs_where_they_share_their_stamps(same, refused) -> None:
    rows = [f"{k // 2 if k // 2 < same else k},{'ab'[k % 2]},5,50" for k in range(80)]
    if refused:
        with pytest.raises(InputError, match="take turns"):
            find_layout(["time,who,A,V", *rows], {})
    else:
        find_layout(["time,who,A,V", *rows], {})


@pytest.mark.parametrize(("rows", "step", "refused"), [(5, 1, True), (4, 1, False), (5, 2, False)])
def test_rows_that_count_cycles_are_sums(rows, step, refused) -> None:
    table = ["time,cycle,A,V", *(f"{100 * k},{1 + step * k},5,50" for k in range(rows))]
    if refused:
        with pytest.raises(InputError, match="sums up a whole cycle"):
            find_layout(table, {})
    else:
        find_layout(table, {})


@pytest.mark.parametrize(("words", "read_as"), [(4, "current"), (5, "current"), (6, None)])
def test_a_column_of_mostly_words_is_no_measurement(words, read_as) -> None:
    rows = [f"{k},{'later' if k < words else 5},50" for k in range(10)]
    try:
        layout = find_layout(["time,A,V", *rows], {})
    except InputError:
        layout = None
    found = None if layout is None else next((c.quantity for c in layout.measured if c.title == "A"), None)
    assert found == read_as


@pytest.mark.parametrize(("count", "counts"), [(5, True), (4, False)])
def test_a_column_that_counts_the_rows_tells_which_are_lost(count, counts) -> None:
    rows = [f"{k},5,50" for k in itertools.chain(range(1, count), [count])]
    layout = find_layout(["No,A,V", *rows], {"interval_s": 2.0})
    assert (layout.time.title == "No") == counts


@pytest.mark.parametrize("last", ["", "# read one by one"])
def test_the_most_readings_that_are_read(last: str) -> None:
    text = "\n".join(["time_s,A,V", *(f"{k},{5 + k % 2},50" for k in range(49)), last, "49,5,50"]).encode()
    assert len(read_bytes([("m.csv", text)], max_rows=50).readings) == 50
    with pytest.raises(InputError, match="holds more than 49 readings"):
        read_bytes([("m.csv", text)], max_rows=49)


@pytest.mark.parametrize(
    ("title", "way", "values", "expected"),
    [
        ("Ah remaining", -1, np.linspace(9, 8, N), 1.0), ("Ah remaining", 1, np.linspace(8, 9, N), -1.0),
        ("discharged Ah", 1, np.linspace(0, 1, N), 1.0), ("charged Ah", -1, np.linspace(0, 1, N), -1.0),
        ("capacity in Ah", -1, np.linspace(0, 1, N), None),  # may be either
    ],
)  # fmt: skip
def test_counters_say_which_way_amps_flow(title, way, values, expected) -> None:
    counter = column(3, q.CHARGE, values, title=title, way=way)
    found = flow_of(heard(AMPS, counter), AMPS)
    assert (None if found is None else float(found.factor[0])) == expected
    assert (
        found is None
        or found.said == f"{title!r} says that {'discharge' if expected > 0 else 'charging'} counts positive."
    )
