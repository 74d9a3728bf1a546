"""How idle, typical, highest and mean current of a mow relate, and the mean current they give.

People note what the clamp shows while cutting. The mean over the minutes on the watch is lower, since the
machine turns and stands still in between. MAX hold shows how high a peak went but hardly where the mean lies.

Calibrated on seven families of invented mowing: the sample logs, a walked patchy lawn, rows with thick
patches, and the open half of a world of hand readers (tall tufts, strokes between beds, a reel that clogs,
rolling ground). On the logarithm of mean over typical they lie -0.12, -0.03, 0.01, 0.09, -0.12, 0.11 and 0.00
from what is expected here, and a sixth more if each is predicted from the others. `PERSON_STD` covers that
and what people call typical.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from estimator.importer.by_hand.spot_order import amps_missing, has_amps, tells_used
from estimator.importer.log import SpotNotes

CUTTING_MEAN = 1.08
"""Mean current of cutting over the usual one: thick patches raise it (common practice)."""
FREE_SHARE, STILL_SHARE = 0.15, 0.04
"""Share of the minutes in which the blades turn free of grass, and in which they stand (common practice)."""
IDLE_TO_TYPICAL, IDLE_LOG_STD = 0.29, 0.3
"""Current of blades turning free over the usual one, and the spread of its logarithm (common practice)."""
HIGHEST_TO_TYPICAL, HIGHEST_LOG_STD = 2.0, 0.25
"""The highest second of a mow over the usual current: in the open half of the world of hand readers 1.35
(rolling ground), 1.4 (clogging), 1.5 (strokes), 2.5 (patches), 4.3 (tufts), 1.98 in the geometric mean."""
PERSON_STD = 0.13
"""Spread of the logarithm of mean over typical between people, machines and lawns: in what counts as usual,
and in what the watch counts. A part of it is learnt from mows (`fitting.by_hand.habit`)."""
MOW_STD = 0.075
"""The same from mow to mow of one person: a few looks at a moving figure, rounded (common practice)."""
PUT_BACK_STD = 0.15
"""Spread of the charge put back over what a mow used, where no pack is known: losses, and a pack that was not
full before (common practice)."""
WH_PUT_BACK, SOCKET_TO_PACK = 0.9, 0.87
"""Energy taken out over energy put back; share of the socket's energy that a charger passes on (common
practice)."""
AVERAGE_STD = 0.04
"""Relative error of a meter's AVG, which runs from the press of a key to the next look (common practice)."""


@dataclass(frozen=True)
class Habit:
    """How one person's mean current compares with their typical one, relative to the usual ratio.

    log_ratio : mean of its logarithm; std : the standard uncertainty of that, the same in all their mows;
    mow_std : spread of single mows about it
    """

    log_ratio: float = 0.0
    std: float = PERSON_STD
    mow_std: float = MOW_STD


USUAL = Habit()


@dataclass(frozen=True)
class MeanCurrent:
    """Mean current [A] over the minutes noted and its standard uncertainty [A]."""

    amps: float
    std: float

    @property
    def log_std(self) -> float:
        """Standard uncertainty of the logarithm."""
        return self.std / self.amps if self.amps > 0 else 1.0


def usual_ratio(idle_to_typical: float = IDLE_TO_TYPICAL) -> float:
    """Mean current over the typical one, from cutting, turning in no grass and standing still.

    >>> round(usual_ratio(0.29), 3), round(usual_ratio(1.0), 3)
    (0.923, 1.025)
    """
    share = min(max(idle_to_typical, 0.0), 1.0)
    return (1 - STILL_SHARE) * ((1 - FREE_SHARE) * CUTTING_MEAN + FREE_SHARE * share)


def expected_current(spot: SpotNotes, habit: Habit = USUAL) -> MeanCurrent | None:
    """Mean current from the typical one, else from idle and highest or one of them; None without any.

    >>> found = expected_current(SpotNotes(idle_a=4.0, typical_a=10.0, highest_a=28.0))
    >>> round(found.amps, 1), round(found.std, 1)
    (9.4, 1.4)
    """
    typical, log_std = spot.typical_a, math.hypot(habit.std, habit.mow_std)
    idle = spot.idle_a
    if typical is None:
        tells = [(spot.highest_a / HIGHEST_TO_TYPICAL, HIGHEST_LOG_STD**-2)] if spot.highest_a else []
        tells += [(idle / IDLE_TO_TYPICAL, IDLE_LOG_STD**-2)] if idle else []
        if not tells:
            return None
        certain = sum(weight for _, weight in tells)
        middle = math.exp(sum(math.log(each) * weight for each, weight in tells) / certain)
        typical = min(max(middle, idle or 0.0), spot.highest_a or math.inf)
        log_std = math.hypot(log_std, certain**-0.5)
    share = idle / typical if idle is not None and typical > 0 else IDLE_TO_TYPICAL
    amps = typical * usual_ratio(share) * math.exp(habit.log_ratio)
    return MeanCurrent(amps, log_std * amps)


def mean_current(spot: SpotNotes, habit: Habit = USUAL) -> MeanCurrent:
    """As `current_read`; where no amps were read, one stands in until a pack says more."""
    return current_read(spot, habit) or MeanCurrent(10.0, 10.0)


def current_read(spot: SpotNotes, habit: Habit = USUAL) -> MeanCurrent | None:
    """Mean current of a mow from amps read by hand; with the meter's own average it is nearly certain.

    None where neither amps nor a charger tell of it, but volts at rest show what was used.

    >>> current_read(SpotNotes(mean_a=10.0))
    MeanCurrent(amps=10.0, std=0.4)
    """
    expected = expected_current(spot, habit)
    if spot.mean_a is None:
        found = expected if has_amps(spot) else current_by_charger(spot)
        if found is None and not (tells_used(spot) and spot.minutes):
            raise amps_missing()
        return found or expected
    if expected is None or expected.amps <= 0 or spot.mean_a <= 0:
        return MeanCurrent(spot.mean_a, AVERAGE_STD * abs(spot.mean_a))
    certain = AVERAGE_STD**-2 + expected.log_std**-2
    log_mean = math.log(spot.mean_a) * AVERAGE_STD**-2 + math.log(expected.amps) * expected.log_std**-2
    amps = math.exp(log_mean / certain)
    return MeanCurrent(amps, amps * certain**-0.5)


def current_by_charger(spot: SpotNotes) -> MeanCurrent | None:
    """Mean current of a mow from the charge or energy put back alone; None where that is not enough."""
    ah, wh = spot.put_back_ah, spot.put_back_wh
    if wh is None and spot.socket_wh is not None:
        wh = SOCKET_TO_PACK * spot.socket_wh
    if ah is None and wh is not None and spot.volts:
        ah = WH_PUT_BACK * wh * len(spot.volts) / sum(spot.volts)
    if ah is None or not spot.minutes:
        return None
    amps = 60 * ah / spot.minutes
    return MeanCurrent(amps, PUT_BACK_STD * amps)
