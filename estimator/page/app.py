"""The page as one application: routes, guards, and the answers when something goes wrong."""

from __future__ import annotations

from asyncio import create_task
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from http import HTTPStatus
from threading import Lock

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from estimator.errors import InputError, LogbookError, MowchargeError
from estimator.logbook import Logbook, open_logbook
from estimator.page.ahead import Ahead
from estimator.page.door.access import Doors
from estimator.page.door.connections import Connections
from estimator.page.door.guards import BodyLimit, Door, HostAndOrigin, OwnFaults, SecurityHeaders
from estimator.page.door.paired import PairedDevices
from estimator.page.door.pending import drop_old
from estimator.page.interface import operations as interface
from estimator.page.live.watch import Watch
from estimator.page.remembered import Remembered, StillWorking
from estimator.page.screens import (
    adding,
    answering,
    conversion,
    devices,
    first_page,
    kept_mows,
    live,
    logbook_page,
    looking_back,
    preview,
    waiting,
)
from estimator.page.screens import descriptions as described
from estimator.page.settings import PageSettings
from estimator.page.showing.assets import serve_asset
from estimator.page.showing.decision_fields import as_sent, labelled
from estimator.page.showing.rendering import page
from estimator.page.showing.words import sentence


class Compressed(GZipMiddleware):
    """Compresses answers, except streams of events, which must go out at once, and pages with a pairing link.

    A compressed page may hold a form's token together with words from its address: to guess the token from
    lengths, another site would have to make the visitor's browser ask again and again, and such requests
    carry no cookie (SameSite=strict), so each of them gets the token of another, made-up visitor.
    """

    def __init__(self, app: ASGIApp) -> None:
        super().__init__(app, minimum_size=1000, compresslevel=6)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["path"].startswith((live.EVENTS, "/devices", "/pair")):
            await self.app(scope, receive, send)
            return
        await super().__call__(scope, receive, send)


class InUse:
    """Counts who uses the logbook now; while nobody does, its file is closed.

    Between uses the file is complete by itself: a backup copied over it, or a program that keeps folders in
    step, replaces all of it, and the next use opens what is there then.
    """

    def __init__(self) -> None:
        self.book: Logbook | None = None
        self._users, self._lock = 0, Lock()

    def __enter__(self) -> None:
        with self._lock:
            self._users += 1

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._users -= 1
            if not self._users and self.book is not None:
                self.book.close()


class AtRest:
    """Notes that every request but a stream of events uses the logbook; after a change it wakes `Ahead`."""

    def __init__(self, app: ASGIApp, in_use: InUse, ahead: Ahead | None) -> None:
        self.app, self.in_use, self.ahead = app, in_use, ahead

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"] == live.EVENTS:
            await self.app(scope, receive, send)
            return
        with self.in_use:
            await self.app(scope, receive, send)
        if self.ahead is not None and scope["method"] == "POST" and scope["path"] != "/api/live":
            self.ahead.wake()


def doors_of(settings: PageSettings) -> Doors:
    """The doors of a page with these settings."""
    return Doors(settings.secret, PairedDevices(settings.devices_file, age_s=settings.device_s))


def make_app(settings: PageSettings, doors: Doors | None = None) -> Starlette:
    """The application for one logbook, which is open while the application runs."""
    doors = doors or doors_of(settings)
    in_use = InUse()
    memory = Remembered(settings.patience_s, in_use)
    ahead = Ahead(settings.logbook, memory) if settings.ahead else None

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        app.state.book = in_use.book = await run_in_threadpool(open_logbook, settings.logbook)
        await run_in_threadpool(drop_old, settings.pending_folder)
        if ahead is not None:
            ahead.wake()
        sweeping = create_task(app.state.connections.sweep_for_ever())
        try:
            yield
        finally:
            sweeping.cancel()
            for each in (app.state.watch, *([ahead] if ahead is not None else [])):
                await run_in_threadpool(each.end)
            app.state.book.close()

    app = Starlette(
        routes=[
            Route("/own/{name:path}", serve_asset),
            *first_page.ROUTES,
            *adding.ROUTES,
            *preview.ROUTES,
            *waiting.ROUTES,
            *kept_mows.ROUTES,
            *answering.ROUTES,
            *looking_back.ROUTES,
            *conversion.ROUTES,
            *described.ROUTES,
            *logbook_page.ROUTES,
            *devices.ROUTES,
            *live.ROUTES,
            *interface.ROUTES,
        ],
        middleware=[
            Middleware(SecurityHeaders),
            Middleware(HostAndOrigin, settings=settings),
            Middleware(Door, settings=settings, doors=doors),
            Middleware(BodyLimit, settings=settings),
            Middleware(Compressed),
            Middleware(AtRest, in_use=in_use, ahead=ahead),
            Middleware(OwnFaults, answer=_unexpected),
        ],
        exception_handlers={
            StillWorking: lambda request, error: page(
                request, "wait.html", status=202, since_s=error.since_s
            ),
            MowchargeError: _told,
            HTTPException: _http_trouble,
            Exception: _unexpected,
        },
        lifespan=lifespan,
    )
    app.state.settings, app.state.doors, app.state.remembered = settings, doors, memory
    app.state.connections, app.state.watch = Connections(), Watch(settings)
    app.state.streams = set()
    return app


def _told(request: Request, error: Exception) -> Response:
    status = 503 if isinstance(error, LogbookError) else 422 if isinstance(error, InputError) else 500
    assert isinstance(error, MowchargeError)
    is_script = request.url.path.startswith("/api/")
    return _trouble(request, status, error.said(as_sent if is_script else labelled, percent=not is_script))


def _http_trouble(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    usual = {404: "there is no such page here", 405: "this page does not take that"}
    nothing_said = error.detail == HTTPStatus(error.status_code).phrase
    line = usual.get(error.status_code, error.detail) if nothing_said else error.detail
    response = _trouble(request, error.status_code, line)
    response.headers.update(error.headers or {})
    return response


def _unexpected(request: Request, error: Exception) -> Response:
    line = "something went wrong inside; the window in which the page runs says more"
    return _trouble(request, 500, line)


def _trouble(request: Request, status: int, line: str) -> Response:
    if request.url.path.startswith("/api/"):
        return JSONResponse({"error": line}, status_code=status)
    return page(request, "trouble.html", status=status, problem=sentence(line))
