"""Measured current peaks by duration, compared with the limits of fuse, battery management and controller."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from estimator.conversion import cautions
from estimator.conversion.bands import Band, chance_above, next_mow, of_meter
from estimator.conversion.load_trace import LoadTrace, check_loads, highest_rms
from estimator.errors import InputError
from estimator.results import odds, result

DURATIONS_S = (1.0, 5.0, 30.0)  # electronics trip, a quick fuse melts, a cable warms (common practice)
HIGHEST_S = 1.0
"""A limit of electronics without a stated time is compared with the highest current over this [s]."""


@dataclass(frozen=True)
class Limit:
    """A limit as its maker states it: amps [A] for some seconds [s], None for a steady current.

    A fuse's rating is for a steady current. Battery management and controllers switch off within a second or
    less, so their limits without a stated time are limits for `HIGHEST_S`.

    >>> Limit("fuse", 40.0).seconds is None
    True
    """

    name: str
    amps: float
    seconds: float | None = None

    def __post_init__(self) -> None:
        if not self.amps > 0:
            raise InputError(f"limit {self.name} is {self.amps} A", mend="give amps above zero")
        if self.seconds is not None and not self.seconds > 0:
            raise InputError(
                f"limit {self.name} lasts {self.seconds} s", mend="give seconds above zero, or none if steady"
            )


@dataclass(frozen=True)
class Peak:
    """The highest current held for a duration; `seconds` None is the whole mow.

    measured_a : highest of all mows, root mean square over the duration, with the meter's uncertainty
    next_mow_a : where this figure is expected in the next mow; each_a : that of every mow so far
    between_s : time [s] between readings where they are too far apart to show every peak, else 0
    read : whether any mow shows it; else all were read by hand without it, and what is usual stands in
    """

    seconds: float | None
    measured_a: Band
    next_mow_a: Band
    each_a: tuple[float, ...]
    between_s: float = 0.0
    read: bool = True

    @property
    def at_least(self) -> str:
        """What is said before the figure: "at least ", that it was not read, or nothing."""
        return ("at least " if self.between_s else "") if self.read else "not read, usually "


@dataclass(frozen=True)
class LimitCheck:
    """A limit compared with the peak of the same duration.

    room_a : limit minus measured peak, negative where the peak is above the limit
    used : measured peak as a share of the limit
    exceeded : whether the measured peak is above the limit
    chance : that the next mow goes above the limit, which trips electronics and, if it lasts, blows a fuse
    """

    limit: Limit
    peak: Peak
    room_a: float
    used: float
    exceeded: bool
    chance: float
    sentence: str


@result
class CurrentLimits:
    """Peaks by duration; every limit compared with its peak, the lowest limit first; and the closest limit.

    closest : the limit with the largest share used, among the limits below the highest peak of any duration
        if there are such, else among all; None without limits
    """

    peaks: tuple[Peak, ...]
    checks: tuple[LimitCheck, ...]
    closest: LimitCheck | None
    verdict: str
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def current_limits(
    mows: Sequence[LoadTrace], limits: Sequence[Limit] = (), *, clamp_highest_a: float | None = None
) -> CurrentLimits:
    """Measured peaks over 1, 5 and 30 s and over the whole mow, compared with the limits that the user gives.

    A peak is the highest root-mean-square current over the duration, because the heat in a fuse and in a cell
    rises with its square. It is never below the current held throughout, at which battery management trips.

    Parameters
    ----------
    mows : sequence of LoadTrace, (n,), n from 1
        one measured load for each mow
    limits : sequence of Limit, default ()
        a steady limit is compared with the root mean square of the whole mow, any other over its duration
    clamp_highest_a : float, above 0 [A], default None
        what the clamp's MAX hold caught; if above the log, it counts as the 1 s peak

    Returns
    -------
    CurrentLimits
        peaks [A] with bands, the room to each limit [A], and cautions

    Raises
    ------
    InputError
        where no mow is given

    Source: ISO 16269-6 for the spread to the next mow.

    >>> load = LoadTrace([10.0] * 100 + [40.0] * 5 + [10.0] * 100, [48.0] * 205)
    >>> answer = current_limits([load], [Limit("fuse", 30.0), Limit("battery management", 45.0, 5.0)])
    >>> [round(peak.measured_a.value, 1) for peak in answer.peaks]
    [40.0, 40.0, 18.7, 11.7]
    >>> answer.closest.limit.name, [check.limit.amps for check in answer.checks]
    ('fuse', [30.0, 45.0])
    """
    check_loads(mows, "limits")
    peaks = tuple(_peak(mows, seconds, clamp_highest_a) for seconds in (*DURATIONS_S, None))
    lowest_first = sorted(limits, key=lambda limit: limit.amps)
    checks = tuple(
        _check(limit, _peak(mows, limit.seconds, clamp_highest_a), peaks) for limit in lowest_first
    )
    highest_a = max(peak.measured_a.value for peak in peaks)
    closest = max(checks, key=lambda check: (check.limit.amps < highest_a, check.used), default=None)
    return CurrentLimits(
        peaks=peaks,
        checks=checks,
        closest=closest,
        verdict=_verdict(checks, closest),
        assumptions=_assumptions(mows, limits, clamp_highest_a),
        cautions=(cautions.FUSES, cautions.CONTROLLER),
    )


def _peak(mows: Sequence[LoadTrace], seconds: float | None, clamp_highest_a: float | None) -> Peak:
    single = seconds is not None and seconds <= 1.0  # what lies between readings is less certain
    held_a = clamp_highest_a if single else None
    shown = [mow for mow in mows if mow.shows(seconds)]
    mows = shown or mows
    each = [highest_rms(mow.current_a, mow.step_s, seconds) for mow in mows]
    if held_a is not None and not shown:
        each = [min(value, held_a) for value in each]
    between_s = max(mow.finest_s for mow in mows)
    if seconds is None or between_s <= seconds or held_a is not None:
        between_s = 0.0
    worst = mows[int(np.argmax(each))]
    gain, zero_a = worst.current_gain, worst.current_zero_a
    if single and worst.meter_gain is not None:
        gain = worst.meter_gain
    if held_a is not None and held_a >= max(each):
        gain, zero_a = min(mow.meter_gain or mow.current_gain for mow in mows), 0.0
        each[-1] = held_a
    seen = tuple(max(value, 1e-6) for value in each)
    read = bool(shown) or held_a is not None
    return Peak(seconds, of_meter(max(each), gain, zero_a), next_mow(seen), seen, between_s, read)


def _check(limit: Limit, peak: Peak, peaks: Sequence[Peak]) -> LimitCheck:
    measured = peak.measured_a
    room = limit.amps - measured.value
    chance = chance_above(peak.each_a, limit.amps)
    unseen = f"; readings {peak.between_s:.3g} s apart can miss higher peaks" if peak.between_s else ""
    found, by_meter = "measured ", " by the meter"
    if not peak.read:
        found, by_meter, unseen = "", "", "; a clamp's MAX hold would show it"
    lasting = "steady, over the whole mow" if limit.seconds is None else f"highest over {limit.seconds:g} s"
    where = f"{abs(room):.1f} A ({100 * abs(room) / limit.amps:.0f} %) {'below' if room >= 0 else 'above'}"
    sentence = (
        f"{limit.name} {limit.amps:g} A: {found}{peak.at_least}{measured.value:.1f} A {lasting} "
        f"({measured.low:.1f} to {measured.high:.1f} A{by_meter}), {where} the limit; the next mow is "
        f"expected between {peak.next_mow_a.low:.0f} and {peak.next_mow_a.high:.0f} A, above it with a "
        f"chance of {odds(chance)}{unseen}."
    )
    short = [each for each in peaks if each.seconds is not None and each.read]
    over = [each for each in short if each.measured_a.value > limit.amps]
    if limit.seconds is None and over:
        told = ", ".join(f"{x.at_least}{x.measured_a.value:.1f} A over {x.seconds:g} s" for x in over)
        sentence = (
            f"{limit.name} {limit.amps:g} A is below short peaks of {told}; the maker's time-current curve "
            f"says how long it carries them. {sentence[0].upper()}{sentence[1:]}"
        )
    return LimitCheck(limit, peak, room, measured.value / limit.amps, room < 0, chance, sentence)


def _verdict(checks: Sequence[LimitCheck], closest: LimitCheck | None) -> str:
    if closest is None:
        return "No limits were given; the measured peaks stand alone."
    above = [check.limit.name for check in checks if check.exceeded and check.peak.read]
    if above:
        return f"The measured current was above the limit of: {', '.join(above)}. {closest.sentence}"
    return f"Closest: {closest.sentence}"


def _assumptions(
    mows: Sequence[LoadTrace], limits: Sequence[Limit], clamp_highest_a: float | None
) -> tuple[str, ...]:
    said, finest = [], max(mow.finest_s for mow in mows)
    compared_s = [*DURATIONS_S, *(limit.seconds for limit in limits if limit.seconds is not None)]
    if finest > min(compared_s):
        said.append(
            f"in the coarsest log the readings are {finest:.3g} s apart: shorter peaks are not seen, and the "
            "figures for shorter durations are too low"
        )
    if any(mow.seconds < max(compared_s) for mow in mows):
        said.append(f"a mow shorter than {max(compared_s):g} s counts with its whole length")
    if clamp_highest_a is not None:
        said.append(f"the clamp's highest reading of {clamp_highest_a:g} A counts as held for 1 s")
    if any(limit.seconds is None for limit in limits):
        said.append(
            "a rating without a duration, such as a fuse's, is one for a steady current: it is compared with "
            "the root mean square of the whole mow"
        )
    if any(limit.seconds == HIGHEST_S for limit in limits):
        said.append(
            "a limit of battery management or controller is compared with the highest current over 1 s, "
            "unless its seconds were given; one that acts faster may see higher peaks than these"
        )
    if len(mows) == 1:
        said.append("one mow only: the variation to the next one is assumed, not measured")
    return tuple(said)
