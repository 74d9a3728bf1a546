"""Mows that are kept: the list, one mow with its figures, changing it, taking it out."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.logbook import history, lawns, machines, mow, mows, packs
from estimator.page.show import page


def _list(request: Request) -> Response:
    return page(request, "mows.html", mows=mows(request.app.state.book)[::-1])


def _one(request: Request) -> Response:
    book = request.app.state.book
    record = mow(book, request.path_params["number"])
    return page(
        request, "mow.html", mow=record, edits=history(book, record.id)[::-1],
        lawns=lawns(book), packs=packs(book), machines=machines(book),
    )  # fmt: skip


ROUTES = [Route("/mows", _list), Route("/mows/{number:int}", _one)]
