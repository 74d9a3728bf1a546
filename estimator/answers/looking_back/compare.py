"""Compare two groups of mows: before and after a change, or with and without a tag."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from typing import TYPE_CHECKING

from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.why import Part, Why
from estimator.conversion.cautions import BLADES
from estimator.descriptions import ENDS
from estimator.errors import InputError
from estimator.logbook import Logbook, MowRecord, events_of, machines, mows

if TYPE_CHECKING:
    from estimator.fitting.seasons.comparisons import GroupComparison


@dataclass(frozen=True)
class CompareQuestion:
    """Which mows are compared: those with and without `tag`, or those from `changed_on` on and before it.

    since, until : only mows from and up to these days, both included; lawn, machine : only mows of these
    """

    tag: str | None = None
    changed_on: date | None = None
    lawn: str | None = None
    machine: str | None = None
    since: date | None = None
    until: date | None = None


@dataclass(frozen=True)
class CompareAnswer:
    """Energy per area, pace and idle power of the two groups, after allowing for grass."""

    earlier: str
    later: str
    mows: tuple[int, int]
    comparisons: tuple[GroupComparison, ...]
    sentences: tuple[str, ...]
    why: Why


def groups_compared(logbook: Logbook, question: CompareQuestion) -> CompareAnswer:
    """Compare the two groups; InputError where either is empty."""
    from estimator.fitting.seasons import measures
    from estimator.fitting.seasons.comparisons import compare_groups

    names = _names(question)
    listed = mows(
        logbook, lawn=question.lawn, machine=question.machine, since=question.since, until=question.until
    )
    dated = [(mow, mow.started.date()) for mow in listed if mow.started is not None]
    groups: tuple[list[MowRecord], list[MowRecord]] = ([], [])
    for mow, day in dated:
        later = day >= question.changed_on if question.changed_on else question.tag in mow.tags
        groups[later].append(mow)
    for name, group in zip(names, groups, strict=True):
        if not group:
            raise InputError(f"no mow {name}", mend=_mend(dated, question.tag))
    comparisons = []
    sides = [list(features_of_mows(logbook, group).values()) for group in groups]
    together = [*sides[0], *sides[1]]
    labels = [names[0]] * len(sides[0]) + [names[1]] * len(sides[1])
    for measure in (measures.ENERGY, measures.PACE, measures.IDLE):
        observed = measures.observed(measure, together)
        shown = [labels[one.place] for one in observed]
        if len(set(shown)) == 2:
            comparisons.append(compare_groups(measure, observed, shown, later=names[1]))
    changes = [change for comparison in comparisons for change in comparison.changes]
    changes.sort(key=lambda change: not change.more_than_noise)
    return CompareAnswer(
        earlier=names[0],
        later=names[1],
        mows=(len(sides[0]), len(sides[1])),
        comparisons=tuple(comparisons),
        sentences=tuple(change.sentence for change in changes),
        why=Why(
            parts=(
                Part(f"mows {names[0]}", str(len(sides[0]))),
                Part(f"mows {names[1]}", str(len(sides[1]))),
            ),
            assumptions=(
                "Energy and pace are compared after allowing for moisture, growth, lawn and temperature.",
                "Anything else that changed between the groups counts as part of the change.",
            ),
            cautions=(BLADES,),
        ),
    )


@dataclass(frozen=True)
class Proposed:
    """A comparison that the logbook itself suggests: what changed, since when, and the question."""

    words: str
    since: date
    question: CompareQuestion


def proposed_comparisons(logbook: Logbook) -> tuple[Proposed, ...]:
    """A proposal for each day of care and each tag with mows on both sides, the latest change first."""
    dated = [(mow, mow.started.date()) for mow in mows(logbook) if mow.started is not None]
    if not dated:
        return ()
    cared = {event.day: event.words or event.kind for event in events_of(logbook)}
    for machine in machines(logbook):
        cared |= {day: f"blade care of {machine.name}" for day in machine.blade_care if day not in cared}
    found = [
        Proposed(words, day, CompareQuestion(changed_on=day))
        for day, words in cared.items()
        if dated[0][1] < day <= dated[-1][1]
    ]
    for tag in {tag for mow, _ in dated for tag in mow.tags} - ENDS:
        tagged = [day for mow, day in dated if tag in mow.tags]
        if len(tagged) < len(dated):
            found.append(Proposed(tag, tagged[0], CompareQuestion(tag=tag)))
    return tuple(sorted(found, key=lambda each: (each.since, each.words), reverse=True))


def _mend(dated: Sequence[tuple[MowRecord, date]], tag: str | None) -> str:
    tags = sorted({each for mow, _ in dated for each in mow.tags})
    if not dated:
        return "add some, each with its date"
    if tag is None:
        return f"there are mows from {dated[0][1]} to {dated[-1][1]}"
    if not tags or tag in tags:
        return "give some mows a tag, and others none"
    near = get_close_matches(tag or "", tags, n=1)
    return f"did you mean {near[0]!r}?" if near else f"tags of these mows: {', '.join(map(repr, tags))}"


def _names(question: CompareQuestion) -> tuple[str, str]:
    if (question.tag is None) == (question.changed_on is None):
        raise InputError("what to compare is not given", mend="give a tag or the day of a change, not both")
    if question.tag is not None:
        return f"without '{question.tag}'", f"with '{question.tag}'"
    return f"before {question.changed_on}", f"from {question.changed_on} on"
