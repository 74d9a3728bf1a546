"""Mowing time from width, pace, overlap and turns, by hand and by the field-capacity formula."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.descriptions import Lawn
from estimator.errors import InputError
from estimator.fitting.load.mowing_time import field_capacity_ha_h, mowing_time


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
