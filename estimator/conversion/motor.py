"""The motor's load, compared with its rating and the old engine's."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.amounts import check_amount
from estimator.conversion import cautions
from estimator.conversion.bands import Band, next_mow, of_meter, product
from estimator.conversion.load_trace import LoadTrace, check_loads, highest_rms
from estimator.errors import InputError
from estimator.fitting.load.phases import find_phases
from estimator.results import result

WATTS_PER_HORSEPOWER = 745.6999
"""Horsepower of 550 ft·lbf/s, NIST SP 811 (2008), appendix B.8."""
EFFICIENCY = Band(0.80, 0.68, 0.88)
"""Shaft power over battery power of a brushless motor with controller at part load (common practice)."""


@result
class MotorLoad:
    """Electrical power [W] at the pack, and what it means for the motor.

    rated_w : the motor's rating [W] at the shaft, None where not given
    idle_w : with the blades turning free, in the calm low stretches of the mows; None where none shows any
    typical_w, peak_w : mean while mowing, and highest second; the band of the peak is the meter's, the others
        cover the next mow
    shaft_w : typical power at the shaft
    loading, peak_loading : shaft power, typical and at the peak, as a share of the rating; None without one
    engine_w : the old engine's rating [W], None where not given
    of_engine : typical shaft power as a share of the engine's rating
    loaded_60_w, loaded_80_w : rating of a motor that a typical mow loads to 60 % and to 80 %
    """

    rated_w: float | None
    idle_w: Band | None
    typical_w: Band
    peak_w: Band
    shaft_w: Band
    loading: Band | None
    peak_loading: Band | None
    engine_w: float | None
    of_engine: Band | None
    loaded_60_w: Band
    loaded_80_w: Band
    verdict: str
    assumptions: tuple[str, ...]
    sources: tuple[str, ...]
    cautions: tuple[str, ...]


def motor_load(
    mows: Sequence[LoadTrace], *, rated_w: float | None = None, engine_hp: float | None = None
) -> MotorLoad:
    """Measured power compared with the motor's rating and the old engine's horsepower.

    Parameters
    ----------
    mows : sequence of LoadTrace, (n,), n from 1
        one measured load for each mow
    rated_w : float, above 0 [W], default None
        the motor's rating at the shaft
    engine_hp : float, above 0 [hp], default None
        the old engine's rating

    Returns
    -------
    MotorLoad
        powers [W] with bands and loadings [0..1]

    Raises
    ------
    InputError
        where no mow is given or a power is not above zero

    Source: horsepower of 745.6999 W, NIST SP 811; the efficiency is common practice.

    >>> load = LoadTrace([5.0] * 60 + [15.0] * 540 + [30.0] * 5, [48.0] * 605)
    >>> answer = motor_load([load], rated_w=1500.0, engine_hp=5.0)
    >>> round(answer.engine_w), round(answer.idle_w.value), round(answer.peak_w.value)
    (3728, 240, 1440)
    >>> round(answer.loading.value, 2), round(answer.loaded_80_w.value)
    (0.36, 678)
    """
    check_loads(mows, "motor")
    check_amount("motor_rated_w", rated_w)
    check_amount("engine_hp", engine_hp)
    typical = next_mow([_typical(mow) for mow in mows])
    idle = [watts for mow in mows if (watts := mow.idle_w or find_phases(mow.power_w).idle_w)]
    shaft = product(typical, EFFICIENCY)
    read = [mow for mow in mows if mow.shows(1.0)]
    peak = of_meter(
        max(highest_rms(mow.power_w, mow.step_s, 1.0) for mow in read or mows),
        mows[0].current_gain,
        mows[0].current_zero_a * float(mows[0].voltage_v.mean()),
    )
    engine_w = None if engine_hp is None else engine_hp * WATTS_PER_HORSEPOWER
    loading = None if rated_w is None else shaft.times(1 / rated_w)
    at_60, at_80 = shaft.times(1 / 0.6), shaft.times(1 / 0.8)
    return MotorLoad(
        rated_w=rated_w,
        idle_w=next_mow(idle) if idle else None,
        typical_w=typical,
        peak_w=peak,
        shaft_w=shaft,
        loading=loading,
        peak_loading=None if rated_w is None else product(peak, EFFICIENCY).times(1 / rated_w),
        engine_w=engine_w,
        of_engine=None if engine_w is None else shaft.times(1 / engine_w),
        loaded_60_w=at_60,
        loaded_80_w=at_80,
        verdict=_verdict(
            loading, at_60, at_80, rated_w, peak, "took" if read else "was not read, and usually takes"
        ),
        assumptions=(
            f"shaft power is {EFFICIENCY.value:.0%} of battery power, {EFFICIENCY.low:.0%} to "
            f"{EFFICIENCY.high:.0%} (common practice)".replace("%", " %"),
            "an engine's rating is its best at full throttle; a motor seldom needs as much (common practice)",
        ),
        sources=("NIST SP 811 (2008), appendix B.8 (horsepower)",),
        cautions=(cautions.MOTOR, cautions.CONTROLLER, cautions.BLADES),
    )


def _typical(mow: LoadTrace) -> float:
    running = mow.power_w[mow.running()]
    if not running.size:
        raise InputError("the motor never runs in this log", mend="take a log that shows it mowing")
    return float(running.mean())


def _verdict(
    loading: Band | None, at_60: Band, at_80: Band, rated_w: float | None, peak: Band, took: str
) -> str:
    fitting = (
        f"A motor rated {at_80.value:.0f} to {at_60.value:.0f} W would be loaded 60 to 80 % on a typical "
        f"mow. With the variation from mow to mow and the motor's efficiency, that is {at_80.low:.0f} to "
        f"{at_60.high:.0f} W."
    )
    if loading is None or rated_w is None:
        return fitting
    share = f"{100 * loading.value:.0f} % ({100 * loading.low:.0f} to {100 * loading.high:.0f})"
    peak_w = EFFICIENCY.value * peak.value
    return (
        f"A typical mow loads the {rated_w:.0f} W motor to {share} of its rating. {fitting} "
        f"The highest second {took} {peak_w:.0f} W at the shaft, {peak_w / at_80.value:.1f} times the "
        "smaller rating."
    )
