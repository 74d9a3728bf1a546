"""Answers as short text for the terminal."""

from __future__ import annotations

from estimator.answers.capacity import CapacityAnswer
from estimator.answers.minutes import MinutesAnswer
from estimator.answers.plan import PlanAnswer
from estimator.report.words.text import band, figure, odds, pairs, paragraph, table


def percent(share: float) -> str:
    """A share in whole percent.

    >>> percent(0.904)
    '90 %'
    """
    return f"{100 * share:.0f} %"


def minutes_text(answer: MinutesAnswer, width: int) -> str:
    """Minutes left with their band, and the charge behind them."""
    ends = f"{100 * answer.charge_low:.0f} to {percent(answer.charge_high)}"
    used = f"{answer.used_ah:.2f} Ah, {answer.used_wh:.0f} Wh in {answer.measured_minutes:.0f} min"
    return "\n".join(
        [
            f"Minutes left: {band(answer.minutes, answer.low, answer.high, 'min')}",
            pairs(
                [
                    ("how sure", f"the band holds {percent(answer.level)} of the time"),
                    (
                        "charge now",
                        f"{percent(answer.charge)} ({ends})",
                    ),
                    (
                        "used so far",
                        used,
                    ),
                    ("pack", answer.pack),
                ],
                width,
            ),
        ]
    )


def plan_text(answer: PlanAnswer, width: int) -> str:
    """How many lawns finish, and the odds of each."""
    of = len(answer.lawns)
    rows = [
        [
            lawn.lawn, f"{lawn.area_m2:.0f}", f"{lawn.minutes:.0f}",
            f"{lawn.minutes_low:.0f}-{lawn.minutes_high:.0f}", f"{lawn.energy_wh:.0f}",
            str(lawn.mows_known), odds(lawn.odds),
        ]
        for lawn in answer.lawns
    ]  # fmt: skip
    return "\n".join(
        [
            f"Lawns per charge: {answer.count} of {of} with {percent(answer.level)} certainty "
            f"({figure(answer.minutes, 'min')} of mowing).",
            table(["lawn", "m²", "min", "band", "Wh", "mows", "odds"], rows, width),
            paragraph(
                f"Pack {answer.pack}, starting at {percent(answer.start_charge)}. "
                "The odds are those of finishing this lawn and all before it.",
                width,
            ),
        ]
    )


def capacity_text(answer: CapacityAnswer, width: int) -> str:
    """The pack to buy, what its margin is made of, and what smaller ones would give up."""
    rows = [
        [part.name, f"{part.ah:.2f}" if place == 0 else f"{part.ah:+.2f}", part.note]
        for place, part in enumerate(answer.parts)
    ]
    rows.append(["recommended", f"{answer.capacity_ah:.2f}", ""])
    sizes = [
        (
            f"{size.capacity_ah:g} Ah" + (f", {size.strings} strings" if size.strings else ""),
            f"finishes at end of life: {odds(size.odds)}",
        )
        for size in (answer.choice, answer.smaller, answer.half)
        if size.capacity_ah > 0
    ]
    blocks = [
        f"Recommended capacity: {answer.capacity_ah:.1f} Ah for {percent(answer.sure)} certainty; "
        f"build or buy {answer.choice.capacity_ah:g} Ah.",
        table(["part", "Ah", "what it stands for"], rows, width),
        pairs([*sizes, ("pack in use", f"{answer.pack}, {answer.now_ah:g} Ah rated")], width),
    ]
    if answer.motor is not None and answer.motor.rated_w is not None:
        blocks.append(paragraph(f"Motor: {answer.motor.verdict}", width))
    return "\n".join(blocks)
