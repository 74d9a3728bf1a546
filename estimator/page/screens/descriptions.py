"""Show and change equipment and lawns: packs, machines, meters, lawns and days of care."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import partial
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator import logbook as kept
from estimator.amounts import AMOUNTS
from estimator.answers.keeping.changing import check_day
from estimator.answers.keeping.typed import described_names, guessed_ah
from estimator.descriptions import CHEMISTRIES, Lawn, Machine, Pack, series_of_volts, usual_cut_off_v
from estimator.errors import InputError
from estimator.logbook import Logbook
from estimator.page.door.forms import (
    Fields,
    Sent,
    amount_of,
    amount_or,
    amounts_of,
    needed_amount,
    takes_form,
)
from estimator.page.showing.rendering import go_to, page
from estimator.page.showing.words import sentence
from estimator.report.words.change_text import changed_words
from estimator.report.words.described_text import DATA_SHEET
from estimator.written import area_m2, length_m, pace_m_s, power_w

CHEMISTRY_WORDS = {
    "nmc": "NMC: most e-bike packs",
    "nca": "NCA: high-capacity cells",
    "lco": "LCO: “LiPo” pouch cells",
    "lfp": "LFP: iron phosphate",
    "lithium": "Li-ion, family unknown",
    "lead_acid": "Lead-acid, AGM or gel",
}
ONWARD = re.compile(r"/add/[0-9a-f]{32}|/waiting")
"""The only address that a description may send back to: an upload that waits for it."""
FIELDS: dict[str, dict[str, tuple[str, float]]] = {
    "lawn": {"area": ("area_m2", 1.0)},
    "pack": {
        each: (each, 1.0)
        for each in ("series", "capacity_ah", "cut_off_v", "current_limit_a", "string_ah", "resistance_ohm",
                     "hold_s", "first_year")
    },
    "machine": {
        "width": ("cutting_width_m", 100.0), "pace": ("pace_m_s", 1.0), "motor": ("motor_rated_w", 1.0)
    },
    "meter": {
        "zero_a": ("current_zero_a", DATA_SHEET), "current_percent": ("current_gain", 100.0 * DATA_SHEET),
        "zero_v": ("voltage_zero_v", DATA_SHEET), "voltage_percent": ("voltage_gain", 100.0 * DATA_SHEET),
    },
}  # fmt: skip
"""The fields of each form: the field of the description, and what multiplies it for the form."""
KINDS = tuple(FIELDS)


def _described(request: Request) -> Response:
    book = request.app.state.book
    return page(
        request, "list.html", lawns=kept.lawns(book), packs=kept.packs(book), machines=kept.machines(book),
        meters=kept.meters(book), events=kept.events_of(book)[::-1], chemistry=CHEMISTRY_WORDS,
    )  # fmt: skip


def _kind(request: Request) -> str:
    kind = str(request.path_params["kind"])
    if kind not in KINDS:
        raise HTTPException(404)
    return kind


def _form(
    request: Request,
    name: str | None = None,
    sent: Sent | None = None,
    problem: str | None = None,
    renaming: str = "",
) -> Response:
    """The form of one description; without a name, of the one in the address, or of a new one."""
    kind, name = _kind(request), request.query_params.get("name", "") if name is None else name
    book = request.app.state.book
    return page(
        request, f"list_{kind}.html",
        problem=problem, kind=kind, name=name, renaming=renaming,
        values=Fields(sent.fields if sent is not None else _values(request, kind, name)),
        onward=sent.text("onward") if sent else request.query_params.get("onward", ""),
        others=[each for each in described_names(book, kind) if each != name],
        edits=kept.history(book, f"{kind} {name}")[::-1] if name else (),
        chemistries=[(each, CHEMISTRY_WORDS[each]) for each in CHEMISTRIES],
        series_hint=AMOUNTS["series"].help.partition("(")[2].rstrip(")"),
    )  # fmt: skip


def _values(request: Request, kind: str, name: str) -> dict[str, str]:
    """What a form starts with: the description as it is now, in the units of the form."""
    book = request.app.state.book
    if kind == "meter":
        known = kept.meters(book).get(name, {})
    else:
        listed: Any = {"lawn": kept.lawns, "pack": kept.packs, "machine": kept.machines}[kind]
        known = next((vars(each) for each in listed(book) if each.name == name), {})
    figures = {
        field: f"{value * per:.6g}"
        for field, (what, per) in FIELDS[kind].items()
        if (value := known.get(what)) is not None and (what, value) != ("hold_s", 1.0)
    }
    return figures | {each: known.get(each) or "" for each in ("chemistry", "kind", "capacity_guessed")}


def _keep(request: Request, sent: Sent) -> Response:
    book, kind, name = request.app.state.book, _kind(request), sent.text("name")
    subject = f"{kind} {name}"
    before = len(kept.history(book, subject))
    try:
        if kind == "lawn":
            kept.keep_lawn(book, Lawn(name, area_m2=area_m2(sent.text("area"))))
        elif kind == "pack":
            kept.keep_pack(book, pack_of(name, sent))
        elif kind == "machine":
            _keep_machine(book, name, sent)
        else:
            _keep_meter(book, name, sent)
    except InputError as error:
        return _form(request, sent.text("was"), sent, sentence(error))
    again = any(map(changed_words, kept.history(book, subject)[before:]))
    said, of = ("changed", {"of": subject}) if again else ("described", {})
    onward = sent.text("onward")
    if ONWARD.fullmatch(onward):
        return go_to(onward, said, **of, **{kind: name})
    return go_to("/list" if kept.mow_count(book) else "/", said, **of)


def _put_right(what: str, request: Request, sent: Sent) -> Response:
    """Rename what is described, merge it into another one, or delete it."""
    book, kind, was, new = request.app.state.book, _kind(request), sent.text("was"), sent.text("new")
    try:
        if what == "deleted":
            kept.delete(book, kind, was)
        else:
            (kept.rename if what == "renamed" else kept.merge)(book, kind, was, new)
    except InputError as error:
        renaming = new if what == "renamed" else ""
        return _form(request, was, problem=sentence(error), renaming=renaming)
    return go_to("/list", what)


def pack_of(name: str, sent: Sent) -> Pack:
    """A pack from its form; a blank cut-off becomes the usual one for its cells."""
    chemistry, rated_v = sent.text("chemistry"), amount_of(sent, "rated_v")
    if rated_v is None:
        series = needed_amount(sent, "series")
    else:
        series = series_of_volts(chemistry, rated_v, amount_of(sent, "series"))
    whole: Any = int(series) if series == int(series) else series
    cut_off_v = amount_of(sent, "cut_off_v")
    capacity_ah, guessed = guessed_ah(sent.text("capacity_ah"))
    return Pack(
        name=name,
        chemistry=chemistry,
        series=whole,
        capacity_ah=capacity_ah,
        capacity_guessed=guessed or sent.text("capacity_guessed") == "yes",
        cut_off_v=usual_cut_off_v(chemistry, whole) if cut_off_v is None else cut_off_v,
        hold_s=amount_or(sent, "hold_s", 1.0),
        **amounts_of(sent, "current_limit_a", "resistance_ohm", "string_ah", "first_year"),
    )


def _keep_machine(book: Logbook, name: str, sent: Sent) -> None:
    before = next((each for each in kept.machines(book) if each.name == name), Machine(name))
    width, pace, motor = sent.text("width"), sent.text("pace"), sent.text("motor")
    said = replace(
        before,
        cutting_width_m=length_m(width, "cutting width", bare="cm") if width else None,
        pace_m_s=pace_m_s(pace) if pace else None,
        motor_rated_w=power_w(motor) if motor else None,
        kind=sent.text("kind") or None,
    )
    kept.keep_machine(book, said)


def _keep_meter(book: Logbook, name: str, sent: Sent) -> None:
    meter = FIELDS["meter"]
    told = {what for what, _ in meter.values()}
    others = {each: value for each, value in kept.meters(book).get(name, {}).items() if each not in told}
    given = {
        what: value / per
        for field, (what, per) in meter.items()
        if (value := amount_of(sent, field)) is not None
    }
    kept.keep_meter(book, name, {**others, **given})


def _keep_care(request: Request, sent: Sent) -> Response:
    words, machine = sent.text("words")[:200], sent.text("machine") or None
    book = request.app.state.book
    with book.writing():
        number = kept.keep_event(book, sent.text("day"), sent.text("kind") or "blade care", words, machine)
        check_day(next(each.day for each in kept.events_of(book) if each.id == number), "day of care")
    return go_to("/list", "described")


def _remove_care(request: Request, sent: Sent) -> Response:
    kept.remove_event(request.app.state.book, request.path_params["number"])
    return go_to("/list", "changed")


ROUTES = [
    Route("/list", _described),
    Route("/list/care", takes_form(_keep_care), methods=["POST"]),
    Route("/list/care/{number:int}/remove", takes_form(_remove_care), methods=["POST"]),
    *(
        Route(f"/list/{{kind}}/{way}", takes_form(partial(_put_right, what)), methods=["POST"])
        for way, what in (("rename", "renamed"), ("merge", "merged"), ("delete", "deleted"))
    ),
    Route("/list/{kind}", _form),
    Route("/list/{kind}", takes_form(_keep), methods=["POST"]),
]
