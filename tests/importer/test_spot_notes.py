"""Hand readings as people write them down, and the mean current that they give."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import trapezoid

from estimator.errors import InputError
from estimator.importer.by_hand.amps import AVERAGE_STD, MOW_STD, PERSON_STD, mean_current, usual_ratio
from estimator.importer.log import SpotNotes
from estimator.importer.read import read_bytes


def read(text: str):
    return read_bytes([("notes.csv", text.encode())])


def test_mean_over_typical_by_hand() -> None:
    """85 % of 96 % of the minutes at 1.08 times 10 A, 15 % of them at 4 A, still for 4 %."""
    found = mean_current(SpotNotes(idle_a=4, typical_a=10, highest_a=28))
    assert found.amps == pytest.approx(0.96 * (0.85 * 10.8 + 0.15 * 4))
    assert found.std / found.amps == pytest.approx(math.hypot(PERSON_STD, MOW_STD))


@given(st.floats(11, 200))
def test_max_hold_does_not_move_the_mean_beside_a_typical_current(highest: float) -> None:
    assert mean_current(SpotNotes(typical_a=10, highest_a=highest)) == mean_current(SpotNotes(typical_a=10))


def test_idle_and_highest_alone_give_a_wider_mean_between_them() -> None:
    found, typical = mean_current(SpotNotes(idle_a=3, highest_a=25)), mean_current(SpotNotes(typical_a=10))
    assert 3 < found.amps < 25
    assert found.log_std > 1.3 * typical.log_std


def test_a_meter_s_average_outweighs_the_typical_current() -> None:
    found = mean_current(SpotNotes(mean_a=8.0, typical_a=12.0))
    assert found.amps == pytest.approx(8.0, rel=0.03)
    assert found.log_std < AVERAGE_STD


@pytest.mark.parametrize("family", ["orchard", "patchy", "rows"])
def test_each_family_of_mows_lies_within_the_spread(family: str) -> None:
    """The logarithm of mean over median current while cutting, measured in separately invented families."""
    measured, idle = {"orchard": (-0.213, 0.244), "patchy": (-0.137, 0.304), "rows": (-0.068, 0.311)}[family]
    assert abs(measured - math.log(usual_ratio(idle))) < PERSON_STD


UPRIGHT = """what,value
idle amps,4.2
typical amps,11
highest amps,28
volts at rest before,53.8
volts at rest after,50.1
minutes,32
"""


@pytest.mark.parametrize(
    "text",
    [
        UPRIGHT,
        UPRIGHT.replace("what,value\n", "").replace(",", ": "),
        UPRIGHT.replace(",", ";").replace(".", ","),
        "idle_a,typical_a,highest_a,rest_before_v,rest_after_v,minutes\n4.2,11,28,53.8,50.1,32\n",
        "Leerlauf (A);4,2\nTypisch (A);11\nSpitze (A);28\nRuhespannung vorher;53,8\nRuhespannung "
        "nachher;50,1\nDauer (min);32\n",
        "ampères à vide,4.2\nampères typique,11\nampères maximal,28\ntension au repos "
        "avant,53.8\ntension au repos après,50.1\ndurée,32:00\n",
        "stroom stationair,4200 mA\nstroom gewoon,11 A\nstroom piek,28 A\nspanning in rust voor,53.8 "
        "V\nspanning in rust na,50.1 V\nduur,0:32:00\n",
    ],
    ids=["english", "colons", "decimal commas", "across", "german", "french", "dutch"],
)
def test_notes_are_read_in_any_form(text: str) -> None:
    log = read(text)
    spot = log.spot
    assert spot is not None
    assert (spot.idle_a, spot.typical_a, spot.highest_a) == (4.2, 11.0, 28.0)
    assert (spot.rest_before_v, spot.rest_after_v, spot.minutes) == (53.8, 50.1, 32.0)
    used = trapezoid(log.readings.current_a, log.readings.time_s) / 3600
    mean = mean_current(spot)
    assert used == pytest.approx(mean.amps * 32 / 60, rel=2e-3)
    assert log.error.current_gain == pytest.approx(mean.log_std)


@pytest.mark.parametrize(
    ("line", "field", "value"),
    [
        ("minutes: 0:38", "minutes", 38), ("minutes: 4:59", "minutes", 299),
        ("minutes: 5:30", "minutes", 5.5), ("minutes: 1 h 10 min", "minutes", 70),
        ("minutes: 1h05", "minutes", 65),
        ("minutes: about 40", "minutes", 40), ("peak: >25 A", "highest_a", 25), ("idle: ~3", "idle_a", 3),
        ("mean: 10-12 A", "mean_a", 11), ("mean: 10,5 to 11,5", "mean_a", 11),
        ("idle (mA): 900", "idle_a", 0.9),
        ("before: 54.2 V", "rest_before_v", 54.2), ("tensione dopo: 51,6 V", "rest_after_v", 51.6),
        ("Leerlauf: 3,2 A", "idle_a", 3.2), ("idle,3,2 A", "idle_a", 3.2), ("a vuoto: 3,2 A", "idle_a", 3.2),
    ],
)  # fmt: skip
def test_notes_are_read_as_people_scribble_them(line: str, field: str, value: float) -> None:
    apart = ":" if ":" in line else ","
    rest = [x for x in ("typical: 11 A", "minutes: 30") if x[:7] not in line]
    spot = read("\n".join([line, *rest]).replace(": ", f"{apart} ")).spot
    assert spot is not None and getattr(spot, field) == pytest.approx(value)


def test_min_max_avg_hold_of_a_meter() -> None:
    spot = read("MIN A,3.9\nMAX A,31\nAVG A,12.5\nvolts before,54\nminutes,25\n").spot
    assert spot is not None
    assert (spot.idle_a, spot.highest_a, spot.mean_a) == (3.9, 31.0, 12.5)
    assert mean_current(spot).amps == pytest.approx(12.5, rel=0.01)
    assert mean_current(spot).std < mean_current(SpotNotes(idle_a=3.9, highest_a=31)).std


@pytest.mark.parametrize(
    ("text", "said", "row"),
    [
        (UPRIGHT.replace("11", "eleven"), "typical amps is 'eleven'", 3),
        (UPRIGHT + "typical amps,12\n", "given twice", 8),
        ("typical amps,11\nvolts before,54\n", "minutes are missing", None),
        (UPRIGHT.replace("11", "-11").replace("28", "-28"), "typical amps are -11", None),
    ],
)
def test_bad_notes_get_one_line(text: str, said: str, row: int | None) -> None:
    with pytest.raises(InputError, match=said) as caught:
        read(text)
    assert caught.value.row == row
    assert caught.value.mend


@pytest.mark.parametrize(
    ("before", "after"), [("100 %", "40 %"), ("1", "0.4"), ("5/5", "2/5"), ("100", "40")]
)
def test_gauge_in_percent_fractions_or_bars(before: str, after: str) -> None:
    text = f"mean amps,9\nminutes,30\nvolts before,54\ngauge before,{before}\ngauge after,{after}\n"
    spot = read(text).spot
    assert spot is not None
    assert (spot.gauge_before, spot.gauge_after) == pytest.approx((1.0, 0.4))


def test_what_the_charger_put_back_is_read() -> None:
    spot = read("typical amps,9\nminutes,30\nWh put back,0.25 kWh\nput_back_ah,4.9\nsocket Wh,290\n").spot
    assert spot is not None
    assert (spot.put_back_wh, spot.put_back_ah, spot.socket_wh) == (250.0, 4.9, 290.0)


def test_a_short_log_with_its_meter_s_summary_below_is_no_notes() -> None:
    rows = [f"{2 * k},{5 + 0.1 * (k % 7):.1f},{52 - 0.01 * k:.2f}" for k in range(40)]
    log = read("\n".join(["time_s,current_a,voltage_v", *rows, "average,5.3,51.8", "max,5.6,52.0"]) + "\n")
    assert log.spot is None
    assert len(log.readings) == 40
    assert any("2 closing lines without readings" in note for note in log.notes)
