"""An upload as it would be kept now: what is read of it, and what is doubtful about it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256

from starlette.requests import Request

from estimator.answers.figures.mow_log import doubts
from estimator.answers.keeping.keep import Circumstances
from estimator.answers.keeping.read_mow import ReadMow, read_mow
from estimator.answers.keeping.twins import twins_caution
from estimator.contradictions import check_log_of_pack
from estimator.errors import InputError
from estimator.importer.log import Log
from estimator.logbook import lawns, mow, packs
from estimator.page.door.forms import Sent
from estimator.page.questions import said_of_mow
from estimator.page.showing.decision_fields import labelled_below
from estimator.page.showing.decisions import decisions_of, meters_of
from estimator.page.showing.words import sentence


@dataclass(frozen=True)
class AsKept:
    """The mow that an upload would be, and every doubt about it, a sentence each.

    read : None where it could not be kept with what is said of it, or its readings alone are doubted
    """

    read: ReadMow | None
    doubts: tuple[str, ...]


def as_kept(
    request: Request, files: Sequence[tuple[str, bytes]], said: Mapping[str, str], log: Log
) -> AsKept:
    """An upload with what is said of it, which is read in full only where its readings can be believed.

    log : its readings; where no lawn is given yet, any lawn does, since no doubt rests on it
    """
    from estimator.fitting.by_hand.spot_volts import with_usual_volts

    book = request.app.state.book
    pack = next((each for each in packs(book) if each.name == said.get("pack")), None)
    if pack is None:
        return AsKept(None, (*log.doubts,))
    log = with_usual_volts(log, pack)
    try:
        check_log_of_pack(log, pack)
    except InputError as error:
        return AsKept(None, (sentence(error, labelled_below), *log.doubts))
    if odd := (*log.doubts, *doubts(log, pack)):
        return AsKept(None, odd)
    known = [each.name for each in lawns(book)]
    lawn = said.get("lawn") or next(iter(known), "")
    try:
        read = read_mow(book, files, circumstances(Sent({**said, "lawn": lawn}, {}), said))
    except InputError:
        return AsKept(None, ())
    sums = {sha256(content).hexdigest() for _, content in files}  # the same bytes are never kept twice
    twins = tuple(each for each in read.twins if not any(one.sha256 in sums for one in mow(book, each).files))
    return AsKept(read, (*twins_caution(twins), *read.doubts))


def circumstances(sent: Sent, said: Mapping[str, str]) -> Circumstances:
    """What a form says of a mow besides its files; `said` is what it says about how to read them."""
    return Circumstances(**said_of_mow(sent), decisions=decisions_of(said), meters=meters_of(said))
