"""Hand readings that cannot be true get one line: culprit, value, mend."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.errors import InputError
from estimator.importer.by_hand.amps import mean_current
from estimator.importer.by_hand.spot_order import check_spot
from estimator.importer.log import SpotNotes
from estimator.importer.read import read_bytes


def line(**readings: float) -> str:
    with pytest.raises(InputError) as refused:
        check_spot(SpotNotes(**readings))
    return str(refused.value)


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ({"typical_a": 4.4, "highest_a": 3}, "typical amps of 4.4 are above highest amps of 3"),
        ({"typical_a": 4.4, "idle_a": 6}, "idle amps of 6 are above typical amps of 4.4"),
        ({"idle_a": 6, "highest_a": 3}, "idle amps of 6 are above highest amps of 3"),
        ({"mean_a": 4.4, "idle_a": 6}, "idle amps of 6 are above mean amps of 4.4"),
        ({"mean_a": 4.4, "highest_a": 4}, "mean amps of 4.4 are above highest amps of 4"),
    ],
)
def test_amps_out_of_order(readings: dict[str, float], said: str) -> None:
    assert line(minutes=20, load_v=50, **readings) == f"{said}; correct one, or swap them"


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ({"minutes": 0}, "minutes are 0; give a number above zero"),
        ({"minutes": -3}, "minutes are -3; give a number above zero"),
        ({"minutes": 1441}, "minutes are 1441; give a number up to 1440"),
        ({"typical_a": 0}, "typical amps are 0; give a number above zero"),
        ({"typical_a": float("nan")}, "typical amps are nan; give a number above zero"),
        ({"highest_a": float("inf")}, "highest amps are inf; give a number above zero"),
        ({"idle_a": -1}, "idle amps are -1; give a number from zero up"),
        ({"rest_before_v": -54}, "volts at rest before are -54; give a number above zero"),
        ({"load_v": 52000}, "volts while cutting are 52000; give a number up to 1000"),
        ({"gauge_before": 1.5}, "gauge before is 150 %; give a number from 0 to 100 %"),
        ({"gauge_after": -0.1}, "gauge after is -10 %; give a number from 0 to 100 %"),
    ],
)
def test_single_readings_that_cannot_be(readings: dict[str, float], said: str) -> None:
    assert line(**{"typical_a": 4.4, "minutes": 20, **readings}) == said


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ({"minutes": 20, "rest_before_v": 54}, "typical amps are missing"),
        ({"minutes": 20, "idle_a": 1.5}, "typical amps are missing"),
        ({"minutes": 20, "highest_a": 12}, "typical amps are missing"),
        ({}, "typical amps are missing"),
    ],
)
def test_too_few_amps_say_what_else_would_do(readings: dict[str, float], said: str) -> None:
    assert line(**readings) == (
        f"{said}; note them, or mean amps, or, with the minutes, volts at rest after or "
        "what the charger put back"
    )


def test_missing_minutes() -> None:
    assert line(typical_a=4.4, rest_before_v=54.0) == (
        "minutes are missing; note how long the mowing took, or volts at rest after it, or what the charger "
        "put back"
    )
    assert line(idle_a=1.5, rest_after_v=50.0).startswith("typical amps are missing")


@pytest.mark.parametrize("also", [{"rest_after_v": 50.0}, {"gauge_after": 0.4}, {"put_back_ah": 5.0}])
def test_what_was_used_at_known_amps_tells_the_minutes(also: dict[str, float]) -> None:
    check_spot(SpotNotes(typical_a=4.4, **also))


def test_idle_amps_of_zero_are_those_of_a_motor_that_stands() -> None:
    check_spot(SpotNotes(idle_a=0, typical_a=4.4, highest_a=12, minutes=20))


@given(st.lists(st.floats(0.1, 100), min_size=3, max_size=3).map(sorted), st.floats(0.1, 600))
def test_amps_in_their_order_always_pass(amps: list[float], minutes: float) -> None:
    low, middle, high = amps
    check_spot(SpotNotes(idle_a=low, typical_a=middle, highest_a=high, minutes=minutes))
    if low < high:
        with pytest.raises(InputError, match="correct one, or swap them"):
            check_spot(SpotNotes(idle_a=high, highest_a=low, minutes=minutes))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "typical amps,4.4\nhighest amps,3\nminutes,20\nvolts before,54\n",
            "typical amps of 4.4 are above highest amps of 3",
        ),
        ("reading,value\nminutes,20\nrest_before_v,54\n", "typical amps are missing"),
        ("reading,value\nminutes,20\n", "typical amps are missing"),
        ("reading,value\ntypical_a,4.4\n", "minutes are missing"),
        ("minutes: 20\nvolts before: 54\n", "typical amps are missing"),
        ("idle A,typical A,highest A,volts before\n1.5,4.4,12,54\n", "minutes are missing"),
    ],
)
def test_note_files_are_told_the_same_with_their_name(text: str, said: str) -> None:
    with pytest.raises(InputError) as refused:
        read_bytes([("by hand.csv", text.encode())])
    assert str(refused.value).startswith(f"by hand.csv: {said}")


@pytest.mark.parametrize(
    "text",
    [
        "Zeit;Spannung\n10:00:00;54,1\n10:00:01;54,2\n",
        "time\nvolts before\n",
        "hello,4\n",
        "time_s,voltage\n0,54\n",
    ],
)
def test_what_is_no_note_is_not_taken_for_one(text: str) -> None:
    with pytest.raises(InputError) as refused:
        read_bytes([("log.csv", text.encode())])
    assert "amps are missing" not in str(refused.value)


def test_notes_without_volts_are_read_and_their_volts_stay_unknown() -> None:
    log = read_bytes([("n.csv", b"idle amps,1.5\ntypical amps,4.4\nhighest amps,12\nminutes,26\n")])
    assert log.spot is not None and not log.spot.volts
    assert log.readings["voltage_v"].isna().all()
    assert log.readings["current_a"].max() == pytest.approx(mean_current(log.spot).amps)


def test_rest_volts_that_rise_give_no_volts_that_nobody_read() -> None:
    notes = b"typical amps,4.4\nminutes,20\nvolts before,36\nvolts after,53.5\nvolts under load,50\n"
    volts = read_bytes([("n.csv", notes)]).readings["voltage_v"]
    assert set(volts) == {36.0, 50.0, 53.5}


def test_what_the_charger_put_back_stands_for_amps():
    """6 Ah put back after half an hour: 12 A. 300 Wh at 50 V, nine tenths of which came out: 5.4 Ah."""
    assert mean_current(SpotNotes(put_back_ah=6.0, minutes=30)).amps == pytest.approx(12.0)
    assert mean_current(SpotNotes(put_back_wh=300.0, minutes=30, load_v=50.0)).amps == pytest.approx(10.8)
    assert mean_current(SpotNotes(typical_a=20.0, put_back_ah=6.0, minutes=30)).amps > 15
    check_spot(SpotNotes(put_back_ah=6.0, minutes=30))
    check_spot(SpotNotes(socket_wh=300.0, minutes=30))  # the pack's usual volts stand in
    assert line(socket_wh=300.0).startswith("typical amps are missing")
