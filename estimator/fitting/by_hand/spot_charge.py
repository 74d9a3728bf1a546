"""Charge and energy used by a mow with a few hand readings only, and the charge left."""

from __future__ import annotations

import numpy as np

from estimator.descriptions import Pack
from estimator.errors import check_kind
from estimator.fitting.by_hand.weighing import weigh
from estimator.importer.by_hand.amps import USUAL, Habit
from estimator.importer.by_hand.spot_order import check_spot
from estimator.importer.log import SpotNotes
from estimator.results import result


@result
class SpotCharge:
    """What hand readings say together, with standard uncertainties.

    ah, wh : charge [Ah] and energy [Wh] used; mean_a : mean current [A] over the minutes noted
    charge_before, charge_after : usable charge (0..1) at the start and at the end
    """

    ah: float
    ah_std: float
    wh: float
    wh_std: float
    mean_a: float
    mean_a_std: float
    charge_before: float
    charge_before_std: float
    charge_after: float
    charge_after_std: float


def spot_charge(
    spot: SpotNotes,
    pack: Pack,
    start_charge: float | None = None,
    temperature_c: float | None = None,
    habit: Habit = USUAL,
) -> SpotCharge:
    """What a mow used, by its hand readings.

    Parameters
    ----------
    spot : SpotNotes
        amps [A] with minutes [min], and whatever else was read: rest voltages, a voltage under load, a gauge,
        what the charger put back
    pack : Pack or FittedPack
        the pack that was read
    start_charge : float, 0..1, default None
        usable charge at the start; None takes full nine times in ten
    temperature_c : float, -40..70 [°C], default None
        None takes 25 °C
    habit : Habit, default usual
        how the person's typical current compares with the mean

    Returns
    -------
    SpotCharge
        charge [Ah], energy [Wh], mean current [A] and charges (0..1), each with its standard uncertainty

    Raises
    ------
    InputError
        where the notes have no amps or no minutes, or readings that cannot be

    Source: importance sampling, Kish 1965, Survey Sampling, 11.7.

    >>> notes = SpotNotes(idle_a=4, typical_a=10, highest_a=28, minutes=30,
    ...                   rest_before_v=54.2, rest_after_v=49.9)
    >>> found = spot_charge(notes, Pack(chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39))
    >>> 4 < found.ah < 5, found.charge_before > 0.97
    (True, True)
    """
    check_kind("spot", spot, SpotNotes)
    check_spot(spot)
    found = weigh(spot, pack, start_charge, temperature_c, habit)
    moments = [
        float(each)
        for draws in (found.ah, found.wh, found.mean_a, found.before, found.after)
        for each in (np.mean(draws), np.std(draws))
    ]
    return SpotCharge(*moments)
