"""Mowing time from width, pace, overlap and turns, by hand and by the field-capacity formula."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.descriptions import Lawn, Machine
from estimator.fitting.load.mowing_time import LENGTH_TO_WIDTH, TURN_S, mowing_s, usual_area_rate


@pytest.mark.parametrize(("pace", "width", "share", "printed"), [(5, 2.5, 0.85, 1.06), (6, 3.0, 0.80, 1.44)])
def test_field_capacity_printed_examples(pace, width, share, printed):
    """C = S·w·E/10 of ASABE EP496 [ha/h at km/h and m], where E is what overlap leaves on a large field: two
    rows of a published table of worked examples (two decimals)."""
    area = 2_000_000.0
    hours = mowing_s(area, width, pace / 3.6, 1 - share, 0.0) / 3600
    assert area / 10_000 / hours == pytest.approx(printed, rel=0.006)


def test_on_paper():
    """20 m × 10 m, cut 0.4 m wide with a tenth overlapping: 28 rows of 20 s at 1 m/s and 27 turns of 5 s."""
    assert mowing_s(200, 0.4, 1.0, overlap=0.1, turn_s=5.0, length_to_width=2.0) == pytest.approx(560 + 135)


@given(st.floats(20, 5000), st.floats(0.2, 2.0), st.floats(0.3, 2.0), st.floats(0, 0.4), st.floats(0, 20))
def test_a_lawn_takes_no_less_than_its_area_over_width_and_pace(area, width, pace, overlap, turn):
    assert mowing_s(area, width, pace, overlap, turn) >= area / (width * pace) * (1 - 1e-9)


def test_no_turns_no_overlap_is_area_over_width_and_pace():
    assert mowing_s(150, 0.5, 1.2, 0, 0, 1.5) == pytest.approx(150 / 0.6)


def test_a_machine_that_nobody_described_mows_a_quarter_acre_in_an_hour():
    """Common practice: a walk-behind mower of 17 inches mows 1,000 m² in 40 to 70 minutes, turns and overlap
    included; a turn takes a few seconds, so most of the time goes into rows."""
    assert 40 < 1000 / usual_area_rate(Lawn("plot", 1000), Machine()) < 70
    with_turns, without = (mowing_s(1000, 17 * 0.0254, 1.0, turn_s=turn_s) for turn_s in (TURN_S, 0.0))
    assert 0.05 < 1 - without / with_turns < 0.2


def test_what_is_known_of_a_machine_is_taken():
    lawn, known = Lawn("plot", 600), Machine(cutting_width_m=0.5, pace_m_s=1.5)
    assert usual_area_rate(lawn, known) == 60 * 600 / mowing_s(600, 0.5, 1.5)


def test_small_and_narrow_lawns_lose_more_to_turns():
    small, large = (usual_area_rate(Lawn("a", area), Machine()) for area in (50, 2000))
    assert small < large
    square, long = (mowing_s(500, 0.43, 1.0, length_to_width=shape) for shape in (1.0, 4.0))
    assert long < square and LENGTH_TO_WIDTH > 1


def test_a_lawn_of_no_given_shape_is_half_as_long_again_as_wide():
    """24 m by 16 m, cut 0.5 m wide without overlap at 1 m/s: 32 rows of 24 s and 31 turns of 4 s."""
    assert mowing_s(384, 0.5, 1.0, overlap=0.0) == pytest.approx(32 * 24 + 31 * 4)
    assert mowing_s(384, 0.5, 1.0) == pytest.approx(36 * 24 + 35 * 4)  # a tenth of each row is mown twice
