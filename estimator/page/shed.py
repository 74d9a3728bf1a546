"""The first page: what to do next, the latest mow, what is left, today's lawns."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.logbook import lawns, packs
from estimator.page.latest import latest_mow, mow_count
from estimator.page.show import WAYS, page


@dataclass(frozen=True)
class Step:
    """One thing to do before the answers come: whether it is done, its words and where it is done."""

    done: bool
    words: str
    path: str
    detail: str


def _shed(request: Request) -> Response:
    book = request.app.state.book
    latest, count = latest_mow(book), mow_count(book)
    known_lawns, known_packs = lawns(book), packs(book)
    steps = (
        Step(bool(known_packs), "Describe the pack", "/described/pack", "four figures from its label"),
        Step(bool(known_lawns), "Describe a lawn", "/described/lawn", "its name and area"),
        Step(bool(count), "Add the first mow", "/add", "a file from the meter, or a few readings by hand"),
    )
    return page(
        request, "shed.html", steps=steps, ready=all(step.done for step in steps),
        latest=latest, mow_count=count,
        lawn_count=len(known_lawns),
    )  # fmt: skip


def _more(request: Request) -> Response:
    return page(request, "more.html", tiles=[way for way in WAYS if "wide-only" in way.where])


ROUTES = [Route("/", _shed), Route("/more", _more)]
