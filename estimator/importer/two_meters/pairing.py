"""Two meters with two clocks: the volts of one file are joined to the amps of the other."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from estimator.errors import InputError
from estimator.importer.arrays import Bools, Floats
from estimator.importer.log import HALF_90
from estimator.importer.one_file import Recording
from estimator.importer.two_meters.aligning import Alignment, align
from estimator.mends import Give, Note, of_file

_OFF = 0.5
"""Below this share of its usual volts a pack is switched off: no cell is drawn so low (common practice)."""


@dataclass(frozen=True)
class Paired:
    """The joined recording on the ammeter's clock, and how it was joined."""

    recording: Recording
    alignment: Alignment


def pair(a: Recording, b: Recording, offset_s: float | None = None, drift_ppm: float | None = None) -> Paired:
    """Join the recordings of two meters, in either order; InputError where sag and current do not fit."""
    for r in (a, b):
        if r.current_a is None and r.voltage_v is None:
            raise InputError("has neither amps nor volts", file=r.name, mend="give the right file")
    both = f"{a.name} and {b.name} both have"
    amps, volts = (a, b) if b.current_a is None or a.voltage_v is None else (b, a)
    if amps.current_a is None:
        raise InputError(f"{both} volts, none has amps", mend="give the ammeter's file")
    if volts.voltage_v is None:
        raise InputError(f"{both} amps, none has volts", mend="give the voltmeter's file")
    apart, started = 0.0, amps.started
    said: list[str] = []
    if amps.started and volts.started:
        named = amps.start_by_name != volts.start_by_name and amps.started.date() == volts.started.date()
        apart = (volts.started - amps.started).total_seconds()
        if apart > float(amps.time_s[-1]) or apart + float(volts.time_s[-1]) < 0:
            if not named:
                said.append(
                    "The dates of the two meters do not overlap: both are taken to have started together."
                )
            apart = 0.0
        if named and amps.start_by_name:
            said.append(f"The log starts by the clock of {volts.name}, not by the name of {amps.name}.")
            started = None
    good_a, good_v = np.isfinite(amps.current_a), _switched_on(volts.voltage_v)
    if offset_s is not None:
        alignment = Alignment(offset_s, 0.0, drift_ppm or 0.0, 0.0, float("nan"), told=True)
    else:
        alignment = align(
            amps.time_s[good_a],
            amps.current_a[good_a],
            volts.time_s[good_v] + apart,
            volts.voltage_v[good_v],
            files=f"{amps.name} and {volts.name}",
        )
        unseen = float(np.hypot(_clock_step(amps.time_s), _clock_step(volts.time_s))) / np.sqrt(12)
        alignment = replace(alignment, offset_std_s=float(np.hypot(alignment.offset_std_s, unseen)))
    return Paired(_joined(replace(amps, started=started), volts, apart, alignment, said), alignment)


def _switched_on(voltage_v: Floats) -> Bools:
    """Where volts are those of a pack at work: its battery management may switch it off, which is no sag.

    >>> _switched_on(np.array([53.0, 52.0, np.nan, 0.4])).tolist()
    [True, True, False, False]
    """
    level, read = np.abs(voltage_v), np.isfinite(voltage_v)
    usual = float(np.percentile(level[read], 95)) if read.any() else 0.0
    return np.asarray(level > _OFF * usual)


def _clock_step(time_s: Floats) -> float:
    """The step [s] of a clock of whole seconds, 0 for a finer one: a reading lies anywhere within it."""
    return 1.0 if bool(np.all(time_s[:2000] == np.round(time_s[:2000]))) else 0.0


def _joined(amps: Recording, volts: Recording, apart: float, al: Alignment, said: list[str]) -> Recording:
    assert volts.voltage_v is not None
    good = np.isfinite(volts.voltage_v)
    at = volts.time_s[good] * (1 + al.drift_ppm * 1e-6) + apart + al.offset_s
    values = volts.voltage_v[good]
    if not at.size:
        raise InputError("no readings of volts", file=volts.name, mend="check the voltmeter's leads")
    voltage = np.interp(amps.time_s, at, values, left=np.nan, right=np.nan)
    longest = max(30.0, 3 * volts.step_s)
    steps = np.diff(at)
    if at.size > 1:
        k = np.clip(np.searchsorted(at, amps.time_s) - 1, 0, at.size - 2)
        voltage = np.where(steps[k] > longest, np.nan, voltage)
    if not bool(np.isfinite(voltage).any()):
        raise InputError(
            f"{amps.name} and {volts.name} do not overlap in time",
            mend=("check the files, or say ", Give("offset_s", "SECONDS")),
        )
    if al.told:
        said.append(f"Voltmeter's clock moved by {al.offset_s:+.1f} s as given.")
    else:
        joined = (
            f"Two meters joined by the voltage dip: voltmeter's clock moved by {al.offset_s:+.2f} s "
            f"within ± {HALF_90 * al.offset_std_s:.2f} s, rate {al.drift_ppm:+.0f} ppm within ± "
            f"{HALF_90 * al.drift_std_ppm:.0f} ppm (90 % bands), correlation {al.correlation:.2f}"
        )
        said.append(Note(joined, (Give("offset_s", "SECONDS"), " overrules it")))
    temperature = amps.temperature_c
    if temperature is None and volts.temperature_c is not None:
        warm = np.isfinite(volts.temperature_c)
        if bool(warm.any()):
            own = volts.time_s[warm] + apart + al.offset_s
            temperature = np.interp(amps.time_s, own, volts.temperature_c[warm])
    started = amps.started
    if started is None and volts.started is not None:
        started = volts.started - timedelta(seconds=apart + al.offset_s)
    return replace(
        amps,
        name=f"{amps.name} + {volts.name}",
        voltage_v=voltage,
        temperature_c=temperature,
        started=started,
        notes=(*amps.notes, *of_file(volts.name, volts.notes), *said),
    )
