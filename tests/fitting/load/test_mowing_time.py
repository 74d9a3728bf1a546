"""Mowing time from width, pace, overlap and turns, by hand and by the field-capacity formula."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.descriptions import Lawn, Machine
from estimator.errors import InputError
from estimator.fitting.load.mowing_time import field_capacity_ha_h, mowing_time, usual_area_rate


@pytest.mark.parametrize(("pace", "width", "share", "printed"), [(5, 2.5, 0.85, 1.06), (6, 3.0, 0.80, 1.44)])
def test_field_capacity_printed_examples(pace, width, share, printed):
    """C = S·w·E/10 of ASABE EP496; two rows of a published table of worked examples (two decimals)."""
    assert field_capacity_ha_h(pace, width, share) == pytest.approx(printed, abs=5e-3)


def test_on_paper():
    """20 m × 10 m, 0.4 m cut, a tenth overlapped: 28 rows of 20 s at 1 m/s and 27 turns of 5 s."""
    found = mowing_time(Lawn("a", 200), 0.4, 1.0, overlap=0.1, turn_s=5.0, length_to_width=2.0)
    assert (found.rows, found.mowing_s, found.turning_s) == (28, pytest.approx(560.0), 135.0)


@given(st.floats(20, 5000), st.floats(0.2, 2.0), st.floats(0.3, 2.0), st.floats(0, 0.4), st.floats(0, 20))
def test_time_and_field_capacity_agree(area, width, pace, overlap, turn):
    """EP496's effective field capacity at the efficiency found, which never exceeds 1, is area over time."""
    found = mowing_time(Lawn("a", area), width, pace, overlap, turn)
    assert 0 < found.efficiency <= 1 + 1e-9
    assert found.area_rate_m2_min == pytest.approx(60 * area / found.seconds)


def test_no_turns_no_overlap_is_area_over_width_and_pace():
    assert mowing_time(Lawn("a", 150), 0.5, 1.2, 0, 0, 1.5).seconds == pytest.approx(150 / 0.6)


def test_a_machine_that_nobody_described_mows_a_quarter_acre_in_an_hour():
    """Common practice: a walking mower of 17 inches, turns and overlap included, does 1,000 m² in 40 to 70
    minutes; a turn takes a few seconds, so that most of the time goes into rows."""
    lawn = Lawn("plot", 1000)
    assert 40 < 1000 / usual_area_rate(lawn, Machine()) < 70
    usual = mowing_time(lawn, 17 * 0.0254, 1.0)
    assert 0.05 < usual.turning_s / usual.seconds < 0.2


def test_what_is_known_of_a_machine_is_taken():
    lawn, known = Lawn("plot", 600), Machine(cutting_width_m=0.5, pace_m_s=1.5)
    assert usual_area_rate(lawn, known) == mowing_time(lawn, 0.5, 1.5).area_rate_m2_min


def test_small_lawns_lose_more_to_turns():
    small, large = (mowing_time(Lawn("a", area), 0.43, 1.0).efficiency for area in (50, 2000))
    assert small < large


@pytest.mark.parametrize(
    ("given_", "line"),
    [
        ({"cutting_width_m": 0}, "cutting width is 0; give a number above zero"),
        ({"pace_m_s": -1}, "pace is -1; give a number above zero"),
        ({"overlap": 1}, "overlap is 1; give a share of the cutting width from 0 up to 1"),
        ({"turn_s": -2}, "turn_s is -2; give seconds from zero up"),
    ],
)
def test_messages(given_, line):
    with pytest.raises(InputError) as told:
        mowing_time(Lawn("a", 100), **({"cutting_width_m": 0.4, "pace_m_s": 1.0} | given_))
    assert str(told.value) == line
