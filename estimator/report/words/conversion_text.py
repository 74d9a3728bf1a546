"""Cable, limits, motor, charging, cost and care as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from estimator.answers.charging_time import ChargingFigures
from estimator.answers.conversion import ConversionAnswer
from estimator.report.words.text import bullets, counted, pairs, paragraph, table

if TYPE_CHECKING:
    from estimator.conversion.bands import Band
    from estimator.conversion.care import CareAdvice
    from estimator.conversion.current_limits import CurrentLimits
    from estimator.conversion.motor import MotorLoad
    from estimator.conversion.running_cost import RunningCost
    from estimator.conversion.wiring import CableLoss, FeedCable


def ends(band: Band | None, unit: str = "", digits: int = 1, factor: float = 1.0) -> str:
    """A figure with its band, or "unknown".

    >>> from estimator.conversion.bands import Band
    >>> ends(Band(31.2, 25.6, 38.4), "min")
    '31.2 min (25.6 to 38.4)'
    """
    if band is None:
        return "unknown"
    value, low, high = (f"{factor * each:.{digits}f}" for each in (band.value, band.low, band.high))
    return f"{value} {unit}".rstrip() + f" ({low} to {high})"


def cable_text(answer: ConversionAnswer[FeedCable], width: int) -> str:
    """The fitted cable beside the next sizes."""
    found = answer.figures

    def row(loss: CableLoss) -> list[str]:
        minutes = "unknown" if loss.minutes_lost is None else f"{loss.minutes_lost.value:.2f}"
        return [
            loss.size, f"{1000 * loss.resistance_ohm.value:.1f}", f"{loss.drop_typical_v.value:.2f}",
            f"{loss.drop_peak_v.value:.2f}", f"{loss.loss_wh.value:.2f}",
            f"{100 * loss.loss_share.value:.2f}", minutes,
        ]  # fmt: skip

    place = f"{found.there_and_back_m:.4g} m there and back, at {found.copper_c:g} °C"
    headings = ["size", "mohm", "V usual", "V peak", "Wh/mow", "% lost", "min/charge"]
    sizes = table(headings, [row(each) for each in (found.fitted, *found.others)], width)
    return "\n".join([f"Feed cable {found.fitted.size}, {place}", sizes, paragraph(found.verdict, width)])


def limits_text(answer: ConversionAnswer[CurrentLimits], width: int) -> str:
    """Peaks by duration, then each limit beside its peak."""
    found = answer.figures
    peaks = [
        (
            "whole mow" if peak.seconds is None else f"over {peak.seconds:g} s",
            f"{peak.at_least}{ends(peak.measured_a, 'A')}; next mow {ends(peak.next_mow_a, 'A')}",
        )
        for peak in found.peaks
    ]
    head = f"Highest current in {counted(answer.mows)}"
    further = bullets(further_limits(found), width)
    return "\n".join([paragraph(found.verdict, width), head, pairs(peaks, width), *further])


def further_limits(found: CurrentLimits) -> list[str]:
    """The limits that the verdict does not already tell of."""
    return [check.sentence for check in found.checks if check is not found.closest]


def motor_text(answer: ConversionAnswer[MotorLoad], width: int) -> str:
    """Measured power beside the motor's rating and the old engine's."""
    found = answer.figures
    rows = [
        ("idle", ends(found.idle_w, "W", 0)),
        ("typical", ends(found.typical_w, "W", 0)),
        ("peak", ends(found.peak_w, "W", 0)),
        ("at the shaft", ends(found.shaft_w, "W", 0)),
        ("loading", ends(found.loading, "%", 0, 100)),
        ("loading at peak", ends(found.peak_loading, "%", 0, 100)),
        ("60 % loaded", ends(found.loaded_60_w, "W motor", 0)),
        ("80 % loaded", ends(found.loaded_80_w, "W motor", 0)),
    ]
    if found.engine_w is not None:
        share = ends(found.of_engine, "%", 0, 100)
        rows.append(("old engine", f"{found.engine_w:.0f} W; mowing takes {share} of it"))
    return "\n".join([paragraph(found.verdict, width), pairs(rows, width)])


def charging_text(answer: ConversionAnswer[ChargingFigures], width: int) -> str:
    """Minutes and energy to refill, and what a break gives back."""
    found, refill = answer.figures, answer.figures.refill
    rows = [
        ("charge used", f"{found.used_ah:.1f} Ah" + (f" ({', '.join(found.lawns)})" if found.lawns else "")),
        ("to 90 %", ends(refill.minutes_to_90, "min", 0)),
        ("to full", ends(refill.minutes, "min", 0)),
        ("into the pack", ends(refill.pack_wh, "Wh", 0)),
        ("from the socket", ends(refill.mains_wh, "Wh", 0)),
    ]
    if found.warmer_k is not None:
        warmer = f"{ends(found.warmer_k, '°C', 0)} warmer than the air"
        rows.append(("pack then", f"{warmer}; let a hot one cool first"))
    if found.pause is not None:
        mowing = ends(found.pause.mowing_minutes, "min")
        rows.append(("a break gives", f"{ends(found.pause.ah, 'Ah', 2)}, mowing {mowing}"))
    return "\n".join([f"Full in about {refill.minutes.value:.0f} minutes.", pairs(rows, width)])


def cost_text(answer: ConversionAnswer[RunningCost], width: int) -> str:
    """Money per mow, season and 1,000 m²."""
    found = answer.figures
    costs = {
        name: each
        for name, each in (
            ("electricity", found.electricity), ("wear of the pack", found.wear), ("petrol", found.petrol)
        )
        if each is not None
    }  # fmt: skip
    columns = ["", "once", "season", "1000 m²"]
    rows = [
        [name, *("unknown" if band is None else f"{band.value:.3f}" for band in
                 (each.per_mow, each.per_season, each.per_1000_m2))]
        for name, each in costs.items()
    ]  # fmt: skip
    if all(each.per_season is None for each in costs.values()):
        columns, rows = [columns[k] for k in (0, 1, 3)], [[row[k] for k in (0, 1, 3)] for row in rows]
    lines = [table(columns, rows, width)]
    if found.saved_per_season is not None:
        counted = "fuel and electricity" if found.wear is None else "fuel, electricity and the pack's wear"
        lines.append(f"A season saves {ends(found.saved_per_season, '', 2)} in {counted}.")
    return "\n".join(["Cost, in the currency of the prices given", *lines])


def care_text(answer: ConversionAnswer[CareAdvice], width: int) -> str:
    """What to look at, with its evidence."""
    found = answer.figures
    said = [f"{trend.sentence}." for trend in (found.idle, found.energy) if trend is not None]
    noted = (
        found.since.isoformat()
        if found.since
        else "none is noted; note it with `mowcharge describe care DAY`"
    )
    last = f"Last blade care: {noted}"
    return "\n".join([paragraph(found.verdict, width), *bullets(said, width), last])
