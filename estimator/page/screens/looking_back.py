"""Looking back: seasons overlaid, before and after a change, how long the pack will do, track record."""

from __future__ import annotations

from datetime import date
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers.compare import CompareQuestion, Proposed, groups_compared, proposed_comparisons
from estimator.answers.pack_life import PackLifeAnswer, pack_life
from estimator.answers.seasons import seasons_compared
from estimator.answers.track_record import record_so_far
from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.logbook import Logbook, lawns, machines, mow_count, packs
from estimator.page.door.forms import Fields, Sent, amount_of, sent_query
from estimator.page.questions import grass_of, lawns_in_order
from estimator.page.remembered import remembered
from estimator.page.screens.answering import asked
from estimator.page.showing.rendering import pack_links, page
from estimator.page.showing.words import sentence
from estimator.report.pictures.compare_picture import compare_picture
from estimator.report.pictures.pack_life_picture import pack_life_picture
from estimator.report.pictures.picture import page_picture
from estimator.report.pictures.record_picture import record_picture
from estimator.report.pictures.seasons_picture import seasons_picture
from estimator.written_days import moment


def _seasons(request: Request) -> Response:
    book, sent = request.app.state.book, asked(request)
    answer, drawn, problem = None, None, None
    if mow_count(book):
        try:
            answer = remembered(request, seasons_compared, sent.text("pack") or None)
            drawn = page_picture(seasons_picture(answer)) if answer.curves else None
        except InputError as error:
            problem = sentence(error)
    return page(
        request, "seasons.html",
        status=422 if problem else 200, problem=problem, answer=answer, drawn=drawn,
        switch=pack_links(request, packs(book), answer.pack if answer else sent.text("pack")),
    )  # fmt: skip


def _life(request: Request) -> Response:
    book, sent = request.app.state.book, asked(request)
    answer, problem = None, None
    if mow_count(book):
        try:
            sure = amount_of(sent, "sure") or 0.90
            question = (lawns_in_order(sent), sent.text("pack") or None, grass_of(sent), sure)
            answer = remembered(request, life_of_pack, *question)
        except InputError as error:
            problem = sentence(error)
    return page(
        request, "life.html",
        status=422 if problem else 200, problem=problem, answer=answer,
        drawn=page_picture(pack_life_picture(answer)) if answer else None,
        values=Fields(sent.fields), chosen=sent.all("lawn"), lawns=lawns(book), packs=packs(book),
        switch=pack_links(request, packs(book), answer.pack if answer else sent.text("pack")),
    )  # fmt: skip


def life_of_pack(
    book: Logbook, lawns: tuple[str, ...], pack: str | None, grass: Grass, sure: float
) -> PackLifeAnswer:
    """How long the pack will last, asked in one order of arguments."""
    return pack_life(book, lawns, pack=pack, grass=grass, sure=sure)


def _compare(request: Request) -> Response:
    """Two groups; where none is named, those of the latest change that the logbook knows of."""
    book, sent = request.app.state.book, sent_query(request)
    answer, problem = None, None
    proposed = remembered(request, proposed_comparisons)
    if not (sent.text("tag") or sent.text("changed_on")) and proposed:
        sent = Sent({**sent.fields, **fields_of(proposed[0])}, sent.every)
    if sent.text("tag") or sent.text("changed_on"):
        try:
            answer = remembered(request, groups_compared, compare_question(sent))
        except InputError as error:
            problem = sentence(error)
    return page(
        request, "compare.html",
        status=422 if problem else 200, problem=problem, answer=answer,
        drawn=page_picture(compare_picture(answer)) if answer and answer.comparisons else None,
        values=Fields(sent.fields), tags=sorted(each.question.tag for each in proposed if each.question.tag),
        proposed=[(each, urlencode(fields_of(each))) for each in proposed],
        lawns=lawns(book), machines=machines(book),
    )  # fmt: skip


def fields_of(proposed: Proposed) -> dict[str, str]:
    """A proposed comparison as the fields of the form that asks it."""
    asked = proposed.question
    return {"tag": asked.tag} if asked.tag else {"changed_on": proposed.since.isoformat()}


def _record(request: Request) -> Response:
    answer, reason = None, None
    try:
        answer = remembered(request, record_so_far)
    except InputError as error:
        reason = sentence(error)
    return page(
        request, "record.html", answer=answer, reason=reason,
        drawn=page_picture(record_picture(answer)) if answer else None,
    )  # fmt: skip


def compare_question(sent: Sent) -> CompareQuestion:
    """Two groups of mows; where both a tag and a day are given, the tag counts.

    >>> compare_question(Sent({"changed_on": "2025-06-20"}, {})).changed_on
    datetime.date(2025, 6, 20)
    """
    tag = sent.text("tag") or None
    if tag is None and not sent.text("changed_on"):
        raise InputError("what to compare is not said", mend="give tag or changed_on")
    return CompareQuestion(
        tag=tag,
        changed_on=None if tag else _day(sent, "changed_on"),
        lawn=sent.text("only_lawn") or None,
        machine=sent.text("machine") or None,
        since=_day(sent, "since"),
        until=_day(sent, "until"),
    )


def _day(sent: Sent, name: str) -> date | None:
    text = sent.text(name)
    return moment(text).date() if text else None


ROUTES = [
    Route("/seasons", _seasons),
    Route("/life", _life),
    Route("/compare", _compare),
    Route("/record", _record),
]
