"""The rest of the conversion: cable, limits, motor, charging, cost and care, from the measured load."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers import charging_time as charging
from estimator.answers import conversion as answers
from estimator.conversion import cautions
from estimator.conversion.bands import Band
from estimator.logbook import Logbook, lawns, machines, mow_count, packs
from estimator.page.door.forms import (
    Fields,
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
from estimator.page.screens.answering import NOT_ASKED, asked, tried
from estimator.page.screens.conversion_result import Beside, Result, Row
from estimator.page.showing.rendering import pack_links, page
from estimator.page.showing.words import sentence
from estimator.report.words.conversion_text import further_limits


@dataclass(frozen=True)
class Question:
    """One question: its address, its name, what it tells, how it is asked, and what to take care of."""

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
    figures = found.figures
    sizes = tuple(
        Beside(
            each.size,
            _rows(
                ("lost at the peak", each.drop_peak_v, "V"),
                ("of the energy", _percent(each.loss_share), "%"),
                ("lost per charge", each.minutes_lost, "min"),
            ),
        )
        for each in (figures.fitted, *figures.others)
    )
    lost = _rows((f"lost per mow in {figures.fitted.size}", figures.fitted.loss_wh, "Wh"))
    return Result(figures.verdict, lost, (), found.mows, found.why, sizes)


def _limits(book: Logbook, sent: Sent) -> Result:
    found = answers.limits_of_mows(
        book,
        pack=sent.text("pack") or None,
        **amounts_of(sent, "fuse_a", "management_a", "management_s", "controller_a", "clamp_highest_a"),
    )
    rows = _rows(*(
        ("whole mow" if each.seconds is None else f"highest over {each.seconds:g} s"
         + (", at least" if each.between_s else ""), each.measured_a, "A",
         f"next mow {each.next_mow_a.low:.0f} to {each.next_mow_a.high:.0f} A")
        for each in found.figures.peaks
    ))  # fmt: skip
    more = tuple(sentence(each) for each in further_limits(found.figures))
    return Result(found.figures.verdict, rows, more, found.mows, found.why)


def _motor(book: Logbook, sent: Sent) -> Result:
    found = answers.motor_of_mows(
        book,
        machine=sent.text("machine") or None,
        rated_w=number_of(sent, "rated_w", "rating of the motor"),
        engine_hp=amount_of(sent, "engine_hp"),
    )
    figures = found.figures
    rows = _rows(
        ("running free", figures.idle_w, "W", "electrical"),
        ("typical while mowing", figures.typical_w, "W", "electrical"),
        ("highest second", figures.peak_w, "W", "electrical"),
        ("typical at the shaft", figures.shaft_w, "W"),
        ("loading of this motor, typical", _percent(figures.loading), "%"),
        ("loading of this motor, peak", _percent(figures.peak_loading), "%"),
        ("of the old engine's power", _percent(figures.of_engine), "%"),
        ("a motor that would be loaded to 80 %", figures.loaded_80_w, "W"),
        ("a motor that would be loaded to 60 %", figures.loaded_60_w, "W"),
    )
    return Result(figures.verdict, rows, (), found.mows, found.why)


def _charging(book: Logbook, sent: Sent) -> Result:
    found = charging.charging_after(
        book,
        lawns_in_order(sent),
        pack=sent.text("pack") or None,
        **amounts_of(sent, "charger_w", "charger_a", "pause_minutes", "used_ah"),
    )
    refill, pause = found.figures.refill, found.figures.pause
    rows = _rows(
        ("until full", refill.minutes, "min"),
        ("until 90 %", refill.minutes_to_90, "min"),
        ("at constant current", refill.bulk_minutes, "min"),
        ("tapering off", refill.taper_minutes, "min"),
        ("into the pack", refill.pack_wh, "Wh"),
        ("from the socket", refill.mains_wh, "Wh"),
        ("the pack is then warmer than the air by", found.figures.warmer_k, "°C"),
        ("the break gives back", pause.ah if pause else None, "Ah"),
        ("which mows for", pause.mowing_minutes if pause else None, "min"),
    )
    full, used_ah = refill.minutes.value, found.figures.used_ah
    line = f"Full again about {full:.0f} minutes after {used_ah:.1f} Ah were used."
    return Result(line, rows, (), found.mows, found.why)


def _cost(book: Logbook, sent: Sent) -> Result:
    found = charging.cost_of_mowing(
        book,
        lawns_in_order(sent),
        price_per_kwh=needed_amount(sent, "price_per_kwh"),
        pack=sent.text("pack") or None,
        **amounts_of(sent, "mows_per_season", "pack_price", "cycles"),
        **amounts_of(sent, "petrol_price_per_l", "petrol_l_per_mow", "petrol_l_per_hour"),
    )
    figures = found.figures
    kinds = (
        ("electricity", figures.electricity), ("wear of the pack", figures.wear), ("petrol", figures.petrol)
    )  # fmt: skip
    rows = _rows(
        *((f"{name}, {what}", band, "") for name, cost in kinds if cost is not None for what, band in
          (("one mow", cost.per_mow), ("a season", cost.per_season), ("1\u00a0000 m²", cost.per_1000_m2))),
        ("saved in a season", figures.saved_per_season, ""),
    )  # fmt: skip
    mow = figures.electricity.per_mow
    return Result(f"Mowing these lawns once costs about {mow.value:.2g} in electricity.", rows,
                  ("All in the currency of the prices you gave.",), found.mows, found.why)  # fmt: skip


def _care(book: Logbook, sent: Sent) -> Result:
    found = answers.care_of_machine(book, machine=sent.text("machine") or None)
    trends = [each for each in (found.figures.idle, found.figures.energy) if each is not None]
    more = (
        *(sentence(each.sentence) for each in trends),
        *(
            []
            if found.figures.since
            else ["No day of blade care is noted yet; note it under Equipment and lawns."]
        ),
    )
    return Result(found.figures.verdict, (), more, found.mows, found.why)


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
    result, problem = tried(lambda: remembered(request, question.ask, sent)) if is_asked else NOT_ASKED
    return page(
        request, f"conversion_{question.name}.html",
        problem=problem, question=question, result=result,
        values=Fields(sent.fields), chosen=sent.all("lawn"), empty=not mow_count(book),
        lawns=lawns(book), packs=packs(book), machines=machines(book),
        switch=pack_links(request, packs(book), sent.text("pack")) if question.of_pack else (),
    )  # fmt: skip


def _rows(*figures: tuple[str, Band | None, str] | tuple[str, Band | None, str, str]) -> tuple[Row, ...]:
    """Figures by name, each with its unit and perhaps a note; those that are not known are left out."""
    return tuple(
        Row(name, band.value, unit, band.low, band.high, *note)
        for name, band, unit, *note in figures
        if band is not None
    )


def _percent(share: Band | None) -> Band | None:
    return None if share is None else share.times(100)


ROUTES: list[Any] = [Route("/conversion", _overview), Route("/conversion/{name}", _one)]
