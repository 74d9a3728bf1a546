"""The page as one application: routes, guards, and what is said when something goes wrong."""

from __future__ import annotations

from asyncio import create_task
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from estimator.errors import InputError, LogbookError, MowchargeError
from estimator.logbook import open_logbook
from estimator.page.door.access import Doors
from estimator.page.door.connections import Connections
from estimator.page.door.guards import BodyLimit, Door, HostAndOrigin, OwnFaults, SecurityHeaders
from estimator.page.door.paired import PairedDevices
from estimator.page.door.pending import drop_old
from estimator.page.interface import operations as interface
from estimator.page.remembered import Remembered
from estimator.page.screens import (
    adding,
    answering,
    conversion,
    devices,
    first_page,
    kept_mows,
    logbook_page,
    looking_back,
    preview,
    reports,
    waiting,
)
from estimator.page.screens import descriptions as described
from estimator.page.settings import PageSettings
from estimator.page.showing.assets import serve_asset
from estimator.page.showing.rendering import page
from estimator.page.showing.words import sentence


class AtRest:
    """Lets go of the logbook's file whenever no request is under way.

    Between requests the file is whole in itself: a backup copied over it, or a program that keeps folders
    alike, replaces all of it, and the next request opens what is there then.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app, self.under_way = app, 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        self.under_way += 1
        try:
            await self.app(scope, receive, send)
        finally:
            self.under_way -= 1
            if not self.under_way:
                scope["app"].state.book.close()


def doors_of(settings: PageSettings) -> Doors:
    """The doors of a page with these settings."""
    return Doors(settings.secret, PairedDevices(settings.devices_file, age_s=settings.device_s))


def make_app(settings: PageSettings, doors: Doors | None = None) -> Starlette:
    """The application for one logbook, which is open while the application runs."""
    doors = doors or doors_of(settings)

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        app.state.book = await run_in_threadpool(open_logbook, settings.logbook)
        await run_in_threadpool(drop_old, settings.pending_folder)
        sweeping = create_task(app.state.connections.sweep_for_ever())
        try:
            yield
        finally:
            sweeping.cancel()
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
            *reports.ROUTES,
            *conversion.ROUTES,
            *described.ROUTES,
            *logbook_page.ROUTES,
            *devices.ROUTES,
            *interface.ROUTES,
        ],
        middleware=[
            Middleware(SecurityHeaders),
            Middleware(HostAndOrigin, settings=settings),
            Middleware(Door, settings=settings, doors=doors),
            Middleware(BodyLimit, settings=settings),
            Middleware(AtRest),
            Middleware(OwnFaults, answer=_unexpected),
        ],
        exception_handlers={
            InputError: _told,
            LogbookError: _told,
            MowchargeError: _told,
            HTTPException: _http_trouble,
            Exception: _unexpected,
        },
        lifespan=lifespan,
    )
    app.state.settings, app.state.doors, app.state.remembered = settings, doors, Remembered()
    app.state.connections = Connections()
    return app


def _told(request: Request, error: Exception) -> Response:
    status = 503 if isinstance(error, LogbookError) else 422 if isinstance(error, InputError) else 500
    line = error.for_people() if isinstance(error, MowchargeError) else str(error)
    return _trouble(request, status, str(error) if request.url.path.startswith("/api/") else line)


def _http_trouble(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    usual = {"Not Found": "there is no such page here", "Method Not Allowed": "this page does not take that"}
    line = usual.get(error.detail, error.detail)
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
