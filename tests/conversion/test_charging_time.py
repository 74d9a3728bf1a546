"""Charging: the closed form against an integration, habits of cells against cell models, cases on paper."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from estimator.conversion.bands import Band
from estimator.conversion.charge_course import ChargeCourse, gained_ah, hours_to
from estimator.conversion.charging import break_gives, refill
from estimator.conversion.charging_habits import Charger
from estimator.descriptions import FULL_CELL_V, USUAL_CUT_OFF_V, Pack
from estimator.errors import InputError

PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
LEAD = Pack(chemistry="lead_acid", series=24, capacity_ah=20.0, cut_off_v=42.0)


def course(missing: float, knee: float, fill_a: float, last: float) -> ChargeCourse:
    return ChargeCourse(*(np.array([each]) for each in (missing, knee, fill_a, last)))


@pytest.mark.parametrize(("missing", "knee"), [(6.0, 1.5), (1.0, 1.5), (6.0, 0.2)])
def test_closed_form_agrees_with_a_resistance_and_a_source_integrated(missing: float, knee: float) -> None:
    """A charger of 2 A and 4.2 V into a cell of E + R·I, E rising evenly near the top, by scipy."""
    amps, last, volts = 2.0, 0.1, 4.2
    slope = 0.2
    resistance = slope * (knee + knee * last / (1 - last)) / amps
    full_v = volts - resistance * last * amps

    def current(_: float, q: np.ndarray) -> np.ndarray:
        return np.minimum(amps, (volts - (full_v - slope * (missing - q))) / resistance)

    def full(_: float, q: np.ndarray) -> float:
        return float(missing - q[0])

    full.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(
        current, (0.0, 50.0), [0.0], events=full, rtol=1e-9, atol=1e-9, max_step=0.05, dense_output=True
    )
    ours = course(missing, knee, amps, last)
    total = hours_to(ours, 0.0)[0]
    assert total == pytest.approx(run.t_events[0][0], rel=1e-4)
    for part in (0.2, 0.6, 0.95):
        assert gained_ah(ours, part * total)[0] == pytest.approx(run.sol(part * total)[0], abs=2e-4)


@given(
    st.floats(0.1, 10.0),
    st.floats(0.05, 6.0),
    st.floats(0.5, 20.0),
    st.floats(0.01, 0.9),
    st.floats(0.0, 1.0),
)
def test_hours_and_charge_are_each_others_inverse(
    missing: float, knee: float, fill_a: float, last: float, part: float
) -> None:
    ours = course(missing, knee, fill_a, last)
    hours = hours_to(ours, missing * (1 - part))[0]
    assert gained_ah(ours, hours)[0] == pytest.approx(missing * part, rel=1e-6, abs=1e-9)
    assert hours <= hours_to(ours, 0.0)[0] + 1e-9
    assert gained_ah(ours, hours + 1.0)[0] >= gained_ah(ours, hours)[0] - 1e-12


@pytest.mark.parametrize("rate", [0.2, 0.5, 1.0])
def test_an_nmc_cell_model_charges_within_the_band(rate: float) -> None:
    """Single particle model with electrolyte, 5 Ah cell (Chen et al. 2020, doi 10.1149/1945-7111/ab9050)."""
    total_h, taper_h, missing_ah, capacity_ah = _modelled_charge("Chen2020", rate, 4.2)
    pack = Pack(chemistry="nmc", series=1, capacity_ah=capacity_ah, cut_off_v=3.0)
    answer = refill(pack, missing_ah, Charger(amps=rate * 5.0))
    assert answer.minutes.low <= 60 * total_h <= answer.minutes.high
    assert answer.taper_minutes.low <= 60 * taper_h <= answer.taper_minutes.high


@pytest.mark.parametrize("rate", [0.5, 1.0])
def test_an_lfp_cell_model_without_resistance_is_the_quickest_case(rate: float) -> None:
    """Single particle model of a 2.3 Ah cell (Prada et al. 2013, doi 10.1149/2.053304jes).

    It has neither electrolyte nor contacts, so real cells take longer: it belongs at the low end of the band.
    """
    total_h, _, missing_ah, capacity_ah = _modelled_charge("Prada2013", rate, 3.6)
    pack = Pack(chemistry="lfp", series=1, capacity_ah=capacity_ah, cut_off_v=2.5)
    minutes = refill(pack, missing_ah, Charger(amps=rate * 2.3)).minutes
    assert 60 * total_h == pytest.approx(minutes.low, rel=0.03)
    assert 60 * total_h < minutes.value


@pytest.mark.filterwarnings("ignore")
def _modelled_charge(cell: str, rate: float, volts: float) -> tuple[float, float, float, float]:
    """From 30 % to full: hours, hours of falling current, charge missing then, capacity."""
    pybamm = pytest.importorskip("pybamm")
    model = pybamm.lithium_ion.SPMe() if cell == "Chen2020" else pybamm.lithium_ion.SPM()
    values = pybamm.ParameterValues(cell)
    rated = values["Nominal cell capacity [A.h]"]
    steps = [f"Charge at {rate * rated} A until {volts} V", f"Hold at {volts} V until {0.05 * rated} A"]
    simulation = pybamm.Simulation(model, parameter_values=values, experiment=pybamm.Experiment(steps))
    bulk, taper = simulation.solve(initial_soc=0.3).cycles
    hours = [float(cycle["Time [h]"].entries[-1] - cycle["Time [h]"].entries[0]) for cycle in (bulk, taper)]
    missing = float(
        bulk["Discharge capacity [A.h]"].entries[0] - taper["Discharge capacity [A.h]"].entries[-1]
    )
    return sum(hours), hours[1], missing, missing / 0.7


def test_a_pack_of_45_cells_half_used_in_twenty_minutes() -> None:
    """Common practice: 15 in series, 3.6 V each, 2.5 Ah, are 135 Wh; half of it in 20 minutes is 202 W."""
    watt_hours = 15 * 3.6 * 2.5
    assert watt_hours == pytest.approx(135.0)
    assert watt_hours / 2 / (20 / 60) == pytest.approx(202.5)
    pack = Pack(chemistry="nmc", series=15, capacity_ah=2.5, cut_off_v=45.0)
    given_back = break_gives(pack, 1.25, Charger(amps=0.625), 60.0, mowing_w=Band(202.5, 202.5, 202.5))
    assert given_back.ah.value == pytest.approx(0.625, rel=0.02)
    assert given_back.mowing_minutes is not None
    assert given_back.mowing_minutes.value == pytest.approx(10.0, rel=0.03), (
        "half of what was used, half the time"
    )


def test_constant_current_on_paper() -> None:
    """6 Ah at 1 A into 10 Ah: the taper begins within the last 4 %, so the bulk takes 5.6 to 5.9 h."""
    answer = refill(PACK, 6.0, Charger(amps=1.0))
    assert 60 * 5.6 <= answer.bulk_minutes.low <= answer.bulk_minutes.high <= 60 * 6.0
    assert answer.charge_before == pytest.approx(0.4)
    assert answer.minutes_to_90.value == pytest.approx(60 * 5.0, rel=0.02)


def test_watts_and_amps_of_the_same_charger_agree() -> None:
    by_amps = refill(PACK, 5.0, Charger(amps=3.0))
    by_watts = refill(PACK, 5.0, Charger(watts=3.0 * 13 * 3.85))
    assert by_watts.minutes.value == pytest.approx(by_amps.minutes.value, rel=0.02)
    assert by_watts.charger_a.value == pytest.approx(3.0, rel=0.01)


def test_energy_is_volts_times_charge_and_the_socket_gives_more() -> None:
    answer = refill(PACK, 5.0, Charger(amps=2.0))
    assert answer.pack_wh.value == pytest.approx(5.0 * 13 * 3.85, rel=0.02)
    assert answer.mains_wh.low > answer.pack_wh.value
    assert answer.mains_wh.value == pytest.approx(answer.pack_wh.value / 0.875, rel=0.02)


def test_lead_acid_keeps_less_and_tapers_earlier() -> None:
    lead = refill(LEAD, 10.0, Charger(amps=2.0))
    lithium = refill(Pack("nmc", 13, 20.0, 39.0), 10.0, Charger(amps=2.0))
    assert lead.minutes.value > 1.15 * lithium.minutes.value
    assert lead.taper_minutes.value > lithium.taper_minutes.value
    assert "hydrogen" in lead.cautions[0] and "Lithium" in lithium.cautions[0]


def test_what_lead_acid_does_not_keep_is_paid_in_time_and_energy() -> None:
    """With 0.86 kept, 10 Ah are 11.6 Ah to put in: 635 Wh at 2.275 V a cell; 5 Ah at 1 A take 5.8 h."""
    answer = refill(LEAD, 10.0, Charger(amps=1.0))
    assert answer.pack_wh.value == pytest.approx(10.0 / 0.86 * 24 * 2.275, rel=0.02)
    half = break_gives(LEAD, 10.0, Charger(amps=1.0), 5.0 / 0.86 * 60)
    assert half.ah.value == pytest.approx(5.0, rel=0.02)


@pytest.mark.parametrize(("rate", "least_h", "most_h"), [(0.1, 12, 16), (0.2, 8, 10)])
def test_a_flat_lead_acid_pack_takes_a_night(rate: float, least_h: float, most_h: float) -> None:
    """12 to 16 h at the ten-hour rate, 8 to 10 h at the five-hour rate (from memory: battery handbooks)."""
    minutes = refill(LEAD, 20.0, Charger(amps=rate * 20.0)).minutes
    assert 60 * least_h < minutes.value < 60 * most_h
    assert 60 * least_h * 0.9 < minutes.low < minutes.high < 60 * most_h * 1.15


def test_lead_acid_meets_its_limit_before_it_is_full() -> None:
    """At the ten-hour rate with 10 to 25 % still missing (common practice), 17.5 % in the middle; 0.86 of the
    charge is kept, so that 82.5 % take 0.825 / 0.1 / 0.86 = 9.6 h."""
    bulk = refill(LEAD, 20.0, Charger(amps=2.0)).bulk_minutes
    assert bulk.value == pytest.approx(60 * 0.825 / 0.1 / 0.86, rel=0.015)
    assert 60 * 0.75 / 0.1 / 0.92 < bulk.low < bulk.high < 60 * 0.90 / 0.1 / 0.80


def test_even_the_fastest_charger_begins_at_its_constant_current() -> None:
    """At first a flat pack takes what the charger gives, however early its voltage reaches the limit."""
    assert refill(LEAD, 20.0, Charger(amps=20.0)).bulk_minutes.low > 0


@pytest.mark.parametrize(("chemistry", "nominal_v"), [("nmc", 3.6), ("lfp", 3.2), ("lead_acid", 2.0)])
def test_volts_while_mowing_and_while_charging(chemistry: str, nominal_v: float) -> None:
    """Mowing happens around the nominal voltage, charging between it and that of a full cell."""
    pack = Pack(chemistry, 10, 10.0, 10 * 0.7 * nominal_v)
    given_back = break_gives(pack, 5.0, Charger(amps=1.0), 60.0)
    assert given_back.wh.value / given_back.ah.value / 10 == pytest.approx(nominal_v, rel=0.04)
    put_in = refill(pack, 5.0, Charger(amps=1.0)).pack_wh
    kept = 0.86 if chemistry == "lead_acid" else 1.0
    for end in (put_in.low, put_in.high):
        assert nominal_v < end * kept / 5.0 / 10 < 1.02 * FULL_CELL_V[chemistry]


@pytest.mark.parametrize(("chemistry", "least_min", "most_min"), [("nmc", 30, 60), ("lfp", 8, 20)])
def test_the_falling_current_lasts_long_for_nmc_and_briefly_for_lfp(
    chemistry: str, least_min: float, most_min: float
) -> None:
    """At half the capacity per hour, from flat; cells of one kind differ by a factor of about two (common
    practice)."""
    pack = Pack(chemistry, 13, 10.0, 13 * 2.8)
    taper = refill(pack, 10.0, Charger(amps=5.0)).taper_minutes
    assert least_min < taper.value < most_min
    assert taper.low < least_min and most_min < taper.high < 1.8 * most_min


@pytest.mark.parametrize(("chemistry", "usual", "high"), [("lead_acid", 0.2, 0.4), ("lfp", 0.8, 1.5)])
def test_a_high_rate_of_charge_is_referred_to_the_maker(chemistry: str, usual: float, high: float) -> None:
    """A fifth of the capacity per hour is usual for lead-acid, four fifths for LFP (common practice)."""
    pack = Pack(chemistry, 20, 20.0, 20 * USUAL_CUT_OFF_V[chemistry])
    for rate, told in ((usual, False), (high, True)):
        said = refill(pack, 10.0, Charger(amps=20.0 * rate)).cautions
        assert any("maker's highest charging current" in each for each in said) == told


def test_nothing_used_needs_nothing() -> None:
    answer = refill(PACK, 0.0, Charger(watts=100.0))
    assert answer.minutes == Band(0.0, 0.0, 0.0)
    assert break_gives(PACK, 0.0, Charger(watts=100.0), 30.0).ah == Band(0.0, 0.0, 0.0)


@given(st.floats(0.5, 9.5), st.floats(0.5, 8.0), st.floats(1.0, 300.0))
def test_a_longer_break_never_gives_less_nor_more_than_was_used(
    used: float, amps: float, minutes: float
) -> None:
    short, long = (break_gives(PACK, used, Charger(amps=amps), each) for each in (minutes, 1.5 * minutes))
    assert short.ah.value <= long.ah.value + 1e-9
    assert long.ah.high <= used + 1e-9
    assert short.charge_after.high <= 1.0 + 1e-9


def test_a_fast_charger_is_referred_to_the_maker() -> None:
    assert not any("maker's highest" in said for said in refill(PACK, 5.0, Charger(amps=8.0)).cautions)
    assert any(
        "2.0 times the pack's capacity" in said for said in refill(PACK, 5.0, Charger(amps=20.0)).cautions
    )


def test_unknown_use_widens_the_minutes() -> None:
    sure = refill(PACK, 5.0, Charger(amps=2.0)).minutes
    unsure = refill(PACK, 5.0, Charger(amps=2.0), used_ah_std=0.8).minutes
    assert unsure.high - unsure.low > 2 * (sure.high - sure.low)


@pytest.mark.parametrize(
    ("make", "line"),
    [
        (lambda: Charger(), "the charger needs watts or amps; give one of the two"),
        (lambda: Charger(watts=100.0, amps=2.0), "the charger needs watts or amps; give one of the two"),
        (lambda: Charger(amps=0.0), "current of the charger is 0 A; give 0.01 to 10000 A"),
        (lambda: refill(PACK, -1.0, Charger(amps=2.0)), "charge used is -1 Ah; give 0 to 2000 Ah"),
        (
            lambda: refill(PACK, 12.0, Charger(amps=2.0)),
            "12 Ah were used, but pack pack holds 10 Ah; charge in between, or correct the pack's capacity",
        ),
        (
            lambda: break_gives(PACK, 5.0, Charger(amps=2.0), -5.0),
            "length of the break is -5 min; give 0 to 1440 min",
        ),
    ],
)
def test_wrong_charging_figures_are_refused(make, line: str) -> None:
    with pytest.raises(InputError) as error:
        make()
    assert str(error.value) == line
