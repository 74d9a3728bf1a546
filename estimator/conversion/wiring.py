"""What the feed cable between pack and controller costs in volts, Wh and minutes under the measured load."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from estimator.arrays import Array
from estimator.conversion import cautions
from estimator.conversion.bands import Band, next_mow, product
from estimator.conversion.load_trace import LoadTrace, check_loads
from estimator.conversion.wire_sizes import WireSize, neighbours, temperature_factor, warmed_c, wire_size
from estimator.errors import InputError
from estimator.results import result

SOURCES = (
    "IEC 60028:1925 (copper and its rise with temperature)",
    "ASTM B258 and NEC chapter 9 table 8 (AWG sizes), IEC 60228 class 5 (mm² sizes)",
    "IEC 60364-5-52, annex D, method C (what a lasting current warms)",
)


@result
class CableLoss:
    """What one size of cable costs.

    resistance_ohm : there and back, at the temperature of the copper
    drop_typical_v, drop_peak_v : voltage drop at the typical and at the highest measured current
    loss_wh : heat in the cable per mow; the band covers the next mow
    loss_share : that heat as a share of the energy of a mow
    minutes_lost : minutes of mowing per charge that the cable costs, None where usable Wh were not given
    """

    size: str
    resistance_ohm: Band
    drop_typical_v: Band
    drop_peak_v: Band
    loss_wh: Band
    loss_share: Band
    minutes_lost: Band | None


@result
class FeedCable:
    """The fitted cable, and the next thinner and thicker sizes (`others`)."""

    fitted: CableLoss
    others: tuple[CableLoss, ...]
    there_and_back_m: float
    copper_c: float
    highest_a: float
    limit_a: float | None
    verdict: str
    assumptions: tuple[str, ...]
    sources: tuple[str, ...]
    cautions: tuple[str, ...]


def feed_cable(
    mows: Sequence[LoadTrace],
    size: str,
    one_way_m: float,
    *,
    usable_wh: float | None = None,
    copper_c: float = 40.0,
    copper_c_within: float = 15.0,
    limit_a: float | None = None,
) -> FeedCable:
    """Voltage drop, loss per mow and minutes lost per charge of a two-conductor copper cable.

    The power at the far end is kept as measured: for another size the current follows from
    V·I − I²·R = V·I_measured − I_measured²·R_fitted at the same pack voltage.

    Parameters
    ----------
    mows : sequence of LoadTrace, (n,), n from 1
        one measured load for each mow, taken at the pack's end of the fitted cable
    size : str
        "6 mm2", "8 AWG"
    one_way_m : float, above 0 [m]
        length of the cable; the current goes there and back
    usable_wh : float [Wh], default None
        what one charge of the pack gives
    copper_c : float [°C], default 40
        temperature of the copper
    copper_c_within : float [°C], default 15
        how far off it may be
    limit_a : float, above 0 [A], default None
        the highest current that the maker or the local code allows for the cable

    Returns
    -------
    FeedCable
        drops [V], losses [Wh] and minutes [min] of the fitted size and its neighbours, with cautions

    Raises
    ------
    InputError
        for no mow, a size that is not in the table, or a cable that cannot carry the load

    Source: ASTM B258 (AWG), IEC 60228 class 5 (mm²), IEC 60028 (copper).

    >>> load = LoadTrace([5.0] * 600, [60.0] * 600)
    >>> cable = feed_cable([load], "6 mm2", one_way_m=1.0, usable_wh=500.0)
    >>> round(cable.fitted.drop_typical_v.value, 3), [each.size for each in cable.others]
    (0.036, ['4 mm²', '10 mm²'])
    """
    check_loads(mows, "cable")
    if not one_way_m > 0:
        raise InputError(f"the cable's length is {one_way_m} m", mend="give metres above zero")
    fitted = wire_size(size)
    highest = max(float(mow.current_a.max()) for mow in mows)
    warmth = _warmth(copper_c, copper_c_within)
    now_ohm = _resistance(fitted, one_way_m, warmth)
    drop, volts = highest * now_ohm.value, min(float(mow.voltage_v.min()) for mow in mows)
    if drop > volts / 2:
        raise InputError(
            f"{fitted.name} over {one_way_m:g} m would drop {drop:.1f} of {volts:.1f} V at {highest:.1f} A",
            mend="check the cable's size and length",
        )
    losses = {
        each.name: _cable_loss(each, _resistance(each, one_way_m, warmth), now_ohm.value, mows, usable_wh)
        for each in (fitted, *neighbours(fitted))
    }
    fitted_loss = losses.pop(fitted.name)
    assert fitted_loss is not None
    return FeedCable(
        fitted=fitted_loss,
        others=tuple(loss for loss in losses.values() if loss is not None),
        there_and_back_m=2 * one_way_m,
        copper_c=copper_c,
        highest_a=highest,
        limit_a=limit_a,
        verdict=_verdict(highest, limit_a),
        assumptions=(
            f"copper at {copper_c:g} °C, within {copper_c_within:g} K",
            "current and voltage were measured at the pack, with the fitted cable behind them",
            "plugs, crimps, fuse and switch are not counted; they often take as much again (common practice)",
            *(
                f"{name} could not carry the measured power at all"
                for name, loss in losses.items()
                if loss is None
            ),
        ),
        sources=SOURCES,
        cautions=(cautions.WIRING, cautions.CONTROLLER, *_hot(fitted, mows, copper_c + copper_c_within)),
    )


def _hot(size: WireSize, mows: Sequence[LoadTrace], expected_c: float) -> tuple[str, ...]:
    """A caution where the hardest mow warms the cable above the temperature assumed for its resistance."""
    rms_a = max(float(np.sqrt((mow.current_a**2).mean())) for mow in mows)
    if (warm_c := warmed_c(size.area_mm2, rms_a)) <= expected_c:
        return ()
    return (
        f"{rms_a:.0f} A, the hardest mow's root mean square, would bring {size.name} to some {warm_c:.0f} °C "
        "on a day of 30 °C, more than was assumed here: drop and loss are higher than shown, and PVC stands "
        "70 °C at most. Look for a thicker cable; its maker and your local code decide.",
    )


def _warmth(copper_c: float, within: float) -> Band:
    return Band(*(temperature_factor(copper_c + step) for step in (0.0, -within, within)))


def _resistance(size: WireSize, one_way_m: float, warmth: Band) -> Band:
    return product(size.ohm_per_km.times(2 * one_way_m / 1000), warmth)


def _cable_loss(
    size: WireSize, ohm: Band, now_ohm: float, mows: Sequence[LoadTrace], usable_wh: float | None
) -> CableLoss | None:
    currents = [_current_with(mow, ohm.value, now_ohm) for mow in mows]
    if not all(np.isfinite(current).all() for current in currents):
        return None
    seconds = sum(mow.seconds for mow in mows)
    heat_wh = [
        float((current**2).mean()) * ohm.value * mow.seconds / 3600
        for current, mow in zip(currents, mows, strict=True)
    ]
    energy_wh = sum(
        float((current * mow.voltage_v).mean()) * mow.seconds / 3600
        for current, mow in zip(currents, mows, strict=True)
    )
    running = np.concatenate([current[mow.running()] for current, mow in zip(currents, mows, strict=True)])
    relative = ohm.times(1 / ohm.value)
    share = relative.times(sum(heat_wh) / energy_wh) if energy_wh > 0 else Band(0.0, 0.0, 0.0)
    per_mow = next_mow(heat_wh) if min(heat_wh) > 0 else Band(0.0, 0.0, 0.0)
    minutes = None
    if usable_wh is not None and energy_wh > 0:
        with_cable = 60 * usable_wh / (energy_wh * 3600 / seconds)
        minutes = Band(*(with_cable * part / (1 - part) for part in (share.value, share.low, share.high)))
    typical = float(np.median(running)) if running.size else 0.0
    return CableLoss(
        size=size.name,
        resistance_ohm=ohm,
        drop_typical_v=ohm.times(typical),
        drop_peak_v=ohm.times(max(float(current.max()) for current in currents)),
        loss_wh=product(per_mow, relative),
        loss_share=share,
        minutes_lost=minutes,
    )


def _current_with(mow: LoadTrace, ohm: float, now_ohm: float) -> Array:
    current = np.maximum(mow.current_a, 0.0)
    power_w = current * mow.voltage_v - current**2 * now_ohm
    inside = mow.voltage_v**2 - 4 * ohm * power_w
    possible = np.where(inside >= 0, inside, np.nan)
    return np.asarray(2 * power_w / (mow.voltage_v + np.sqrt(possible)), dtype=np.float64)


def _verdict(highest: float, limit_a: float | None) -> str:
    if limit_a is None:
        return f"The highest measured current is {highest:.1f} A; no limit for the cable was given."
    if highest > limit_a:
        return (
            f"The highest measured current, {highest:.1f} A, is {highest - limit_a:.1f} A above the limit of "
            f"{limit_a:g} A that you gave for this cable."
        )
    return (
        f"The highest measured current, {highest:.1f} A, is {limit_a - highest:.1f} A under the limit of "
        f"{limit_a:g} A that you gave for this cable; shorter peaks may have been missed."
    )
