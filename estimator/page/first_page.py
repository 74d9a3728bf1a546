"""The first page: what to do next, the latest mow, what is left, today's lawns."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers.charge import ChargeOfMow, charge_of_mow
from estimator.answers.mow_figures import features_of_mows
from estimator.descriptions import Lawn
from estimator.errors import InputError
from estimator.logbook import MowRecord, lawns, mow_count, packs
from estimator.page.latest import last_mown, latest_mow
from estimator.page.remembered import remembered
from estimator.page.rendering import WAYS, page


@dataclass(frozen=True)
class Step:
    """One thing to do before the answers come: whether it is done, its words and where it is done."""

    done: bool
    words: str
    path: str
    detail: str


@dataclass(frozen=True)
class LawnSince:
    """A lawn and the day on which it was mown last, None where it never was."""

    lawn: Lawn
    last: str | None


def _shed(request: Request) -> Response:
    book = request.app.state.book
    latest, count = latest_mow(book), mow_count(book)
    known_lawns, known_packs = lawns(book), packs(book)
    steps = (
        Step(bool(known_packs), "Describe the pack", "/described/pack", "four figures from its label"),
        Step(bool(known_lawns), "Describe a lawn", "/described/lawn", "its name and area"),
        Step(bool(count), "Add the first mow", "/add", "a file from the meter, or a few readings by hand"),
    )
    mown = last_mown(book)
    since = sorted(
        (LawnSince(each, mown.get(each.name)) for each in known_lawns), key=lambda each: each.last or ""
    )
    return page(
        request, "shed.html",
        steps=steps, ready=all(step.done for step in steps), latest=latest, mow_count=count,
        charge=_charge_left(request, latest) if latest else None, since=since,
        figures=features_of_mows(book, [latest])[latest.id] if latest else None,
    )  # fmt: skip


def _charge_left(request: Request, latest: MowRecord) -> ChargeOfMow | None:
    try:
        return remembered(request, charge_of_mow, latest.id)
    except InputError:
        return None


def _more(request: Request) -> Response:
    return page(request, "more.html", tiles=[way for way in WAYS if "wide-only" in way.where])


ROUTES = [Route("/", _shed), Route("/more", _more)]
