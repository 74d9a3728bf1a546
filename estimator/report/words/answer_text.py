"""Answers as short text for the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from estimator.report.words.text import band, counted, figure, pairs, paragraph, table
from estimator.results import odds

if TYPE_CHECKING:
    from estimator.answers.capacity import CapacityAnswer
    from estimator.answers.minutes import MinutesAnswer
    from estimator.answers.plan import PlanAnswer
    from estimator.predictor.lawns.lawns_per_charge import StopChance
    from estimator.predictor.lawns.one_more import OneMoreLawn
    from estimator.predictor.narrowing import Doubt
    from estimator.predictor.sizing.margin import Saving

LEAST_SHARE = 0.05
"""The least share of an answer's variance for which its cause is worth a line."""
LEAST_STOPPED = 0.01
"""The least share of days on which the motor stops for which its stops are worth a line."""
MUCH_LEFT = 0.35
"""An empty pack keeps less than this share of its charge at the cut-off (common practice: data sheets)."""
LEAST_FOR_LIMIT = 0.1
"""The least share of a recommendation, there only for the current limit, that is worth a line."""


def percent(share: float) -> str:
    """A share in whole percent.

    >>> percent(0.904)
    '90 %'
    """
    return f"{round(100 * share)} %"


def minutes_text(answer: MinutesAnswer, width: int) -> str:
    """Minutes left with their band, and the charge behind them."""
    ends = f"{100 * answer.charge_low:.0f} to {percent(answer.charge_high)}"
    rows = [
        ("how sure", f"the band holds {percent(answer.level)} of the time"),
        ("charge now", f"{percent(answer.charge)} ({ends})"),
        (
            "used so far",
            f"{answer.used_ah:.2f} Ah, {answer.used_wh:.0f} Wh in {figure(answer.measured_minutes, 'min')}",
        ),
        ("pack", answer.pack),
    ]
    left = band(answer.minutes, answer.low, answer.high, "min")
    blocks = [
        f"Minutes left: {left if answer.high >= 0.5 else 'under 1'}", pairs(rows, width),
        *(paragraph(remark, width) for remark in answer.remarks),
        paragraph(causes_words(answer.doubts), width), _one_more(answer.more, width),
    ]  # fmt: skip
    return "\n".join(filter(None, blocks))


def _one_more(lawns: Sequence[OneMoreLawn], width: int) -> str:
    """The chance of each lawn by itself with the charge left; empty where that was not asked."""
    more = [[each.lawn, f"{each.area_m2:.0f}", f"{each.minutes:.0f}", odds(each.odds)] for each in lawns]
    return table(["one more lawn now", "m²", "min", "odds"], more, width)


def plan_text(answer: PlanAnswer, width: int) -> str:
    """How many lawns finish, and the odds of each."""
    of = len(answer.lawns)
    rows = [
        [
            lawn.lawn, f"{lawn.area_m2:.0f}", f"{lawn.minutes:.0f}",
            f"{lawn.minutes_low:.0f}-{lawn.minutes_high:.0f}", f"{lawn.energy_wh:.0f}",
            str(lawn.mows_known), odds(lawn.odds, answer.sure),
        ]
        for lawn in answer.lawns
    ]  # fmt: skip
    mowing = f" ({figure(answer.minutes, 'min')} of mowing)" if answer.count else ""
    head = f"Lawns per charge: {answer.count} of {of} with {certainty(answer.sure)} certainty{mowing}."
    left = "starting at {}" if not answer.more else "with {} left after what was mown so far"
    reserve = f" with {percent(answer.reserve)} of charge left" if answer.reserve else ""
    pause, then = answer.pause, "" if answer.spare is None else f", then {answer.spare} from full"
    if pause is not None:
        after = f"after {counted(pause.after, 'lawn')}" if pause.after else "when it stops"
        then += f", with {pause.minutes:g} min on a charger of {pause.charger_w:g} W {after}"
    meant = (
        f"Pack {answer.pack}, {answer.pack_now.said}, {left.format(percent(answer.start_charge))}{then}. "
        f"The odds are those of finishing this lawn and all before it{reserve}."
    )
    lawns = table(["lawn", "m²", "min", "band", "Wh", "mows", "odds"], rows, width)
    others = [f"{each.lawn} {odds(each.odds)}" for each in answer.more if each.lawn != answer.lawns[0].lawn]
    instead = f"Instead of {answer.lawns[0].lawn}, each by itself: {', '.join(others)}." if others else ""
    said = (*answer.notes, meant, instead, stopped_words(answer.stops), causes_words(answer.doubts))
    blocks = [head, lawns, *(paragraph(each, width) for each in said)]
    return "\n".join(filter(None, blocks))


