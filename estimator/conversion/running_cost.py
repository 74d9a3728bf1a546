"""Money: electricity per mow, season and 1,000 m², compared with petrol at the user's price and litres."""

from __future__ import annotations

from dataclasses import dataclass

from estimator.amounts import check_amount
from estimator.conversion.bands import Band
from estimator.errors import InputError, check_kind
from estimator.results import result


@dataclass(frozen=True)
class Cost:
    """Money per mow, season and 1,000 m², in the currency of the prices; None where it is not known."""

    per_mow: Band
    per_season: Band | None
    per_1000_m2: Band | None


@result
class RunningCost:
    """Electricity, wear of the pack and petrol, as far as the user gave their figures, and what a season
    saves (negative where it costs more)."""

    electricity: Cost
    wear: Cost | None
    petrol: Cost | None
    saved_per_season: Band | None
    mains_kwh_per_season: Band | None
    assumptions: tuple[str, ...]


@dataclass(frozen=True)
class Petrol:
    """What the petrol machine took: price per litre, and litres per mow or per hour.

    >>> Petrol(price_per_l=1.8, l_per_hour=0.9).l_per_mow_of(minutes=40.0)
    0.6
    """

    price_per_l: float
    l_per_mow: float | None = None
    l_per_hour: float | None = None

    def __post_init__(self) -> None:
        if (self.l_per_mow is None) == (self.l_per_hour is None):
            raise InputError("petrol needs litres per mow or per hour", mend="give one of the two")
        for what in ("price_per_l", "l_per_mow", "l_per_hour"):
            check_amount(f"petrol_{what}", getattr(self, what), needed=what == "price_per_l")

    def l_per_mow_of(self, minutes: float | None) -> float:
        """Litres that a mow of this length [min] took."""
        if self.l_per_mow is not None:
            return self.l_per_mow
        if minutes is None or self.l_per_hour is None:
            raise InputError(
                "litres per hour need the minutes of a mow", mend="give the minutes, or litres per mow"
            )
        return self.l_per_hour * minutes / 60


CYCLES = {
    "nmc": Band(800.0, 400.0, 1600.0),
    "nca": Band(700.0, 350.0, 1400.0),
    "lco": Band(500.0, 300.0, 900.0),
    "lfp": Band(2500.0, 1200.0, 5000.0),
    "lithium": Band(900.0, 350.0, 2500.0),
    "lead_acid": Band(350.0, 200.0, 700.0),
}
"""Full discharges until 80 % of the capacity is left (common practice of data sheets; age also counts)."""


def wear_of_cycles(price: float, used_share: float, cycles: Band) -> Band:
    """Money, in the currency of the price, that a mow wears off a pack that lasts `cycles` full discharges.

    used_share : share of the capacity that the mow takes

    >>> wear_of_cycles(400.0, 0.5, Band(800.0, 400.0, 1600.0))
    Band(value=0.25, low=0.125, high=0.5)
    """
    return Band(*(price * used_share / each for each in (cycles.value, cycles.high, cycles.low)))


def wear_of_fade(price: float, lost_a_mow: Band) -> Band:
    """Money that a mow wears off a pack that loses a share of its capacity each mow, until 20 % are lost.

    >>> wear_of_fade(400.0, Band(0.0005, 0.0002, 0.0008))
    Band(value=1.0, low=0.4, high=1.6)
    """
    return lost_a_mow.times(price / 0.20)


def running_cost(
    mains_wh: Band,
    price_per_kwh: float,
    *,
    area_m2: float | None = None,
    mows_per_season: float | None = None,
    petrol: Petrol | None = None,
    minutes: float | None = None,
    wear: Band | None = None,
) -> RunningCost:
    """Money for mowing, in the currency of the prices.

    Parameters
    ----------
    mains_wh : Band [Wh]
        energy from the socket per mow, such as `refill(...).mains_wh`
    price_per_kwh : float, from 0
        price of electricity, in any currency
    area_m2 : float, above 0 [m²], default None
        area mown in that mow
    mows_per_season : float, from 0, default None
        None gives no sum for a season
    petrol : Petrol, default None
        what the petrol machine took
    minutes : float [min], default None
        length of the mow, where petrol is given in litres per hour
    wear : Band, default None
        money that a mow wears off the pack

    Returns
    -------
    RunningCost
        per mow, per season and per 1000 m², with bands

    Raises
    ------
    InputError
        for negative prices, and for litres per hour without minutes

    Source: none; products.

    >>> answer = running_cost(Band(250.0, 200.0, 300.0), 0.30, area_m2=500.0, mows_per_season=20,
    ...                       petrol=Petrol(price_per_l=1.80, l_per_mow=0.5))
    >>> answer.electricity.per_mow.value, answer.electricity.per_1000_m2.value
    (0.075, 0.15)
    >>> round(answer.saved_per_season.low, 2)
    16.2
    """
    check_kind("mains_wh", mains_wh, Band)
    check_amount("price_per_kwh", price_per_kwh, needed=True)
    check_amount("mows_per_season", mows_per_season)
    check_amount("area_m2", area_m2)
    electricity = _cost(mains_wh.times(price_per_kwh / 1000), area_m2, mows_per_season)
    fuel = saved = None
    if petrol is not None:
        money = petrol.l_per_mow_of(minutes) * petrol.price_per_l
        fuel = _cost(Band(money, money, money), area_m2, mows_per_season)
        if mows_per_season is not None:
            mow = electricity.per_mow
            if wear is not None:
                mow = Band(*(getattr(mow, end) + getattr(wear, end) for end in ("value", "low", "high")))
            saved = Band(*(mows_per_season * (money - each) for each in (mow.value, mow.high, mow.low)))
    return RunningCost(
        electricity=electricity,
        wear=None if wear is None else _cost(wear, area_m2, mows_per_season),
        petrol=fuel,
        saved_per_season=saved,
        mains_kwh_per_season=None if mows_per_season is None else mains_wh.times(mows_per_season / 1000),
        assumptions=(
            "energy only: the wear of the pack, oil, spark plugs and repairs are not counted"
            if wear is None
            else "oil, spark plugs and repairs are not counted",
            "the band is that of the electricity; petrol is taken as given",
        ),
    )


def _cost(per_mow: Band, area_m2: float | None, mows: float | None) -> Cost:
    return Cost(
        per_mow=per_mow,
        per_season=None if mows is None else per_mow.times(mows),
        per_1000_m2=None if area_m2 is None else per_mow.times(1000 / area_m2),
    )
