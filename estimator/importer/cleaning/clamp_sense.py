"""Whether the clamp was the wrong way round."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from estimator.importer.arrays import Floats, agreement, carried, thinned
from estimator.importer.choices import Choices, Decision
from estimator.importer.cleaning.lost_signs import turn_charging
from estimator.importer.cleaning.readings_in_work import Series, turn_signs
from estimator.importer.one_file import Recording

_SAGS = -0.2
"""Below this correlation amps and volts step against each other, as they do when a pack is discharged (common
practice)."""
_CHARGING_POSITIVE = (
    "Volts rise as the counted charge does: this file counts charging positive, signs turned."
)
_DISCHARGE_NEGATIVE = "Volts fall with the charge that is counted below zero: signs turned."


@dataclass(frozen=True)
class Sense:
    """Whether the clamp was the wrong way round, and a sentence; empty where there is nothing to say."""

    reverse: bool
    said: str


def sense_of_clamp(s: Series, voltage_step_v: float) -> Sense:
    """Decide by sag whether the current has the wrong sign: the volts of a discharged pack fall."""
    i, v = s.current_a, s.voltage_v
    if len(i) < 3:
        return Sense(False, "")
    di, dv, step = np.diff(i), np.diff(v), np.diff(s.time_s)
    use = step <= s.longest_step_s
    di, dv = di[use], dv[use]
    noise = max(voltage_step_v, 1e-6)
    agree = agreement(di, dv) if float(np.abs(dv).max(initial=0)) > 2 * noise else 0.0
    net = float(np.mean(i))
    if net >= 0:
        if agree > 0.5 and _steps_alike(di, dv, 2 * noise) > 0.8:
            return Sense(True, "Volts rise as amps rise: this file counts charging positive, signs turned.")
        charging = _rises_with_charge(s, noise, sags=agree < _SAGS)
        # The volts of a cold pack that warms can end far above their beginning.
        charging &= _against_rest(i, v) >= -0.01 and _steps_alike(di, dv, 2 * noise) >= 0.1
        return Sense(charging, _CHARGING_POSITIVE if charging else "")
    if agree > 0.3:
        return Sense(True, "Amps count the wrong way round (volts rise as amps rise): signs turned.")
    if _rises_with_charge(s, noise, sags=agree < _SAGS):
        return Sense(True, _DISCHARGE_NEGATIVE)
    return Sense(False, "More charge goes in than out: signs are left as they are.")


def _steps_alike(di: Floats, dv: Floats, noise_v: float) -> float:
    """The share of clear steps in which amps and volts go the same way; 0.5 where there are under 20, since
    a single step says nothing: at the cut-off amps stop as the volts fall."""
    clear = (np.abs(dv) > noise_v) & (np.abs(di) > 0.05 * float(np.abs(di).max(initial=0.0)))
    alike = np.sign(di[clear]) == np.sign(dv[clear])
    return float(alike.mean()) if alike.size >= 20 else 0.5


def _rises_with_charge(s: Series, noise_v: float, *, sags: bool) -> bool:
    """Whether volts rise with the charge counted so far and with the amps, as they do in charging.

    v = a + b q + r i is fitted by least squares; where discharge counts positive, b and r of a pack are
    negative. Where amps and volts step against each other (`sags`), only volts that end far above their
    beginning are evidence of charging.
    """
    step = np.diff(s.time_s)
    step = np.where(step > s.longest_step_s, 0.0, step) if np.median(step) < s.longest_step_s else step
    charge = np.concatenate(([0.0], np.cumsum((s.current_a[1:] + s.current_a[:-1]) / 2 * step)))
    charge, i, v = thinned(charge), thinned(s.current_a), thinned(s.voltage_v)
    if len(v) < 30 or np.ptp(charge) <= 0:
        return False
    sides = np.column_stack((np.ones(len(v)), charge / np.ptp(charge), i / np.abs(i).max()))
    if sags:
        return charge[-1] > 0 and _ends_far_above(charge, v)
    answer = np.linalg.lstsq(sides, v, rcond=None)[0]
    rise = answer[1]
    explained = 1 - float(np.var(v - sides @ answer)) / max(float(np.var(v)), 1e-12)
    # Steady amps move no volts, and amps below zero have to be explained: there the slightest rise tells.
    slightest = float(np.ptp(i)) < 0.1 * float(np.abs(i).max()) or float(i.sum()) < 0
    if explained > 0.3 and rise > max(3 * noise_v, 0.0 if slightest else 0.01 * abs(float(v.mean()))):
        return True
    return bool(charge[-1] > 0 and (_against_rest(i, v) > 0.03 or _ends_far_above(charge, v)))


def _against_rest(i: Floats, v: Floats) -> float:
    """How far (fraction) volts under a current of one sign lie above the volts of the rest before it."""
    flows = np.abs(i) > 0.02 * float(np.abs(i).max())
    first = int(np.argmax(flows))
    rest_v = float(np.median(v[max(0, first - 20) : first])) if first >= 3 else 0.0
    if rest_v <= 0 or float(np.abs(i[flows]).sum()) > 1.02 * abs(float(i[flows].sum())):
        return 0.0
    return float(np.median(v[flows])) / rest_v - 1


def _ends_far_above(charge: Floats, v: Floats) -> bool:
    """Whether volts end over 8 % above where they began while charge is counted in one direction only."""
    counted = charge / charge[int(np.argmax(np.abs(charge)))]
    first, last = (counted > 0) & (counted < 0.1), counted > 0.9
    if float(np.diff(counted).min()) < -0.02 or min(np.count_nonzero(first), np.count_nonzero(last)) < 3:
        return False
    return bool(float(v[last].mean()) > 1.08 * float(v[first].mean()) > 0)


def _turn_back_parts(s: Series, noise_v: float) -> None:
    """Turn the signs of stretches below zero in which the pack sags as in discharge: the clamp was turned."""
    i, v = s.current_a, s.voltage_v
    limit = 0.05 * float(np.percentile(np.abs(thinned(i)), 95))
    if float(i.min()) >= -limit or float(i.max()) <= limit:
        return
    way = carried(np.where(np.abs(i) > limit, np.sign(i), 0.0))
    edges = np.flatnonzero(np.diff(way)) + 1
    turned = np.zeros(len(i), dtype=np.bool_)
    for part in np.split(np.arange(len(i)), edges):
        if way[part[0]] > 0 or s.time_s[part[-1]] - s.time_s[part[0]] < 60:
            continue
        di, dv = np.diff(i[part]), np.diff(v[part])
        turned[part] = agreement(di, dv) > 0.5 and _steps_alike(di, dv, 2 * max(noise_v, 1e-6)) > 0.8
    if not bool(turned.any()):
        return
    said = (
        f"The clamp was turned round during the log, since volts sag as before ({int(turned.sum())} readings "
        f"below zero): signs turned there."
    )
    turn_signs(s, turned, said)


def turn(
    s: Series, step_v: float, parts: Sequence[Recording], choices: Choices, decisions: list[Decision]
) -> list[str]:
    """Turn the signs of a log where the user or the sag says so; returns sentences that no mark holds."""
    told = choices.get("reverse")
    if told is None and not any(p.flow_told for p in parts):
        told = next((p.meter.reverse for p in parts if p.meter and p.meter.reverse is not None), None)
    elif told is None:
        told = False  # another column says which way charge flows
    if told is None and turn_charging(s, step_v):
        told = False
    sense = sense_of_clamp(s, step_v)
    if told is None and not sense.reverse:
        _turn_back_parts(s, step_v)
    if told is not None:
        sense = Sense(told, "Signs turned as given." if told else "")
    if not sense.said:
        return []
    taken = "turned" if sense.reverse else "as read"
    decisions.append(Decision("sense of the clamp", taken, "reverse"))
    if not sense.reverse:
        return [sense.said]
    turn_signs(s, np.ones(len(s.time_s), dtype=np.bool_), sense.said)
    return []
