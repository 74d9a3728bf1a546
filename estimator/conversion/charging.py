"""How long a charger takes after today's mowing, and what a break between lawns gives back."""

from __future__ import annotations

import numpy as np

from estimator.amounts import check_amount
from estimator.conversion import cautions
from estimator.conversion.bands import Band, draws_of, of_draws
from estimator.conversion.charge_course import bulk_hours, gained_ah, hours_to
from estimator.conversion.charging_habits import CHARGER_EFFICIENCY, HABITS, ChargeDraws, Charger, courses
from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.results import result

_DRAWS = 4000
"""The ends of a band from this many draws are off by a hundredth of its width."""


@result
class Refill:
    """What it takes to refill a pack.

    minutes : in all, of which `bulk_minutes` at constant current and `taper_minutes` at falling current
    minutes_to_90 : until 90 % charge; 0 where the pack already holds that
    pack_wh, mains_wh : energy into the pack, and energy from the socket
    """

    minutes: Band
    bulk_minutes: Band
    taper_minutes: Band
    minutes_to_90: Band
    pack_wh: Band
    mains_wh: Band
    charger_a: Band
    charge_before: float
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


@result
class BreakCharge:
    """What a break gives back: charge, energy for mowing, and minutes of mowing (None without a load)."""

    ah: Band
    wh: Band
    mowing_minutes: Band | None
    charge_before: float
    charge_after: Band
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def refill(pack: Pack, used_ah: float, charger: Charger, *, used_ah_std: float = 0.0) -> Refill:
    """Minutes and energy to refill a pack.

    Parameters
    ----------
    pack : Pack or FittedPack
        the pack on the charger
    used_ah : float, 0 to the pack's capacity [Ah]
        charge used
    charger : Charger
        its watts [W] or amps [A]
    used_ah_std : float, from 0 [Ah], default 0
        standard uncertainty of `used_ah`

    Returns
    -------
    Refill
        minutes [min] and energies [Wh] with bands, and cautions

    Raises
    ------
    InputError
        where more was used than the pack holds

    Source: constant current, then constant voltage; efficiencies are common practice.

    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> answer = refill(pack, 6.0, Charger(amps=2.0))
    >>> round(answer.minutes.value / 60, 1), answer.minutes.low < answer.minutes.value < answer.minutes.high
    (3.2, True)
    """
    draws = _draw(pack, used_ah, used_ah_std, charger)
    course = draws.course
    pack_wh = course.missing_ah / draws.kept * draws.charge_v
    whole, bulk = hours_to(course, 0.0), bulk_hours(course)
    return Refill(
        minutes=of_draws(60 * whole),
        bulk_minutes=of_draws(60 * bulk),
        taper_minutes=of_draws(60 * (whole - bulk)),
        minutes_to_90=of_draws(60 * hours_to(course, 0.1 * pack.capacity_ah)),
        pack_wh=of_draws(pack_wh),
        mains_wh=of_draws(pack_wh / draws.efficiency),
        charger_a=of_draws(draws.amps),
        charge_before=1 - used_ah / pack.capacity_ah,
        assumptions=_assumptions(pack),
        cautions=_cautions(pack, draws),
    )


def break_gives(
    pack: Pack,
    used_ah: float,
    charger: Charger,
    minutes: float,
    *,
    used_ah_std: float = 0.0,
    mowing_w: Band | None = None,
) -> BreakCharge:
    """What charging during a break gives back.

    Parameters
    ----------
    pack : Pack or FittedPack
        the pack on the charger
    used_ah : float, 0 to the pack's capacity [Ah]
        charge used before the break
    charger : Charger
        its watts [W] or amps [A]
    minutes : float, from 0 [min]
        length of the break
    used_ah_std : float, from 0 [Ah], default 0
        standard uncertainty of `used_ah`
    mowing_w : Band [W], default None
        typical power while mowing, to give the energy as minutes too

    Returns
    -------
    BreakCharge
        charge [Ah], energy [Wh] and perhaps minutes [min], with bands

    Raises
    ------
    InputError
        for a break of negative length, or where more was used than the pack holds

    Source: constant current, then constant voltage (common practice).

    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> round(break_gives(pack, 6.0, Charger(amps=2.0), 30.0).ah.value, 2)
    1.0
    """
    check_amount("pause_minutes", minutes, needed=True)
    draws = _draw(pack, used_ah, used_ah_std, charger)
    gained = gained_ah(draws.course, minutes / 60)
    wh = gained * HABITS[pack.chemistry].mowing_cell_v * pack.series
    powers = None if mowing_w is None else draws_of(mowing_w, _DRAWS, np.random.default_rng(9))
    return BreakCharge(
        ah=of_draws(gained),
        wh=of_draws(wh),
        mowing_minutes=None if powers is None else of_draws(60 * wh / powers),
        charge_before=1 - used_ah / pack.capacity_ah,
        charge_after=of_draws(1 - (draws.course.missing_ah - gained) / pack.capacity_ah),
        assumptions=_assumptions(pack),
        cautions=_cautions(pack, draws),
    )


def _draw(pack: Pack, used_ah: float, used_ah_std: float, charger: Charger) -> ChargeDraws:
    check_amount("used_ah", used_ah, needed=True)
    if used_ah > 1.1 * pack.capacity_ah:
        raise InputError(
            f"{used_ah:g} Ah were used, but pack {pack.name} holds {pack.capacity_ah:g} Ah",
            mend="charge in between, or correct the pack's capacity",
        )
    rng = np.random.default_rng(8)
    missing = np.clip(used_ah + used_ah_std * rng.standard_normal(_DRAWS), 0.0, pack.capacity_ah)
    return courses(pack, charger, missing, np.full(_DRAWS, pack.capacity_ah), rng)


def _assumptions(pack: Pack) -> tuple[str, ...]:
    habit = HABITS[pack.chemistry]
    kept, passed = (
        f"{low:.0%} to {high:.0%}".replace("%", " %") for low, high in (habit.kept, CHARGER_EFFICIENCY)
    )
    return (
        "constant current first, then a current that falls with what is missing (common practice)",
        f"{kept} of the charge put in is kept; the charger passes on {passed} of what the socket gives",
        "the charger gives what its label says, and no time is allowed for cooling or balancing",
    )


def _cautions(pack: Pack, draws: ChargeDraws) -> tuple[str, ...]:
    said = cautions.for_pack(pack.chemistry)
    rate = float(np.median(draws.amps)) / pack.capacity_ah
    if rate > HABITS[pack.chemistry].high_rate:
        said += (
            f"This charger gives {rate:.1f} times the pack's capacity per hour, a lot for its chemistry "
            "(common practice): the maker's highest charging current decides.",
        )
    return said
