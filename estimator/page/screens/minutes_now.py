"""Minutes left without a log: a short form for what the clamp, the voltmeter and the watch say now."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers.minutes_by_hand import minutes_of_notes
from estimator.errors import InputError
from estimator.logbook import lawns, packs
from estimator.page.door.forms import Fields
from estimator.page.questions import minutes_question
from estimator.page.screens.answering import asked
from estimator.page.showing.hand_readings import needed_readings, without_file
from estimator.page.showing.rendering import page
from estimator.report.words.answer_text import causes_words

NOW_WORDS = {
    "typical_a": ("Amps, typical", "what the clamp shows most of the time"),
    "minutes": ("Minutes mown so far", "by the watch"),
    "start_charge": ("Charge at the start, %", "100 straight from the charger; blank if unknown"),
    "load_v": ("Volts while mowing", "blank if not read"),
    "rest_before_v": ("Volts at rest, before", "blank if not read"),
}
"""What is asked for first; the rest hides behind a fold."""
MORE_WORDS = {
    "idle_a": ("Amps, blades turning free", ""),
    "highest_a": ("Amps, highest", "the MAX hold of the clamp"),
    "mean_a": ("Amps, average", "if the clamp shows AVG"),
    "rest_after_v": ("Volts at rest, now", "some minutes after mowing"),
    "rested_minutes": ("Minutes at rest", "before those volts were read"),
    "gauge_before": ("Charge gauge before, %", "if the pack has one"),
    "gauge_after": ("Charge gauge now, %", "if the pack has one"),
    "temperature_c": ("Air temperature, °C", ""),
}


def _minutes_now(request: Request) -> Response:
    book, sent = request.app.state.book, asked(request)
    answer, problem = None, None
    if any(sent.text(name) for name in (*NOW_WORDS, *MORE_WORDS)):
        try:
            answer = minutes_of_notes(book, needed_readings(sent), minutes_question(sent))
        except InputError as error:
            problem = without_file(error)
    return page(
        request, "minutes_now.html",
        status=422 if problem else 200, problem=problem, answer=answer,
        causes=causes_words(answer.doubts) if answer else "",
        now=NOW_WORDS, more=MORE_WORDS, values=Fields(sent.fields),
        opened=any(sent.text(name) for name in MORE_WORDS), lawns=lawns(book), packs=packs(book),
    )  # fmt: skip


ROUTES = [Route("/minutes/by-hand", _minutes_now)]
