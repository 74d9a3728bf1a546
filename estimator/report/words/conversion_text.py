"""Cable, limits, motor, charging, cost and care as text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from estimator.answers.charging_time import ChargingFigures
from estimator.answers.conversion import ConversionAnswer
from estimator.conversion.bands import Band
from estimator.report.words.text import bullets, counted, pairs, paragraph, table

if TYPE_CHECKING:
    from estimator.conversion.care import CareAdvice
    from estimator.conversion.current_limits import CurrentLimits
    from estimator.conversion.motor import MotorLoad
    from estimator.conversion.running_cost import RunningCost
    from estimator.conversion.wiring import FeedCable


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


@dataclass(frozen=True)
class Figures:
    """A table: headings, the decimals of each column, and rows of a name and a band for each column."""

    headings: tuple[str, ...]
    digits: tuple[int, ...]
    rows: tuple[tuple[str, tuple[Band | None, ...]], ...]

    def text(self, width: int) -> str:
        """The table for a terminal, without the ends of the bands."""
        rows = [
            [name, *("unknown" if band is None else f"{band.value:.{digits}f}"
                     for band, digits in zip(bands, self.digits, strict=True))]
            for name, bands in self.rows
        ]  # fmt: skip
        return table(self.headings, rows, width)


def cable_figures(found: FeedCable) -> Figures:
    """The fitted cable compared with the next sizes."""
    headings = ("size", "mohm", "V usual", "V peak", "Wh/mow", "% lost", "min/charge")
    rows = tuple(
        (each.size, (each.resistance_ohm.times(1000), each.drop_typical_v, each.drop_peak_v, each.loss_wh,
                     each.loss_share.times(100), each.minutes_lost))
        for each in (found.fitted, *found.others)
    )  # fmt: skip
    return Figures(headings, (1, 2, 2, 2, 2, 2), rows)


def cable_text(answer: ConversionAnswer[FeedCable], width: int) -> str:
    """The fitted cable compared with the next sizes, and what they cost."""
    found = answer.figures
    place = f"{found.there_and_back_m:.3g} m there and back, at {found.copper_c:g} °C"
    sizes = cable_figures(found).text(width)
    return "\n".join([f"Feed cable {found.fitted.size}, {place}", sizes, paragraph(found.verdict, width)])


def limits_rows(found: CurrentLimits) -> list[tuple[str, str]]:
    """Peaks by duration."""
    return [
        (
            "whole mow" if peak.seconds is None else f"over {peak.seconds:g} s",
            f"{peak.at_least}{ends(peak.measured_a, 'A')}; next mow {ends(peak.next_mow_a, 'A')}",
        )
        for peak in found.peaks
    ]


def limits_text(answer: ConversionAnswer[CurrentLimits], width: int) -> str:
    """Peaks by duration, then each limit compared with its peak."""
    found = answer.figures
    head = f"Highest current in {counted(answer.mows)} with {answer.pack}"
    return "\n".join(
        [
            paragraph(found.verdict, width),
            head,
            pairs(limits_rows(found), width),
            *bullets(further_limits(found), width),
        ]
    )


def further_limits(found: CurrentLimits) -> list[str]:
    """The limits that the verdict does not already mention."""
    return [check.sentence for check in found.checks if check is not found.closest]


def motor_rows(found: MotorLoad) -> list[tuple[str, str]]:
    """Measured power, and the ratings of the motor and the old engine."""
    loading = (("loading", found.loading), ("loading at peak", found.peak_loading))
    rows = [
        ("idle", ends(found.idle_w, "W", 0)),
        ("typical", ends(found.typical_w, "W", 0)),
        ("peak", ends(found.peak_w, "W", 0)),
        ("at the shaft", ends(found.shaft_w, "W", 0)),
        *((name, ends(share, "%", 0, 100)) for name, share in loading if share is not None),
        ("60 % loaded", ends(found.loaded_60_w, "W motor", 0)),
        ("80 % loaded", ends(found.loaded_80_w, "W motor", 0)),
    ]
    if found.engine_w is not None:
        share = ends(found.of_engine, "%", 0, 100)
        rows.append(("old engine", f"{found.engine_w:.0f} W; mowing takes {share} of it"))
    return rows


def motor_text(answer: ConversionAnswer[MotorLoad], width: int) -> str:
    """Which size of motor fits the measured power."""
    return "\n".join([paragraph(answer.figures.verdict, width), pairs(motor_rows(answer.figures), width)])


def charging_rows(found: ChargingFigures) -> list[tuple[str, str]]:
    """Minutes and energy to refill, and what a break gives back."""
    refill = found.refill
    rows = [
        (
            "charge used",
            f"{found.used_ah:.1f} Ah" + (f", predicted for {', '.join(found.lawns)}" if found.lawns else ""),
        ),
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
    return rows


def charging_line(found: ChargingFigures) -> str:
    """When the pack is full again."""
    return f"Full in about {found.refill.minutes.value:.0f} minutes."


def charging_text(answer: ConversionAnswer[ChargingFigures], width: int) -> str:
    """When the pack is full again, and how much energy that takes."""
    return "\n".join([charging_line(answer.figures), pairs(charging_rows(answer.figures), width)])


COST_LINE = "Cost, in the currency of the prices given"


def cost_figures(found: RunningCost) -> Figures:
    """Money per mow, season and 1,000 m²."""
    costs = {
        name: each
        for name, each in (
            ("electricity", found.electricity), ("wear of the pack", found.wear), ("petrol", found.petrol)
        )
        if each is not None
    }  # fmt: skip
    seasons = any(each.per_season is not None for each in costs.values())
    rows = tuple(
        (name, (each.per_mow, *([each.per_season] if seasons else []), each.per_1000_m2))
        for name, each in costs.items()
    )
    headings = ("", "once", *(["season"] if seasons else []), "1000 m²")
    return Figures(headings, (3,) * (len(headings) - 1), rows)


def saved_line(found: RunningCost) -> str:
    """How much a season saves, or costs more, compared with petrol; blank where that is not known."""
    saved = found.saved_per_season
    if saved is None:
        return ""
    counted = "fuel and electricity" if found.wear is None else "fuel, electricity and the pack's wear"
    if saved.value < 0:
        return f"A season costs {ends(Band(-saved.value, -saved.high, -saved.low), '', 2)} more in {counted}."
    return f"A season saves {ends(saved, '', 2)} in {counted}."


def cost_text(answer: ConversionAnswer[RunningCost], width: int) -> str:
    """Money per mow, season and 1,000 m²."""
    costs, saved = cost_figures(answer.figures), saved_line(answer.figures)
    once = [(name, band) for name, (band, *_) in costs.rows if band is not None and band.low < band.high]
    bands = f"Once, with 90 % bands: {', '.join(f'{name} {ends(band, digits=2)}' for name, band in once)}."
    return "\n".join(
        [COST_LINE, costs.text(width), *(paragraph(each, width) for each in (saved, bands) if each)]
    )


def care_lines(found: CareAdvice) -> list[str]:
    """The trends that the advice rests on."""
    trends = [trend.sentence for trend in (found.idle, found.energy) if trend is not None]
    return [f"{each[0].upper()}{each[1:]}." for each in trends]


def care_text(answer: ConversionAnswer[CareAdvice], width: int) -> str:
    """What to look at, with its evidence."""
    found = answer.figures
    noted = (
        found.since.isoformat()
        if found.since
        else "none is noted; note it with `mowcharge describe care DAY`"
    )
    last = f"Last blade care: {noted}"
    return "\n".join([paragraph(found.verdict, width), *bullets(care_lines(found), width), last])
