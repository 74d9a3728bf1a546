"""Seasons, groups of mows, the life of the pack and the track record as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from estimator.answers.looking_back.compare import CompareAnswer
from estimator.answers.looking_back.pack_life import PackLifeAnswer
from estimator.answers.looking_back.seasons import SeasonsAnswer
from estimator.answers.looking_back.track_record import TrackRecordAnswer
from estimator.report.words.answer_text import causes_words, percent
from estimator.report.words.text import bullets, counted, pairs, paragraph, table
from estimator.results import odds

if TYPE_CHECKING:
    from estimator.fitting.seasons.comparisons import GroupComparison
    from estimator.predictor.finish_score import FinishScore
    from estimator.predictor.half_way import HalfWayScore


def seasons_text(answer: SeasonsAnswer, width: int) -> str:
    """Figures by season, then what changed and whether it is more than noise."""
    blocks = [
        f"Seasons of {answer.pack}; energy, pace and idle power are of all mows",
        comparisons_text(answer.comparisons, width),
        pairs([("pack now", f"{answer.pack}: {answer.pack_now.said}")], width),
    ]
    if answer.curves is None:
        none = "No discharge curves: no logged mow starts from a known charge (hand readings give none)."
        blocks.append(paragraph(none, width))
    blocks.extend(bullets(answer.sentences, width))
    if not answer.sentences:
        one = "One season so far: nothing to compare yet."
        blocks.append(one if answer.comparisons else "No dated mows with it yet.")
    return "\n".join(filter(None, blocks))


def compared_in_short(answer: CompareAnswer) -> str:
    """The first measure of a comparison in half a line; blank where nothing could be compared."""
    for comparison in answer.comparisons:
        for change in comparison.changes[:1]:
            noise = "more than noise" if change.more_than_noise else "within the noise so far"
            return f"{comparison.measure} {100 * change.change:+.0f} %, {noise}"
    return ""


def compare_text(answer: CompareAnswer, width: int) -> str:
    """Figures by group, then what differs and whether it is more than noise."""
    head = f"{counted(answer.mows[0])} {answer.earlier}, {counted(answer.mows[1])} {answer.later}"
    blocks = [paragraph(head, width), comparisons_text(answer.comparisons, width)]
    explained = (
        f"{comparison.measure.capitalize()}: without that allowance it would look like "
        f"{_signed(change.raw_change)}; circumstances account for {_signed(change.grass_change)}."
        for comparison in answer.comparisons
        for change in comparison.changes
        if change.grass_share is not None and round(100 * change.grass_change)
    )
    return "\n".join([*blocks, *bullets((*answer.sentences, *explained), width)])


def _signed(change: float) -> str:
    """A change in percent with its sign.

    >>> _signed(0.034), _signed(-0.32), _signed(0.0)
    ('+3 %', '-32 %', '0 %')
    """
    whole = round(100 * change)
    return f"{whole:+d} %" if whole else "0 %"


def comparisons_text(comparisons: Sequence[GroupComparison], width: int) -> str:
    """One line for each figure and group."""
    rows = [
        [
            f"{each.measure} [{each.unit}]", group.group, f"{group.value:.3g}",
            f"{group.low:.3g}-{group.high:.3g}", str(group.mows),
        ]
        for each in comparisons
        for group in each.groups
    ]  # fmt: skip
    return table(["figure", "group", "value", "band", "mows"], rows, width)


def pack_life_text(answer: PackLifeAnswer, width: int) -> str:
    """When the pack no longer finishes the lawns."""
    found, count = answer.forecast, len(answer.capacity_ah)
    needed_ah = found.needed_ah * answer.pack_now.usable_share
    rows = [
        ("lawns", ", ".join(found.lawns)),
        ("they need", f"{needed_ah:.1f} Ah for {percent(found.sure)} certainty"),
        ("pack now", f"{answer.pack}: {answer.pack_now.said}"),
        ("capacity seen", f"in {count} of {counted(answer.mows)}"),
        ("finishes now", odds(found.odds_now) + charge_alone_words(answer)),
    ]
    said = (*answer.notes, causes_words(answer.doubts))
    return "\n".join(
        [
            paragraph(found.sentence, width),
            pairs(rows, width),
            *(paragraph(each, width) for each in said if each),
        ]
    )


def charge_alone_words(answer: PackLifeAnswer) -> str:
    """That the odds leave the pack's current limit out, where it has one; else ""."""
    limit_a = answer.current_limit_a
    return f", as far as its charge goes: peaks over its {limit_a:g} A are left out" if limit_a else ""


ENOUGH = 10
"""Of fewer mows nearly any number of bands can hold by chance."""


def track_record_text(answer: TrackRecordAnswer, width: int) -> str:
    """How often the bands held, and the misses compared with those of simpler guesses."""
    rows = [
        (
            "bands held",
            f"energy {percent(answer.held)}, minutes {percent(answer.minutes_held)} "
            f"(meant: {percent(answer.level)})",
        ),
        (
            "median miss",
            f"energy {percent(answer.miss)}, minutes {percent(answer.minutes_miss)}; of energy guessed as "
            f"last time {percent(answer.last_time_miss)}, as the mean of all mows before "
            f"{percent(answer.mean_miss)}",
        ),
    ]
    if answer.finishes is not None:
        rows.append(("finish odds", finish_words(answer.finishes)))
    if answer.half_way is not None:
        rows.append(("half-way", half_way_words(answer.half_way)))
    chance = (
        "So few mows cannot tell whether the bands are right."
        if answer.mows < ENOUGH
        else f"If the bands are right, {percent(answer.held_low)} to {percent(answer.held_high)} of "
        f"{answer.mows} would hold, nine times in ten."
    )
    return "\n".join([paragraph(answer.sentence, width), pairs(rows, width), paragraph(chance, width)])


def half_way_words(score: HalfWayScore) -> str:
    """How well minutes left said half-way held, and how much wider that makes later bands.

    >>> from estimator.predictor.half_way import HalfWayScore
    >>> half_way_words(HalfWayScore(5, 4, 0.06, 1.2))
    'minutes left held in 4 of 5 mows down to the cut-off, median miss 6 %; later bands are 1.2 times as wide'
    """
    wider = "" if f"{score.stretch:.2g}" == "1" else f"; later bands are {score.stretch:.2g} times as wide"
    return (
        f"minutes left held in {score.held} of {score.mows} mows down to the cut-off, median miss "
        f"{percent(score.miss)}{wider}"
    )


def finish_words(score: FinishScore) -> str:
    """How many of the latest mows finished their lawn, compared with how many their odds made expect.

    >>> from estimator.predictor.finish_score import FinishScore
    >>> finish_words(FinishScore(10, 8, 7.4, 5, 9, 0.9, 0.3, 0.1))
    '8 of 10 mows finished their lawn; 7.4 were expected (5 to 9); those that stopped short had 30 %'
    """
    stopped = score.when_stopped
    had = "" if stopped is None else f"; those that stopped short had {odds(stopped)}"
    return (
        f"{score.done} of {score.mows} mows finished their lawn; {score.expected:.1f} were expected "
        f"({score.low} to {score.high}){had}"
    )
