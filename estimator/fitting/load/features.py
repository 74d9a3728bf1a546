"""The features of a mow: all that a load profile needs from it, small enough to keep for every mow."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any, Literal

import numpy as np

from estimator.arrays import Array
from estimator.descriptions import LAWN_DONE, RAN_OUT, STOPPED_SHORT, Grass
from estimator.errors import check_kind
from estimator.fitting.by_hand.spot_power import SpotEnergy, spot_energy
from estimator.fitting.by_hand.spot_volts import with_usual_volts
from estimator.fitting.load.phases import Phases, RunTrace, find_phases, motor_runs
from estimator.fitting.load.power_seconds import PowerSeconds, highest_mean
from estimator.importer.log import MeterError
from estimator.mow import Mow
from estimator.results import result

GAP_STD = 0.3
"""Power during a gap may differ from the mean by this share (common practice: as one mow from the next)."""
CUT_OFF_LOOK_S = 10.0
"""Once a controller has stopped the motor, the volts rise again within seconds (common practice)."""
NEAR_CUT_OFF = 0.015
"""A voltmeter of 1 % and a digit (common practice) may read the cut-off as this share above it."""


@result
class MowFeatures:
    """What one mow took from the pack, and in which circumstances.

    energy_wh : energy [Wh] of the whole mow, short gaps filled at its mean power
    motor_s : time [s] for which the motor ran, short gaps included
    area_m2, lawn, moisture, growth_mm, days_since_cut : as described
    started : ISO date and time, or None; day : the date alone
    temperature_c, days_since_care : if known
    energy_log_std, pace_log_std : relative standard uncertainty of this mow's own measurement
    gain_std : the part of the meter's error that all its mows share (for hand readings: a usual meter's)
    mean_w : mean power [W] over motor_s; peak_1s_w, peak_5s_w, peak_30s_w : highest mean [W] over 1, 5, 30 s
    typical_v : mean voltage [V] under load
    step_s : usual time between readings [s]; peaks shorter than that were not seen
    phases : usual power of cutting and of idling; None for spot notes
    trace, amps : power and current second by second while the motor ran; amps None for spot notes
    ended_at_cut_off : whether the last seconds under load were at the pack's cut-off: then the lawn was
    presumably not finished, unless the tag "lawn done" says that it was
    noted_idle_w : idle power [W] from hand readings, which have no phases
    highest_read : whether the highest amps are among the hand readings; else a usual peak stands in
    hand_ratio, hand_ratio_std : for hand readings with a pack, the logarithm of the mean current divided by
    the one expected from the typical current, and its standard uncertainty (`fitting.by_hand.habit`)
    """

    lawn: str
    area_m2: float
    energy_wh: float
    motor_s: float
    mean_w: float
    peak_1s_w: float
    peak_5s_w: float
    peak_30s_w: float
    typical_v: float
    energy_log_std: float
    pace_log_std: float
    gain_std: float
    step_s: float
    gap_s: float
    trace: RunTrace
    amps: RunTrace | None = None
    phases: Phases | None = None
    moisture: str | None = None
    growth_mm: float | None = None
    days_since_cut: float | None = None
    started: str | None = None
    temperature_c: float | None = None
    days_since_care: float | None = None
    machine: str | None = None
    spot: bool = False
    highest_read: bool = False
    tags: tuple[str, ...] = ()
    ended_at_cut_off: bool = False
    noted_idle_w: float | None = None
    hand_ratio: float | None = None
    hand_ratio_std: float | None = None

    @property
    def day(self) -> str | None:
        """The date of the mow, as text."""
        return self.started[:10] if self.started else None

    @property
    def stopped_short(self) -> bool:
        """Whether the mow ended before the lawn was done."""
        ended = self.ended_at_cut_off or RAN_OUT in self.tags
        return STOPPED_SHORT in self.tags or (ended and LAWN_DONE not in self.tags)

    @property
    def whole(self) -> bool:
        """Whether it measured energy and time of the whole lawn."""
        return min(self.energy_wh, self.motor_s) > 0 and self.gap_s <= self.motor_s and not self.stopped_short

    @property
    def grass(self) -> Grass:
        """The grass as it was described."""
        return Grass(self.moisture, self.growth_mm, self.days_since_cut)

    @property
    def idle_w(self) -> float | None:
        """Power [W] of blades turning in no grass, None where it was not seen."""
        return self.phases.idle_w if self.phases else self.noted_idle_w

    def seen_peak_w(self, seconds: Literal[1, 5, 30]) -> float | None:
        """Highest mean power [W] over these seconds, None where no reading shows it: by hand only the highest
        amps do, in a log readings that are close enough."""
        held = {1: self.peak_1s_w, 5: self.peak_5s_w, 30: self.peak_30s_w}[seconds]
        shown = self.highest_read and seconds == 1 if self.spot else self.step_s < 2 * seconds
        return held if shown else None

    def energy_per_area(self) -> float:
        """Energy [Wh/m²]."""
        return self.energy_wh / self.area_m2

    def pace_m2_min(self) -> float:
        """Area mown per minute of motor time [m²/min]."""
        return 60 * self.area_m2 / self.motor_s

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> MowFeatures:
        """The reverse of `asdict`."""
        values = dict(plain)
        values["trace"] = RunTrace(**values["trace"])
        values["amps"] = RunTrace(**values["amps"]) if values.get("amps") else None
        values["phases"] = Phases(**values["phases"]) if values.get("phases") else None
        values["tags"] = tuple(values.get("tags", ()))
        return cls(**values)


def mow_features(mow: Mow) -> MowFeatures:
    """Find the features of one mow in its log alone: energy, mean and idle power, peaks, motor time.

    Parameters
    ----------
    mow : Mow
        where hand readings have no volts, those usual for its pack stand in

    Returns
    -------
    MowFeatures
        energies [Wh], powers [W] and times [s]

    Raises
    ------
    InputError
        where volts are missing and the mow names no pack

    >>> import pandas as pd
    >>> from estimator.descriptions import Lawn
    >>> from estimator.importer.log import Log
    >>> steady = Log(pd.DataFrame({"time_s": [0.0, 10.0, 20.0], "current_a": 5.0, "voltage_v": 40.0}))
    >>> found = mow_features(Mow(steady, Lawn("strip", area_m2=10)))
    >>> round(found.energy_wh, 3), found.motor_s, found.peak_5s_w
    (1.111, 20.0, 200.0)
    """
    check_kind("mow", mow, Mow)
    spot = mow.log.spot
    if spot is not None:
        mow = replace(mow, log=with_usual_volts(mow.log, mow.pack, mow.start_charge))
    measured = PowerSeconds.of(mow.log)
    if spot is None:
        return _features(mow, measured.power_w, measured, None)
    noted = spot_energy(spot, measured.typical_v, mow.pack, mow.start_charge, mow.temperature_c)
    measured = replace(measured, seconds=60 * noted.minutes, gap_s=0.0, typical_v=noted.volts)
    return _features(mow, noted.power_w, measured, noted)


def _features(mow: Mow, power_w: Array, measured: PowerSeconds, noted: SpotEnergy | None) -> MowFeatures:
    phases = find_phases(power_w)
    runs = motor_runs(power_w, phases)
    running, spot = power_w[runs], mow.log.spot
    started = mow.started or mow.log.started
    gap_s = measured.gap_s if measured.gap_s <= running.size else 0.0  # longer than what was mown: a break
    gap_share = gap_s / max(gap_s + measured.seconds, 1.0)
    if noted is not None:
        motor_s, energy_wh = measured.seconds, noted.wh
    else:
        filled = 1 + gap_s / max(measured.seconds, 1.0)
        motor_s, energy_wh = running.size * filled, measured.wh * filled
    mean_w = energy_wh * 3600 / motor_s if motor_s > 0 else 0.0
    mean_c = float(np.mean(mow.log.readings.get("temperature_c", math.nan)))
    sensed_c = mean_c if math.isfinite(mean_c) else None
    error = mow.log.error
    meter = error if noted is None else MeterError()  # how few hand readings there are is in noted.log_std
    mean_a = mean_w / measured.typical_v if measured.typical_v > 0 else 1.0
    zero = error.current_zero_a / max(mean_a, 0.1)
    return MowFeatures(
        lawn=mow.lawn.name,
        area_m2=mow.lawn.area_m2,
        energy_wh=energy_wh,
        motor_s=motor_s,
        mean_w=mean_w,
        peak_1s_w=highest_mean(power_w, 1),
        peak_5s_w=highest_mean(power_w, 5),
        peak_30s_w=highest_mean(power_w, 30),
        typical_v=measured.typical_v,
        energy_log_std=noted.log_std if noted else min(1.0, math.hypot(zero, GAP_STD * gap_share)),
        pace_log_std=math.hypot(GAP_STD * gap_share, noted.minutes_log_std if noted else 0.0),
        gain_std=math.hypot(meter.current_gain, meter.voltage_gain),
        step_s=measured.step_s,
        gap_s=measured.gap_s,
        trace=RunTrace.of(running),
        amps=None if noted else RunTrace.of(measured.current_a[runs]),
        phases=None if noted else phases,
        moisture=mow.grass.moisture,
        growth_mm=mow.grass.growth_mm,
        days_since_cut=mow.grass.days_since_cut,
        started=started.isoformat() if started else None,
        temperature_c=sensed_c if mow.temperature_c is None else mow.temperature_c,
        days_since_care=_days_since_care(mow, started),
        machine=mow.machine.name if mow.machine else None,
        spot=noted is not None,
        highest_read=spot is not None and spot.highest_a is not None,
        tags=mow.tags,
        ended_at_cut_off=noted is None and _ended_at_cut_off(mow),
        noted_idle_w=noted.idle_w if noted else None,
        hand_ratio=noted.log_ratio if noted else None,
        hand_ratio_std=noted.log_ratio_std if noted else None,
    )


def _ended_at_cut_off(mow: Mow) -> bool:
    """Whether the last readings under load came within 1.5 % of the cut-off."""
    if mow.pack is None:
        return False
    time, amps, volts = (mow.log.arrays[name] for name in ("time_s", "current_a", "voltage_v"))
    loaded = np.flatnonzero(amps > 0.25 * np.quantile(amps, 0.75))
    if not loaded.size:
        return False
    end = time[loaded[-1]]
    lowest = volts[(time >= end - CUT_OFF_LOOK_S) & (time <= end)].min()
    return bool(lowest <= (1 + NEAR_CUT_OFF) * mow.pack.cut_off_v)


def _days_since_care(mow: Mow, started: datetime | None) -> float | None:
    if started is None or mow.machine is None:
        return None
    past = [day for day in mow.machine.blade_care if day <= started.date()]
    return float((started.date() - max(past)).days) if past else None
