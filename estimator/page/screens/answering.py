"""Answers: minutes left with or without a log, lawns today, which pack to buy, grass."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Generic, TypeVar

from matplotlib.figure import Figure
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers.capacity import capacity_to_buy
from estimator.answers.grass import grass_told
from estimator.answers.minutes import MinutesAnswer, minutes_of_files
from estimator.answers.minutes_by_hand import minutes_of_notes
from estimator.answers.plan import plan_of_day
from estimator.errors import InputError, NotYet
from estimator.logbook import lawns, machines, mow_count, packs
from estimator.mends import worded_for
from estimator.page.door.forms import Fields, Sent, sent_query, takes_form
from estimator.page.door.pending import get_upload, put_upload
from estimator.page.questions import capacity_question, minutes_question, plan_question
from estimator.page.remembered import remembered
from estimator.page.screens.first_page import latest_mow
from estimator.page.settings import PageSettings
from estimator.page.showing.decision_fields import DECISIONS, labelled_below
from estimator.page.showing.decisions import examine_upload
from estimator.page.showing.hand_readings import RARER_WORDS, SPOT_WORDS, needed_readings, without_file
from estimator.page.showing.rendering import go_to, pack_links, page
from estimator.page.showing.words import sentence
from estimator.report.pictures.answer_pictures import margin_picture, minutes_picture
from estimator.report.pictures.picture import page_picture
from estimator.report.words.answer_text import (
    causes_words,
    in_use_words,
    limit_words,
    saving_words,
    stopped_words,
)

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Tried(Generic[Answer]):
    """An answer, or why there is none: what is wrong with what was sent, or missing in the logbook."""

    answer: Answer | None = None
    problem: str | None = None
    missing: str | None = None


def tried(ask: Callable[[], Answer] | None, said: Callable[[InputError], str] = sentence) -> Tried[Answer]:
    """The answer or why there is none; neither where nothing is asked."""
    try:
        return Tried(ask() if ask else None)
    except NotYet as error:
        return Tried(missing=said(error))
    except InputError as error:
        return Tried(problem=said(error))


def answer_page(
    request: Request,
    template: str,
    sent: Sent,
    ask: Callable[[], Any] | None,
    draw: Callable[[Any], Figure | None] | None = None,
    said: Callable[[InputError], str] = sentence,
    of_pack: bool = True,
    **figures: Any,
) -> Response:
    """The form of a question as it was sent, with the answer and its picture, or why there is none.

    ask : gives the answer; None where nothing is asked yet; of_pack : whether another pack may be chosen
    """
    book = request.app.state.book
    found: Tried[Any] = tried(ask, said)
    answer = found.answer
    drawn = draw(answer) if draw and answer else None
    pack = getattr(answer, "pack", None) or sent.text("pack")
    return page(
        request, template, **vars(found),
        drawn=page_picture(drawn) if drawn else None,
        stopped=stopped_words(getattr(answer, "stops", ())),
        causes=causes_words(getattr(answer, "doubts", ()), saving_words(getattr(answer, "saving", None))),
        values=Fields(sent.fields), chosen=sent.all("lawn"),
        lawns=lawns(book), packs=packs(book), machines=machines(book),
        switch=pack_links(request, packs(book), pack) if of_pack else (), **figures,
    )  # fmt: skip


def _about_lawns(
    request: Request, template: str, answer: Callable[..., Any], question: Callable[[Sent], Any], *drawn: Any,
    **figures: Any,
) -> Response:  # fmt: skip
    sent = asked(request)
    is_asked = mow_count(request.app.state.book) or sent.all("lawn")
    ask = (lambda: remembered(request, answer, question(sent))) if is_asked else None
    return answer_page(request, template, sent, ask, *drawn, **figures)


def _lawns(request: Request) -> Response:
    return _about_lawns(request, "lawns.html", plan_of_day, plan_question)


def _capacity(request: Request) -> Response:
    return _about_lawns(
        request,
        "capacity.html",
        capacity_to_buy,
        capacity_question,
        margin_picture,
        saving=saving_words,
        limit=limit_words,
        in_use=in_use_words,
    )


def _minutes(request: Request) -> Response:
    book = request.app.state.book
    return page(request, "minutes.html", latest=latest_mow(book), packs=packs(book))


def _take_log(request: Request, sent: Sent) -> Response:
    settings: PageSettings = request.app.state.settings
    if not sent.files:
        raise InputError("no file was chosen", mend="choose the log so far")
    key = put_upload(settings.pending_folder, sent.files, {"asked": "minutes"})
    return go_to(f"/minutes/{key}?start_charge={'100' if sent.text('full') else ''}")


def _minutes_left(request: Request) -> Response:
    book, settings = request.app.state.book, request.app.state.settings
    upload, sent = get_upload(settings.pending_folder, request.path_params["key"]), asked(request)

    def ask() -> MinutesAnswer:
        examine_upload(request, upload.files, upload.said)
        answer = minutes_of_files(book, minutes_question(sent, upload.files))
        return replace(answer, remarks=worded_for(answer.remarks, labelled_below))

    return answer_page(
        request, "minutes_left.html", sent, ask, minutes_picture, upload=upload, gaps=DECISIONS["gaps"]
    )


def asked(request: Request) -> Sent:
    """The fields of the address; without a pack, with the pack of the latest mow."""
    sent, usual = sent_query(request), latest_mow(request.app.state.book)
    if sent.text("pack") or usual is None or usual.pack is None:
        return sent
    return Sent({**sent.fields, "pack": usual.pack}, sent.every)


NOW_WORDS = {
    "typical_a": SPOT_WORDS["typical_a"],
    "minutes": ("Minutes mown so far", "by the watch"),
    "start_charge": ("Charge at the start, %", "100 straight from the charger; blank if unknown"),
    "load_v": ("Volts while mowing", "blank if not read"),
    "rest_before_v": ("Volts at rest, before", "blank if not read"),
}
"""Label and hint of the fields that are shown first; the rest is folded away."""
MORE_WORDS = {
    "idle_a": SPOT_WORDS["idle_a"],
    "highest_a": SPOT_WORDS["highest_a"],
    "mean_a": RARER_WORDS["mean_a"],
    "rest_after_v": ("Volts at rest, now", "some minutes after mowing"),
    "rested_minutes": ("Minutes at rest", "before those volts were read"),
    "gauge_before": RARER_WORDS["gauge_before"],
    "gauge_after": ("Charge gauge now, %", "if the pack has one"),
    "temperature_c": ("Air temperature, °C", ""),
}


def _minutes_now(request: Request) -> Response:
    book, sent = request.app.state.book, asked(request)

    def ask() -> MinutesAnswer:
        return minutes_of_notes(book, needed_readings(sent), minutes_question(sent))

    is_asked = any(sent.text(name) for name in (*NOW_WORDS, *MORE_WORDS))
    return answer_page(
        request, "minutes_now.html", sent, ask if is_asked else None,
        said=without_file, now=NOW_WORDS, more=MORE_WORDS,
    )  # fmt: skip


ROUTES = [
    Route("/lawns", _lawns),
    Route("/capacity", _capacity),
    Route("/grass", lambda request: page(request, "grass.html", answer=remembered(request, grass_told))),
    Route("/minutes", _minutes),
    Route("/minutes", takes_form(_take_log), methods=["POST"]),
    Route("/minutes/by-hand", _minutes_now),
    Route("/minutes/{key}", _minutes_left),
]
