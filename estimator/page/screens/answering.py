"""The answers: minutes left, lawns today, which pack, grass, seasons, before and after, track record."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers.capacity import CapacityAnswer, capacity_to_buy
from estimator.answers.grass import grass_told
from estimator.answers.minutes import MinutesAnswer, minutes_of_files
from estimator.answers.plan import PlanAnswer, plan_of_day
from estimator.errors import InputError
from estimator.logbook import lawns, machines, mow_count, packs
from estimator.page.door.forms import Fields, Sent, sent_query, takes_form
from estimator.page.door.pending import get_upload, put_upload
from estimator.page.questions import capacity_question, minutes_question, plan_question
from estimator.page.remembered import remembered
from estimator.page.screens.first_page import latest_mow
from estimator.page.settings import PageSettings
from estimator.page.showing.decisions import examine_upload
from estimator.page.showing.rendering import PackLink, go_to, pack_links, page
from estimator.page.showing.words import sentence
from estimator.report.pictures.margin_picture import margin_picture
from estimator.report.pictures.minutes_picture import minutes_picture
from estimator.report.pictures.picture import page_picture
from estimator.report.words.answer_text import causes_words, saving_words


def _lawns(request: Request) -> Response:
    book, sent = request.app.state.book, asked(request)
    answer, problem = None, None
    if mow_count(book) or sent.all("lawn"):
        try:
            answer = remembered(request, plan_of_day, plan_question(sent))
        except InputError as error:
            problem = sentence(error)
    return page(
        request, "lawns.html",
        status=422 if problem else 200, problem=problem, answer=answer,
        causes=causes_words(answer.doubts) if answer else "",
        values=Fields(sent.fields), chosen=sent.all("lawn"), **_named(request),
        switch=_switch(request, sent, answer),
    )  # fmt: skip


def _capacity(request: Request) -> Response:
    book, sent = request.app.state.book, asked(request)
    answer, problem = None, None
    if mow_count(book) or sent.all("lawn"):
        try:
            answer = remembered(request, capacity_to_buy, capacity_question(sent))
        except InputError as error:
            problem = sentence(error)
    return page(
        request, "capacity.html",
        status=422 if problem else 200, problem=problem, answer=answer,
        drawn=page_picture(margin_picture(answer)) if answer else None,
        saving=saving_words(answer) if answer else "",
        causes=causes_words(answer.doubts) if answer else "",
        values=Fields(sent.fields), chosen=sent.all("lawn"), **_named(request),
        switch=_switch(request, sent, answer),
    )  # fmt: skip


def _grass(request: Request) -> Response:
    return page(request, "grass.html", answer=remembered(request, grass_told))


def _minutes(request: Request) -> Response:
    settings: PageSettings = request.app.state.settings
    latest = latest_mow(request.app.state.book)
    return page(request, "minutes.html", latest=latest, most_bytes=settings.upload_bytes, **_named(request))


def _take_log(request: Request, sent: Sent) -> Response:
    settings: PageSettings = request.app.state.settings
    if not sent.files:
        raise InputError("no file was chosen", mend="choose the log so far")
    key = put_upload(settings.pending_folder, sent.files)
    return go_to(f"/minutes/{key}?start_charge={'100' if sent.text('full') else ''}")


def _minutes_left(request: Request) -> Response:
    book, settings = request.app.state.book, request.app.state.settings
    upload, sent = get_upload(settings.pending_folder, request.path_params["key"]), asked(request)
    answer, problem = None, None
    try:
        examine_upload(request, upload.files, upload.said)
        answer = minutes_of_files(book, minutes_question(sent, upload.files))
    except InputError as error:
        problem = sentence(error)
    return page(
        request, "minutes_left.html",
        status=422 if problem else 200, problem=problem, answer=answer, upload=upload,
        drawn=page_picture(minutes_picture(answer)) if answer else None,
        causes=causes_words(answer.doubts) if answer else "",
        values=Fields(sent.fields), **_named(request), switch=_switch(request, sent, answer),
    )  # fmt: skip


def asked(request: Request) -> Sent:
    """The fields of the address; where no pack is said, the one of the latest mow."""
    sent, usual = sent_query(request), latest_mow(request.app.state.book)
    if sent.text("pack") or usual is None or usual.pack is None:
        return sent
    return Sent({**sent.fields, "pack": usual.pack}, sent.every)


def _switch(
    request: Request, sent: Sent, answer: PlanAnswer | CapacityAnswer | MinutesAnswer | None
) -> tuple[PackLink, ...]:
    return pack_links(request, packs(request.app.state.book), answer.pack if answer else sent.text("pack"))


def _named(request: Request) -> dict[str, Any]:
    book = request.app.state.book
    return {"lawns": lawns(book), "packs": packs(book), "machines": machines(book)}


ROUTES = [
    Route("/lawns", _lawns),
    Route("/capacity", _capacity),
    Route("/grass", _grass),
    Route("/minutes", _minutes),
    Route("/minutes", takes_form(_take_log), methods=["POST"]),
    Route("/minutes/{key}", _minutes_left),
]
