"""Look back: seasons compared, before and after a change, the pack's life, track record, reports."""

from __future__ import annotations

from datetime import date
from functools import partial

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from estimator.answers.charge_curve import charge_of_mow
from estimator.answers.figures.mow_log import log_of_mow
from estimator.answers.looking_back.compare import (
    CompareQuestion,
    Proposed,
    groups_compared,
    proposed_comparisons,
)
from estimator.answers.looking_back.pack_life import PackLifeAnswer, pack_life
from estimator.answers.looking_back.seasons import seasons_compared
from estimator.answers.looking_back.track_record import record_so_far
from estimator.answers.mow import story_of_mow
from estimator.errors import InputError
from estimator.logbook import mow_count
from estimator.page.door.forms import Sent, amount_or, sent_query
from estimator.page.questions import grass_of, lawns_in_order
from estimator.page.remembered import remembered
from estimator.page.screens.answering import answer_page, asked, tried
from estimator.page.showing.decision_fields import labelled
from estimator.report.pictures.season_pictures import (
    compare_picture,
    pack_life_picture,
    record_picture,
    seasons_picture,
)
from estimator.report.printable import STYLE_SOURCE, mow_report, printable
from estimator.report.sections import sections_of
from estimator.report.words.season_text import charge_alone_words
from estimator.written_days import moment


def _seasons(request: Request) -> Response:
    sent = asked(request)
    return answer_page(
        request, "seasons.html", sent,
        (lambda: remembered(request, seasons_compared, sent.text("pack") or None))
        if mow_count(request.app.state.book) else None,
        lambda answer: seasons_picture(answer) if answer.curves else None,
    )  # fmt: skip


def _life(request: Request) -> Response:
    sent, is_asked = asked(request), mow_count(request.app.state.book)

    def ask() -> PackLifeAnswer:
        pack, sure = sent.text("pack") or None, amount_or(sent, "sure", 0.90)
        return remembered(request, pack_life, lawns_in_order(sent), pack, grass_of(sent), sure)

    return answer_page(
        request, "life.html", sent, ask if is_asked else None, pack_life_picture,
        charge_alone=charge_alone_words,
    )  # fmt: skip


def _compare(request: Request) -> Response:
    """Two groups compared; where none is named, before and after the latest change in the logbook."""
    sent, proposed = sent_query(request), remembered(request, proposed_comparisons)
    is_asked = sent.text("tag") or sent.text("changed_on")
    usual = {} if is_asked or not proposed else fields_of(proposed[0])
    meant = Sent({**sent.fields, **usual}, sent.every)
    return answer_page(
        request, "compare.html", sent,
        (lambda: remembered(request, groups_compared, compare_question(meant)))
        if is_asked or proposed else None,
        lambda answer: compare_picture(answer) if answer.comparisons else None, of_pack=False,
        tags=sorted(each.question.tag for each in proposed if each.question.tag),
        proposed=proposed, any_mows=bool(mow_count(request.app.state.book)),
    )  # fmt: skip


def fields_of(proposed: Proposed) -> dict[str, str]:
    """A proposed comparison as the fields of the form that asks for it."""
    asked = proposed.question
    return {"tag": asked.tag} if asked.tag else {"changed_on": proposed.since.isoformat()}


def _record(request: Request) -> Response:
    ask = partial(remembered, request, record_so_far)
    return answer_page(request, "record.html", asked(request), ask, record_picture, of_pack=False)


def compare_question(sent: Sent) -> CompareQuestion:
    """Two groups of mows; InputError where neither or both of tag and day are given.

    >>> compare_question(Sent({"changed_on": "2025-06-20"}, {})).changed_on
    datetime.date(2025, 6, 20)
    """
    tag = sent.text("tag") or None
    if tag is None and not sent.text("changed_on"):
        raise InputError("what to compare is not given", mend="give tag or changed_on")
    if tag and sent.text("changed_on"):
        raise InputError(f"both tag {tag!r} and a day are given", mend="give one of them")
    return CompareQuestion(
        tag=tag,
        changed_on=_day(sent, "changed_on"),
        lawn=sent.text("only_lawn") or None,
        machine=sent.text("machine") or None,
        since=_day(sent, "since"),
        until=_day(sent, "until"),
    )


def _day(sent: Sent, name: str) -> date | None:
    text = sent.text(name)
    return moment(text).date() if text else None


POLICY = (
    f"default-src 'none'; style-src {STYLE_SOURCE}; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)


def _mow_report(request: Request) -> Response:
    book, number = request.app.state.book, request.path_params["number"]
    log = log_of_mow(book, number)
    charge = tried(lambda: charge_of_mow(book, number, log)).answer
    return _printed(mow_report(story_of_mow(book, number), charge, log), f"mow-{number}.html")


def _whole_report(request: Request) -> Response:
    pack = asked(request).text("pack") or None
    sections = sections_of(request.app.state.book, pack, labelled, partial(remembered, request))
    return _printed(
        printable(f"Report of {pack}" if pack else "Report", sections, date.today()), "report.html"
    )


def _printed(text: str, name: str) -> Response:
    headers = {"content-security-policy": POLICY, "content-disposition": f'inline; filename="{name}"'}
    return HTMLResponse(text, headers=headers)


ROUTES = [
    Route("/seasons", _seasons),
    Route("/life", _life),
    Route("/compare", _compare),
    Route("/record", _record),
    Route("/mows/{number:int}/report", _mow_report),
    Route("/seasons/report", _whole_report),
]
