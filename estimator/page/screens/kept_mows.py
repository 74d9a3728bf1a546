"""Kept mows: the list, one mow with its figures, changing it, removing it."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers.charge_curve import charge_of_mow
from estimator.answers.figures.mow_figures import figures_shown
from estimator.answers.figures.mow_log import doubts_of_mow, log_of_mow
from estimator.answers.keeping.after_mow import after_mow
from estimator.answers.keeping.changing import edit_mow, remove_mow, split_mow
from estimator.answers.minutes import MinutesAnswer, MinutesQuestion, minutes_of_log
from estimator.answers.mow import story_of_mow
from estimator.descriptions import DOUBTFUL, STOPPED_SHORT
from estimator.errors import InputError
from estimator.logbook import Logbook, MowRecord, examined_of, lawns, log_of, machines, mow, mows, packs
from estimator.logbook.records.mow_values import PART
from estimator.mends import settled
from estimator.page.door.forms import Sent, number_of, sent_query, takes_form
from estimator.page.door.pending import all_waiting
from estimator.page.questions import said_of_mow
from estimator.page.remembered import StillWorking, remembered
from estimator.page.screens.answering import tried
from estimator.page.showing.hand_readings import RARER_WORDS, SPOT_WORDS, spot_of, without_file
from estimator.page.showing.rendering import go_to, page
from estimator.page.showing.words import day, sentence
from estimator.report.pictures.answer_pictures import charge_picture, minutes_picture
from estimator.report.pictures.log_picture import log_picture
from estimator.report.pictures.picture import page_picture
from estimator.report.words.mow_text import aside_words, peak_words

PER_PAGE = 40
"""How many mows one page lists, to be scrolled with a thumb."""
MOST_OTHERS = 60
"""How many of the latest mows are offered to be drawn over this one."""
SURE = 0.95
"""The certainty that the tick on the stripes marks: that of plans where nobody gives another one."""

SETTLED = {"counts": (), "aside": (DOUBTFUL,), "short": (STOPPED_SHORT,)}
"""The tags that settle a doubtful mow, by the button for each."""


def all_mows(book: Logbook) -> list[MowRecord]:
    """Every mow in use, those that are set aside too."""
    return mows(book, doubtful=None)


def _list(request: Request) -> Response:
    book, sent = request.app.state.book, sent_query(request)
    everything = remembered(request, all_mows)
    seasons = sorted({each.started.year for each in everything if each.started}, reverse=True)
    season, lawn = sent.text("season"), sent.text("lawn")
    chosen = [
        each
        for each in everything[::-1]
        if (not lawn or each.lawn == lawn)
        and (not season or (each.started is not None and str(each.started.year) == season))
    ]
    pages = max(1, -(-len(chosen) // PER_PAGE))
    number = min(max(int(number_of(sent, "page", "page") or 1), 1), pages)
    shown = chosen[(number - 1) * PER_PAGE : number * PER_PAGE]
    return page(
        request, "mows.html", mows=shown, figures=figures_shown(book, shown), count=len(chosen),
        number=number, pages=pages, seasons=seasons, lawns=lawns(book), season=season, lawn=lawn,
        aside=aside_words(shown, "its own page", "“Count it” there"),
    )  # fmt: skip


def _one(request: Request, problem: str | None = None) -> Response:
    book, number = request.app.state.book, request.path_params["number"]
    story = story_of_mow(book, number)
    log = log_of_mow(book, number)
    whole = log.spot is None and PART not in story.record.decisions  # of a part, the marks are of the whole
    examined = examined_of(book, number) if whole else None
    rest = [each for each in remembered(request, mows)[::-1] if each.id != number][:MOST_OTHERS]
    others = [(each.id, f"{each.lawn}, {day(each.started)}") for each in rest]
    beside = sent_query(request).text("beside")
    other = next(((name, log_of_mow(book, one)) for one, name in others if str(one) == beside), None)
    tried_charge = tried(lambda: remembered(request, charge_of_mow, number))
    charge = tried_charge.answer
    return page(
        request, "mow.html",
        problem=problem, story=story, peaks=peak_words(story), mow=story.record, charge=charge,
        trouble=tried_charge.problem, drawn=page_picture(log_picture(log, examined, other)), others=others,
        beside=beside,
        curve=page_picture(charge_picture(charge)) if charge else None,
        notes=[settled(note) for note in log.notes], doubts=(*log.doubts, *doubts_of_mow(book, number, log)),
        aside=DOUBTFUL in story.record.tags, spot=log.spot and log_of(book, number).spot,
        readings={**SPOT_WORDS, **RARER_WORDS},
        lawns=lawns(book), packs=packs(book), machines=machines(book),
    )  # fmt: skip


def _kept(request: Request) -> Response:
    """Right after a mow was kept: whether it came as predicted, and what the charge left is enough for."""
    number = request.path_params["number"]
    record = mow(request.app.state.book, number)
    try:
        after = remembered(request, after_mow, number)
    except StillWorking as error:
        return page(request, "wait.html", status=202, since_s=error.since_s, first="Kept.")
    return page(
        request, "kept.html", mow=record, after=after,
        doubtful=DOUBTFUL in record.tags, sure=SURE,
        waiting=len(all_waiting(request.app.state.settings.pending_folder)),
    )  # fmt: skip


def _settle(request: Request, sent: Sent) -> Response:
    """Settle a doubtful mow with one tap: it counts, stays set aside, or is removed."""
    book, number = request.app.state.book, request.path_params["number"]
    how, tags = sent.text("how"), [tag for tag in mow(book, number).tags if tag != DOUBTFUL]
    if how == "remove":
        remove_mow(book, number)
        return go_to(f"/mows/{number}", "removed")
    if how not in SETTLED:
        raise InputError(f"how to settle it is {how[:20]!r}", mend=f"say one of {', '.join(SETTLED)}, remove")
    edit_mow(book, number, tags=(*tags, *SETTLED[how]))
    return go_to(f"/mows/{number}", how)


def minutes_after(book: Logbook, number: int) -> MinutesAnswer:
    """Minutes left at the end of a kept mow."""
    record = mow(book, number)
    question = MinutesQuestion(
        files=(), pack=record.pack, start_charge=record.start_charge, temperature_c=record.temperature_c
    )
    return minutes_of_log(book, log_of_mow(book, number), question)


def _minutes(request: Request) -> Response:
    """Minutes left at the end of a kept mow; a request of its own, because the simulation takes long."""
    book, number = request.app.state.book, request.path_params["number"]
    record, answer = mow(book, number), remembered(request, minutes_after, number)
    return page(
        request, "mow_minutes.html", mow=record, answer=answer, drawn=page_picture(minutes_picture(answer))
    )


def _change(request: Request, sent: Sent) -> Response:
    number = request.path_params["number"]
    try:
        edit_mow(request.app.state.book, number, **said_of_mow(sent))
    except InputError as error:
        return _one(request, sentence(error))
    return go_to(f"/mows/{number}", "changed")


def _split(request: Request, sent: Sent) -> Response:
    """Split a log of two lawns or packs: the second begins where the picture was touched."""
    number = request.path_params["number"]
    try:
        second = split_mow(
            request.app.state.book, number, sent.text("until"), sent.text("lawn"), sent.text("pack")
        )
    except InputError as error:
        return _one(request, sentence(error))
    return go_to(f"/mows/{second.id}", "split")


def _correct(request: Request, sent: Sent) -> Response:
    """Correct hand readings that were typed wrongly."""
    number = request.path_params["number"]
    try:
        given = {name: value for name, value in vars(spot_of(sent)).items() if value is not None}
        edit_mow(request.app.state.book, number, hand=given)
    except InputError as error:
        return _one(request, without_file(error))
    return go_to(f"/mows/{number}", "changed")


def _remove(request: Request, sent: Sent) -> Response:
    number = request.path_params["number"]
    remove_mow(request.app.state.book, number)
    return go_to(f"/mows/{number}", "removed")


ROUTES = [
    Route("/mows", _list),
    Route("/mows/{number:int}", _one),
    Route("/mows/{number:int}/minutes", _minutes),
    Route("/mows/{number:int}/kept", _kept),
    Route("/mows/{number:int}/settle", takes_form(_settle), methods=["POST"]),
    Route("/mows/{number:int}/change", takes_form(_change), methods=["POST"]),
    Route("/mows/{number:int}/split", takes_form(_split), methods=["POST"]),
    Route("/mows/{number:int}/correct", takes_form(_correct), methods=["POST"]),
    Route("/mows/{number:int}/remove", takes_form(_remove), methods=["POST"]),
]
