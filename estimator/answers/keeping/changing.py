"""Change what is kept: edit, split, remove or restore a mow, note a day of blade care; check its day."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from estimator import logbook as kept
from estimator.answers.figures.mow_figures import CARE, features_of_mows
from estimator.answers.figures.mow_log import doubts, set_aside
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.keeping.proposal import begins_full
from estimator.answers.keeping.second_look import check_log
from estimator.answers.keeping.typed import the_tags
from estimator.descriptions import DOUBTFUL, Lawn, Machine
from estimator.errors import InputError
from estimator.importer.log import part_of_log
from estimator.logbook import Logbook, MowRecord
from estimator.logbook.records.mow_values import HAND
from estimator.logbook.records.readings import corrected
from estimator.mow import Mow
from estimator.written import measured
from estimator.written_days import moment

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures
    from estimator.importer.log import Log

NEAR_S = 90.0
"""A pack went on where the volts leap, if that is so near [s] to the moment that a person says (common
practice)."""


def edit_mow(
    logbook: Logbook, mow: int, progress: Callable[[str], None] = lambda _: None, **edits: Any
) -> MowRecord:
    """Change what was said of a mow, keep the history, and fit again what rests on it.

    edits : as for the logbook's `edit_mow`; `hand` corrects hand readings, by their names in `SpotNotes`
    """
    from estimator.fitting.by_hand.spot_volts import with_usual_volts

    before = kept.mow(logbook, mow)
    if hand := edits.pop("hand", None):
        first = kept.examined_of(logbook, mow).log
        log = corrected(first, {**before.decisions.get(HAND, {}), **hand})
        changed = {
            name: value for name, value in vars(log.spot).items() if value != getattr(first.spot, name)
        }
        others = {name: value for name, value in before.decisions.items() if name != HAND}
        name = edits.get("pack", before.pack)
        pack = None if name is None else kept.pack(logbook, name)
        log = with_usual_volts(log, pack, edits.get("start_charge", before.start_charge))
        edits |= {
            "decisions": others | ({HAND: changed} if changed else {}),
            "notes": "\n".join((*log.notes, *doubts(log, pack), *(aside := set_aside(log, pack)))),
        }
        was = kept.log_of(logbook, mow), None if before.pack is None else kept.pack(logbook, before.pack)
        if bool(set_aside(*was)) != bool(aside):  # the tag comes and goes with the slip
            tags = [tag for tag in edits.get("tags", before.tags) if tag != DOUBTFUL]
            edits["tags"] = (*tags, *((DOUBTFUL,) if aside else ()))
    check_day(edits.get("started"), "start of the mow")
    if "tags" in edits:
        edits["tags"] = the_tags(edits["tags"])
    if edits.get("pack", before.pack) != before.pack:
        check_log(
            kept.log_of(logbook, mow), None if edits["pack"] is None else kept.pack(logbook, edits["pack"])
        )
    record = kept.edit_mow(logbook, mow, **edits)
    features_of_mows(logbook, [record])
    _refresh(logbook, {before.pack, record.pack}, progress)
    return record


def split_mow(
    logbook: Logbook,
    mow: int,
    until: float | str,
    lawn: str | None = None,
    pack: str | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> MowRecord:
    """Split a mow in two where it went on to another lawn, or with another pack; returns the second mow.

    until : minutes [min] from its start, "25 min", or a time of day such as "12:40"
    lawn, pack : from then on; None keeps that of the mow
    """
    if not lawn and not pack:
        raise InputError("neither a lawn nor a pack changes there", mend="say which lawn or pack came next")
    before = kept.mow(logbook, mow)
    log = kept.log_of(logbook, mow)
    if log.spot is not None:
        raise InputError(f"mow {mow} holds hand readings, which cannot be split", mend="add a mow a lawn")
    (at_s,) = cuts_in(log, before.started, [until])
    if pack:  # a note says the minute, and a person looks at the clock
        at_s = next((leap for leap in log.leaps_s if abs(leap - at_s) <= NEAR_S), at_s)
    second = part_of_log(log, at_s, None)
    record = kept.split_mow(logbook, mow, at_s, lawn or before.lawn, pack)
    if pack and begins_full(logbook, second, kept.pack(logbook, pack)):
        record = kept.edit_mow(logbook, record.id, start_charge=1.0)
    features_of_mows(logbook, [kept.mow(logbook, mow), record])
    _refresh(logbook, {before.pack, record.pack}, progress)
    return record


def cuts_in(log: Log, started: datetime | None, until: Sequence[float | str]) -> list[float]:
    """The seconds [s] of a log at which further lawns or packs began; InputError where they lie outside it.

    started : when the mow began, else the log's own start
    until : moments in turn, as for `split_mow`
    """
    started, end_s = started or log.started, float(log.arrays["time_s"][-1])
    cuts = [_seconds_in(each, started) for each in until]
    for said, before_s, at_s in zip(until, [0.0, *cuts], cuts, strict=False):
        if not before_s < at_s < end_s:
            began = f", which began at {started:%Y-%m-%d %H:%M}" if started else ""
            raise InputError(
                f"{said} would be minute {at_s / 60:.0f} of the log{began}; it must lie between minute "
                f"{before_s / 60:.0f} and minute {end_s / 60:.0f}",
                file=log.name,
                mend="give the minutes from its start",
            )
    return cuts


def parts_of(log: Log, cuts: Sequence[float], lawns: Sequence[Lawn]) -> list[MowFeatures]:
    """The figures of the parts of a log, cut at these seconds, each on its lawn."""
    from estimator.fitting.load.features import mow_features

    ends = zip([0.0, *cuts], [*cuts, None], lawns, strict=True)
    return [mow_features(Mow(part_of_log(log, begin, end), lawn, known=True)) for begin, end, lawn in ends]


def _seconds_in(until: float | str, started: datetime | None) -> float:
    """Seconds [s] from the start of a mow to a moment given in minutes or as a time of day."""
    if isinstance(until, float | int):
        return 60.0 * until
    with suppress(InputError):
        if ":" not in until:  # else it is a time of day
            return 60.0 * measured(until, "minutes until the next lawn", "min")
    at = moment(until, started)
    if started is None:
        raise InputError("when the mow began is not known", mend="give the minutes from its start")
    return (at - started).total_seconds()


def remove_mow(logbook: Logbook, mow: int, progress: Callable[[str], None] = lambda _: None) -> MowRecord:
    """Take a mow out of all answers; it can be restored."""
    kept.remove_mow(logbook, mow)
    record = kept.mow(logbook, mow)
    _refresh(logbook, {record.pack}, progress)
    return record


def restore_mow(logbook: Logbook, mow: int, progress: Callable[[str], None] = lambda _: None) -> MowRecord:
    """Restore a removed mow."""
    kept.restore_mow(logbook, mow)
    record = kept.mow(logbook, mow)
    _refresh(logbook, {record.pack}, progress)
    return record


def note_care(logbook: Logbook, day: date | str, words: str, machine: Machine | None = None) -> kept.Event:
    """Note a day of blade care for one machine, or for all of them."""
    with logbook.writing():
        number = kept.keep_event(logbook, day, CARE, words, machine.name if machine else None)
        noted = next(event for event in kept.events_of(logbook) if event.id == number)
        check_day(noted.day, "day of care")
    return noted


def _refresh(logbook: Logbook, packs: set[str | None], progress: Callable[[str], None]) -> None:
    for name in packs:
        if name is not None:
            fit_of_pack(logbook, kept.pack(logbook, name), progress)


FIRST_YEAR = 1990
"""Earlier dates come from a clock that was never set (common practice)."""
AHEAD = timedelta(days=1)
"""How far ahead a clock in another time zone can be, rounded up."""


def check_day(day: date | None, what: str, now: datetime | None = None) -> None:
    """Raise InputError for a day in the future, and for one before FIRST_YEAR.

    >>> check_day(datetime(2025, 5, 1, 9), "start of the mow", now=datetime(2025, 5, 1, 8))
    >>> check_day(date(2035, 5, 1), "start of the mow", now=datetime(2025, 5, 1, 8))
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: start of the mow is 2035-05-01, which is in the future; check the year (today
    is 2025-05-01 by this computer's clock)
    """
    if day is None:
        return
    on = day.date() if isinstance(day, datetime) else day
    if on.year < FIRST_YEAR:
        raise InputError(f"{what} is {on}, before {FIRST_YEAR}", mend="check the year")
    now = now or datetime.now()
    if on > (now + AHEAD).date():
        raise InputError(
            f"{what} is {on}, which is in the future",
            mend=f"check the year (today is {now:%Y-%m-%d} by this computer's clock)",
        )