def stopped_words(stops: Sequence[StopChance]) -> str:
    """What stops the motor although there is charge left; "" where that hardly happens.

    >>> from estimator.predictor.lawns.lawns_per_charge import StopChance
    >>> stopped_words([StopChance("cut-off", 0.3, 0.1), StopChance("current limit", 0.061, 0.7)])[:66]
    "On 6 % of such days a peak passes this pack's current limit (by mo"
    >>> stopped_words([StopChance("cut-off", 0.4, 0.6)])[:87]
    'On 40 % of such days a peak pulls the volts to the cut-off with 60 % of the charge left'
    """
    from estimator.fitting.load.log_doubts import LESS_SAG
    from estimator.predictor.simulation.simulation import CURRENT, CUT_OFF

    said = []
    for stop in stops:
        often = f"On {percent(stop.chance)} of such days a peak"
        if stop.chance < LEAST_STOPPED:
            continue
        if stop.why == CURRENT:
            said.append(
                f"{often} passes this pack's current limit (by mows with any pack), which may stop the motor "
                "whatever is left."
            )
        elif stop.why == CUT_OFF and stop.charge > MUCH_LEFT:
            said.append(
                f"{often} pulls the volts to the cut-off with {percent(stop.charge)} of the charge left: "
                f"{LESS_SAG}."
            )
    return " ".join(said)


def capacity_text(answer: CapacityAnswer, width: int) -> str:
    """The pack to buy, what every size on offer would do, and what its margin is made of."""
    choice, saving = answer.choice, saving_words(answer.saving)
    saved = (saving, saving_words(answer.cut_off), limit_words(answer), in_use_words(answer))
    sizes = [
        [
            f"{size.capacity_ah:g}", str(size.strings or ""), odds(size.typical_new), odds(size.worst_new),
            odds(size.odds), "enough" if choice is not None and size == choice else "",
        ]
        for size in answer.sizes
    ]  # fmt: skip
    headings = ["Ah", "strings", "usual day", "coldest day", "coldest, worn", ""]
    if not any(size.strings for size in answer.sizes):
        headings, sizes = [headings[0], *headings[2:]], [[row[0], *row[2:]] for row in sizes]
    rows = [
        [part.name, f"{part.ah:.2f}" if place == 0 else f"{part.ah:+.2f}", part.note]
        for place, part in enumerate(answer.parts)
    ]
    rows.append(["recommended", f"{answer.capacity_ah:.2f}", ""])
    if choice is not None and choice.capacity_ah - answer.capacity_ah > 0.005:
        rows.append(["size on offer", f"{choice.capacity_ah - answer.capacity_ah:+.2f}", "up to it"])
    assumed = ", assumed" if answer.coldest_assumed else ""
    blocks = [
        paragraph(to_buy(answer), width),
        *(paragraph(note, width) for note in answer.notes),
        table(headings, sizes, width),
        paragraph(
            "The chances are those of finishing all the lawns with the reserve left: new on a day as warm as "
            f"usual, new on the coldest day ({answer.coldest_c:g} °C{assumed}), and on that day at the end "
            "of its life, averaged over what is not known yet. A size is enough only if it finishes them "
            f"even where that turns out badly: more than {certainty(answer.sure)} on average may not be.",
            width,
        ),
        table(["part", "Ah", "what it stands for"], rows, width),
        *(paragraph(line, width) for line in (*saved, causes_words(answer.doubts, saving)) if line),
        pairs([("pack", f"{answer.pack}, {answer.rated}; now {answer.pack_now.said}")], width),
    ]
    if answer.motor is not None and answer.motor.rated_w is not None:
        blocks.append(paragraph(f"Motor: {answer.motor.verdict}", width))
    return "\n".join(blocks)


