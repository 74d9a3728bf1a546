"""The first page: what to do next, the latest mow, what is left, today's lawns.

Also finds the latest mows without reading all of them.
"""

from __future__ import annotations

import sqlalchemy as sa
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers.charge_curve import ChargeOfMow, charge_of_mow
from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.looking_back.compare import Proposed, groups_compared, proposed_comparisons
from estimator.errors import InputError
from estimator.logbook import Logbook, MowRecord, lawns, mow, mow_count, packs
from estimator.logbook.tables import mows as mow_table
from estimator.page.door.pending import all_waiting
from estimator.page.remembered import StillWorking, remembered
from estimator.page.showing.rendering import REST, WAYS, page
from estimator.report.words.season_text import compared_in_short


def _shed(request: Request) -> Response:
    book = request.app.state.book
    latest, count = latest_mow(book), mow_count(book)
    mown = last_mown(book)
    return page(
        request, "shed.html",
        packs=packs(book), latest=latest, mow_count=count,
        charge=_charge_left(request, latest) if latest else None, mown=mown,
        lawns=sorted(lawns(book), key=lambda each: mown.get(each.name, "")),
        changed=_changed(request) if count else None,
        waiting=len(all_waiting(request.app.state.settings.pending_folder)),
        figures=features_of_mows(book, [latest])[latest.id] if latest else None,
    )  # fmt: skip


def _changed(request: Request) -> tuple[Proposed, str] | None:
    """The latest change, by tag or day of care, and its effect; the first page does not wait for it."""
    try:
        proposed = remembered(request, proposed_comparisons)[:1]
    except StillWorking:
        return None
    for each in proposed:
        try:
            told = compared_in_short(remembered(request, groups_compared, each.question))
        except StillWorking:
            told = "it is being compared"
        except InputError:
            told = ""
        return each, told
    return None


def _charge_left(request: Request, latest: MowRecord) -> ChargeOfMow | None:
    try:
        return remembered(request, charge_of_mow, latest.id)
    except (InputError, StillWorking):  # the first page does not wait
        return None


def _more(request: Request) -> Response:
    from estimator.page.screens.conversion import QUESTIONS

    tiles = [way for way in WAYS if "wide-only" in way.where and way.path != "/conversion"]
    return page(request, "more.html", tiles=[*tiles, *REST], questions=QUESTIONS.values())


ROUTES = [Route("/", _shed), Route("/more", _more)]


_IN_USE = mow_table.c.removed.is_(None)


def latest_mow(book: Logbook) -> MowRecord | None:
    """The mow that began last; None where there is none. As in lists, one without a date counts as newer."""
    newest = (mow_table.c.started.isnot(None), mow_table.c.started.desc(), mow_table.c.id.desc())
    with book.reading() as connection:
        number = connection.scalar(sa.select(mow_table.c.id).where(_IN_USE).order_by(*newest).limit(1))
    return None if number is None else mow(book, number)


def last_mown(book: Logbook) -> dict[str, str]:
    """The start of the latest mow of each lawn, as ISO text; lawns without dated mows are left out."""
    last = sa.func.max(mow_table.c.started)
    with book.reading() as connection:
        rows = connection.execute(sa.select(mow_table.c.lawn, last).where(_IN_USE).group_by(mow_table.c.lawn))
        return {lawn: started for lawn, started in rows if started is not None}
