"""How idle, typical, highest and mean current of a mow relate, and the mean current they give.

People note what the clamp shows while cutting. The mean over the minutes on the watch lies lower: the machine
turns and stands still in between. MAX hold says how high a peak went and hardly where the mean lies.

Calibrated on seven families of invented mowing: the sample logs, a walked patchy lawn, rows with thick
patches, and the open half of a world of hand readers (tall tufts, strokes between beds, a reel that clogs,
rolling ground). In the logarithm of mean over typical they lie -0.12, -0.03, 0.01, 0.09, -0.12, 0.11 and 0.00
from what is expected here; each predicted from the others, by a sixth more. `PERSON_STD` holds that and what
people call typical.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from estimator.importer.by_hand.spot_order import amps_missing, has_amps, tells_used
from estimator.importer.log import SpotNotes

CUTTING_MEAN = 1.08
"""Mean current of cutting over the usual one: thick patches pull it up (common practice)."""
FREE_SHARE, STILL_SHARE = 0.15, 0.04
"""Share of the minutes in which the blades turn in no grass, and in which they stand still
(common practice)."""
IDLE_TO_TYPICAL, IDLE_LOG_STD = 0.29, 0.3
"""Blades turning free over the usual current, and the spread of its logarithm (common practice)."""
HIGHEST_TO_TYPICAL, HIGHEST_LOG_STD = 2.0, 0.25
"""The highest second of a mow over the usual current: in the open half of the world of hand readers 1.35
(rolling ground), 1.4 (clogging), 1.5 (strokes), 2.5 (patches), 4.3 (tufts), 1.98 in the geometric mean."""
PERSON_STD = 0.13
"""How the logarithm of mean over typical differs between people, machines and lawns: what counts as usual and
what the watch counts; a part of it is learnt from mows (`fitting.by_hand.habit`)."""
MOW_STD = 0.075
"""And from mow to mow of one person: a few looks at a moving figure, rounded (common practice)."""
PUT_BACK_STD = 0.15
"""Charge that a charger put back over what a mow used, where no pack is known: losses, and a pack that was
not full before (common practice)."""
WH_PUT_BACK, SOCKET_TO_PACK = 0.9, 0.87
"""Energy taken out over that put back; share of the socket's that a charger hands on (common practice)."""
AVERAGE_STD = 0.04
"""A meter's AVG, which runs from the press of a key to the next look (common practice)."""


@dataclass(frozen=True)
class Habit:
    """What one person's typical current is to the mean of their mows, compared with what is usual.

    log_ratio : mean of the logarithm; std : its standard uncertainty, alike in all their mows; mow_std : of a
    single mow about it
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
        """Standard uncertainty of its logarithm."""
        return self.std / self.amps if self.amps > 0 else 1.0


UNREAD = MeanCurrent(10.0, 10.0)
"""Stands in where no amps were read and volts at rest tell what was used, until a pack says more."""


def usual_ratio(idle_to_typical: float = IDLE_TO_TYPICAL) -> float:
    """Mean current over the typical one: cutting, turns in no grass, and standing still.

    >>> round(usual_ratio(0.29), 3), round(usual_ratio(1.0), 3)
    (0.923, 1.025)
    """
    share = min(max(idle_to_typical, 0.0), 1.0)
    return (1 - STILL_SHARE) * ((1 - FREE_SHARE) * CUTTING_MEAN + FREE_SHARE * share)


def expected_current(spot: SpotNotes, habit: Habit = USUAL) -> MeanCurrent | None:
    """Mean current by the typical one, or else by idle and highest or one of them; None where none was read.

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
    """Mean current of a mow from the amps read by hand; with the meter's own average it is hardly in doubt.

    >>> mean_current(SpotNotes(mean_a=10.0))
    MeanCurrent(amps=10.0, std=0.4)
    """
    expected = expected_current(spot, habit)
    if spot.mean_a is None:
        found = expected if has_amps(spot) else current_by_charger(spot)
        if found is None and not (tells_used(spot) and spot.minutes):
            raise amps_missing()
        return found or expected or UNREAD
    if expected is None or expected.amps <= 0 or spot.mean_a <= 0:
        return MeanCurrent(spot.mean_a, AVERAGE_STD * abs(spot.mean_a))
    certain = AVERAGE_STD**-2 + expected.log_std**-2
    log_mean = math.log(spot.mean_a) * AVERAGE_STD**-2 + math.log(expected.amps) * expected.log_std**-2
    amps = math.exp(log_mean / certain)
    return MeanCurrent(amps, amps * certain**-0.5)


def current_by_charger(spot: SpotNotes) -> MeanCurrent | None:
    """Mean current of a mow of which only what was put back tells it; None where that cannot."""
    ah, wh = spot.put_back_ah, spot.put_back_wh
    if wh is None and spot.socket_wh is not None:
        wh = SOCKET_TO_PACK * spot.socket_wh
    if ah is None and wh is not None and spot.volts:
        ah = WH_PUT_BACK * wh * len(spot.volts) / sum(spot.volts)
    if ah is None or not spot.minutes:
        return None
    amps = 60 * ah / spot.minutes
    return MeanCurrent(amps, PUT_BACK_STD * amps)