def to_buy(answer: CapacityAnswer) -> str:
    """What is needed, and which size on offer gives it, in a sentence."""
    said = f"Recommended capacity: {answer.capacity_ah:.1f} Ah for {certainty(answer.sure)} certainty; "
    if answer.choice is None:
        return said + "none of these sizes is enough."
    return said + f"build or buy {answer.choice.capacity_ah:g} Ah."


def certainty(share: float) -> str:
    """The certainty wanted, in percent, never rounded up to 100 %.

    >>> certainty(0.95), certainty(0.999)
    ('95 %', '99.9 %')
    """
    return f"{100 * share:.6g} %"


def in_use_words(answer: CapacityAnswer) -> str:
    """That the pack in use does these lawns today, where it does although more is recommended; else ""."""
    size = answer.in_use
    if size.capacity_ah >= answer.capacity_ah or size.typical_new < answer.sure:
        return ""
    return (
        f"When new, {answer.pack} with its {size.capacity_ah:g} Ah finishes them on {odds(size.typical_new)} "
        f"of usual days and {odds(size.worst_new)} of the coldest; what is beyond that is for old age."
    )


def limit_words(answer: CapacityAnswer) -> str:
    """That much of the recommendation is there only for the current limit, where it is; else ""."""
    ah = sum(part.ah for part in answer.parts if part.name == "current limit")
    if ah < LEAST_FOR_LIMIT * answer.capacity_ah:
        return ""
    return (
        f"{ah:.1f} Ah of it only keep the current under its limit: a controller or battery management that "
        "allows more would save them, where cells, fuse and wires bear it."
    )


def saving_words(saving: Saving | None) -> str:
    """What one measurement or change would save; "" where it saves little."""
    if saving is None or saving.ah < 0.05:
        return ""
    measure = saving.measure.rstrip(".")
    return f"{measure}: that would likely save about {saving.ah:.1f} Ah of the whole."


def causes_words(doubts: Sequence[Doubt], named: str = "") -> str:
    """The two largest causes of an answer's width, and what would narrow them unless `named` says so.

    Differences from day to day and from mow to mow are named as one cause.

    >>> from estimator.predictor.narrowing import Doubt
    >>> from_days = [Doubt("from mow to mow", 0.1, ""), Doubt("from day to day", 0.1, "")]
    >>> causes_words([Doubt("grass", 0.61, "Say it."), *from_days])
    'The uncertainty comes mainly from grass (61 %): say it; then from how mows differ anyway (20 %).'
    >>> causes_words([Doubt("capacity", 0.11, "Log one mow to the cut-off.")])
    'The uncertainty has many causes, most of all capacity (11 %): log one mow to the cut-off.'
    """
    told = [(one.share, one.cause, one.measure) for one in doubts if not one.cause.startswith("from ")]
    differ = sum(one.share for one in doubts if one.cause.startswith("from "))
    told.append((differ, "how mows differ anyway", ""))
    largest = [one for one in sorted(told, reverse=True)[:2] if one[0] >= LEAST_SHARE]
    many = sum(share for share, _, _ in largest) < 0.5
    lead, link = ("has many causes, most of all", "; then") if many else ("comes mainly from", "; then from")
    each = [
        f" {cause} ({percent(share)})"
        + (
            f": {measure[0].lower()}{measure[1:].rstrip('.')}"
            if measure and measure[:-1] not in named
            else ""
        )
        for share, cause, measure in largest
    ]
    return f"The uncertainty {lead}{link.join(each)}." if each else ""
