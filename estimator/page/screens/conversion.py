"""Other questions of a conversion: cable, limits, motor, charging, cost and care, by the measured load."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers import charging_time as charging
from estimator.answers import conversion as answers
from estimator.answers.why import Why
from estimator.conversion import cautions
from estimator.logbook import Logbook, mow_count
from estimator.page.door.forms import (
    Sent,
    amount_of,
    amount_or,
    amounts_of,
    needed_amount,
    needed_number,
    number_of,
)
from estimator.page.questions import lawns_in_order
from estimator.page.remembered import remembered
from estimator.page.screens.answering import answer_page, asked
from estimator.page.showing.rendering import page
from estimator.page.showing.words import sentence
from estimator.report.words import conversion_text as words


@dataclass(frozen=True)
class Result:
    """The parts of an answer: a verdict, figures by name, further sentences, a table."""

    verdict: str
    mows: int
    why: Why
    rows: Sequence[tuple[str, str]] = ()
    more: Sequence[str] = ()
    table: words.Figures | None = None


@dataclass(frozen=True)
class Question:
    """One question: its address and name, what its answer tells, how it is asked, what to take care of."""

    name: str
    title: str
    lead: str
    ask: Callable[[Logbook, Sent], Result]
    needs: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    of_pack: bool = True


def _cable(book: Logbook, sent: Sent) -> Result:
    found = answers.cable_of_mows(
        book,
        sent.text("size"),
        needed_number(sent, "one_way_m", "length one way"),
        pack=sent.text("pack") or None,
        limit_a=amount_of(sent, "limit_a"),
        copper_c=amount_or(sent, "copper_c", 40.0),
    )
    table = words.cable_figures(found.figures)
    return Result(found.figures.verdict, found.mows, found.why, table=table)


def _limits(book: Logbook, sent: Sent) -> Result:
    found = answers.limits_of_mows(
        book,
        pack=sent.text("pack") or None,
        **amounts_of(sent, "fuse_a", "management_a", "management_s", "controller_a", "clamp_highest_a"),
    )
    rows, more = words.limits_rows(found.figures), map(sentence, words.further_limits(found.figures))
    return Result(found.figures.verdict, found.mows, found.why, rows, tuple(more))


def _motor(book: Logbook, sent: Sent) -> Result:
    found = answers.motor_of_mows(
        book,
        machine=sent.text("machine") or None,
        rated_w=number_of(sent, "rated_w", "rating of the motor"),
        engine_hp=amount_of(sent, "engine_hp"),
    )
    return Result(found.figures.verdict, found.mows, found.why, words.motor_rows(found.figures))


def _charging(book: Logbook, sent: Sent) -> Result:
    found = charging.charging_after(
        book,
        lawns_in_order(sent),
        pack=sent.text("pack") or None,
        **amounts_of(sent, "charger_w", "charger_a", "pause_minutes", "used_ah"),
    )
    line, rows = words.charging_line(found.figures), words.charging_rows(found.figures)
    return Result(line, found.mows, found.why, rows)


def _cost(book: Logbook, sent: Sent) -> Result:
    found = charging.cost_of_mowing(
        book,
        lawns_in_order(sent),
        price_per_kwh=needed_amount(sent, "price_per_kwh"),
        pack=sent.text("pack") or None,
        **amounts_of(sent, "mows_per_season", "pack_price", "cycles"),
        **amounts_of(sent, "petrol_price_per_l", "petrol_l_per_mow", "petrol_l_per_hour"),
    )
    once = found.figures.electricity.per_mow.value
    line = f"Mowing these lawns once costs about {once:.2g} in electricity; {words.COST_LINE.lower()}."
    more = [saved] if (saved := words.saved_line(found.figures)) else []
    return Result(line, found.mows, found.why, more=more, table=words.cost_figures(found.figures))


def _care(book: Logbook, sent: Sent) -> Result:
    found = answers.care_of_machine(book, machine=sent.text("machine") or None)
    undated = "No day of blade care is noted yet; note it under Equipment and lawns."
    more = [*words.care_lines(found.figures), *([] if found.figures.since else [undated])]
    return Result(found.figures.verdict, found.mows, found.why, more=[sentence(each) for each in more])


QUESTIONS = {
    each.name: each
    for each in (
        Question("cable", "Feed cable", "Volts, energy and minutes that the cable costs.", _cable, ("size",),
                 (cautions.WIRING,)),
        Question("limits", "Fuse and limits", "Measured peaks compared with fuse and controller.", _limits,
                 cautions=(cautions.FUSES,)),
        Question("motor", "Motor", "Measured load compared with the motor and the old engine.", _motor,
                 cautions=(cautions.MOTOR,), of_pack=False),
        Question("charging", "Charging", "Minutes and energy to refill, and what a break gives.", _charging,
                 ("charger_w", "charger_a"), (cautions.CHARGING,)),
        Question("cost", "Cost", "What mowing costs, compared with petrol.", _cost, ("price_per_kwh",)),
        Question("care", "Care", "Trends that suggest a look at blades, knives or bearings.", _care,
                 cautions=(cautions.BLADES,), of_pack=False),
    )
}  # fmt: skip


def _overview(request: Request) -> Response:
    return page(request, "conversion.html", questions=QUESTIONS.values())


def _one(request: Request) -> Response:
    question = QUESTIONS.get(request.path_params["name"])
    if question is None:
        raise HTTPException(404)
    book, sent = request.app.state.book, asked(request)
    is_asked = mow_count(book) and (not question.needs or any(sent.text(name) for name in question.needs))
    ask = (lambda: remembered(request, question.ask, sent)) if is_asked else None
    return answer_page(
        request, "conversion_one.html", sent, ask, of_pack=question.of_pack,
        question=question, empty=not mow_count(book),
    )  # fmt: skip


ROUTES: list[Any] = [Route("/conversion", _overview), Route("/conversion/{name}", _one)]
