"""The checks that every request must pass before a page sees it: host, origin, size, door."""

from __future__ import annotations

import logging
from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect, HTTPConnection, Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from estimator.page.door.access import Doors
from estimator.page.door.refusal import refuse
from estimator.page.settings import MIB, PageSettings

_LOG = logging.getLogger(__name__)

SESSION_COOKIE = "mowcharge_session"
SAFE_METHODS = {"GET", "HEAD", "OPTIONS"}
CONTENT_SECURITY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; "
    "manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}
OPEN_PATHS = {"/pair", "/api/openapi.json"}
UPLOAD_PATHS = ("/add", "/add/shared", "/minutes", "/api/mows", "/api/minutes")


class SecurityHeaders:
    """Adds the security headers to every response; a page may set a policy of its own."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("content-security-policy", CONTENT_SECURITY)
                headers.setdefault("cache-control", "no-store")
            await send(message)

        await self.app(scope, receive, send_with_headers)


class HostAndOrigin:
    """Answers only to its own names, and takes changes only from its own pages."""

    def __init__(self, app: ASGIApp, settings: PageSettings) -> None:
        self.app, self.settings = app, settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self.settings.hosts:
            await refuse(scope, send, 421, "this address is not the page's own; use the one that it printed")
            return
        if scope["method"] not in SAFE_METHODS:
            origin = headers.get("origin")
            site = headers.get("sec-fetch-site", "same-origin")
            own = f"{self.settings.scheme}://{hosts[0]}"
            by_itself = origin == "null" and site == "none"  # sharing from a phone comes from no page at all
            if (origin not in (None, own) and not by_itself) or site not in ("same-origin", "none"):
                await refuse(scope, send, 403, "the form came from another site; open the page itself")
                return
        await self.app(scope, receive, send)


class BodyLimit:
    """Refuses a body over its limit while it is still being read, so that memory stays bounded."""

    def __init__(self, app: ASGIApp, settings: PageSettings) -> None:
        self.app, self.settings = app, settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in SAFE_METHODS:
            await self.app(scope, receive, send)
            return
        uploads = scope["path"].rstrip("/") in UPLOAD_PATHS
        limit = self.settings.upload_bytes + MIB // 4 if uploads else self.settings.form_bytes
        line = f"more than {limit / MIB:.2g} MB were sent; send a shorter log, or one reading a second"
        declared = Headers(scope=scope).get("content-length")
        if declared is not None and (not declared.isdecimal() or int(declared) > limit):
            await refuse(scope, send, 413, line, receive=receive, drain_bytes=4 * limit)
            return
        taken, watched = 0, _Watched(send)

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            if message["type"] == "http.request":
                taken += len(message.get("body", b""))
                if taken > limit:
                    raise _TooMuch
            return message

        try:
            await self.app(scope, counted, watched)
        except _TooMuch:
            if not watched.started:
                await refuse(scope, send, 413, line, receive=receive, drain_bytes=4 * limit)


class Door:
    """Lets in paired devices, and scripts with the secret; pages served to this computer alone are open."""

    def __init__(self, app: ASGIApp, settings: PageSettings, doors: Doors) -> None:
        self.app, self.settings, self.doors = app, settings, doors

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        visitor = HTTPConnection(scope) if scope["type"] == "http" else None
        if visitor is not None and self._is_known(visitor):
            scope["app"].state.connections.pair(scope.get("client"))
            send = self._renewing(visitor, send)
        elif visitor is not None and not self._may_enter(visitor):
            if scope["path"].startswith("/api/"):
                line = "the secret is missing or wrong; send it as 'Authorization: Bearer ...'"
            else:
                line = "this device is not paired, or its pairing has run out; open the link that the page "
                line += "printed when it started, or make one on a paired device under Phones and devices"
            await refuse(scope, send, 401, line)
            return
        await self.app(scope, receive, send)

    def _renewing(self, visitor: HTTPConnection, send: Send) -> Send:
        """Renew the cookie's age with every page that a paired device opens."""
        secret = visitor.cookies.get(SESSION_COOKIE)

        async def send_renewed(message: Message) -> None:
            if secret and message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                if headers.get("content-type", "").startswith("text/html") and "set-cookie" not in headers:
                    held = Response()
                    keep_device(held, secret, self.settings)
                    headers.append("set-cookie", held.headers["set-cookie"])
            await send(message)

        return send_renewed

    def _may_enter(self, connection: HTTPConnection) -> bool:
        path = connection.url.path
        if path in OPEN_PATHS or path.startswith("/own/"):
            return True
        return not self.settings.pairing and not path.startswith("/api/")

    def _is_known(self, connection: HTTPConnection) -> bool:
        """Whether a script shows the secret, or a device is paired."""
        if connection.url.path.startswith("/api/"):
            return self.doors.is_bearer(connection.headers.get("authorization"))
        return self.doors.devices.is_let_in(connection.cookies.get(SESSION_COOKIE))


def keep_device(response: Response, secret: str, settings: PageSettings) -> None:
    """Set the cookie by which a paired device is known: it expires, and no script or other site gets it."""
    response.set_cookie(
        SESSION_COOKIE, secret, max_age=int(settings.device_s), httponly=True, samesite="strict", path="/",
        secure=settings.scheme == "https",
    )  # fmt: skip


class OwnFaults:
    """Answers a fault in the tool itself, and writes it to the window in which the page runs.

    If it passed the fault on, the server would close a connection that the visitor goes on using.
    """

    def __init__(self, app: ASGIApp, answer: Callable[[Request, Exception], Response]) -> None:
        self.app, self.answer = app, answer

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        watched = _Watched(send)
        try:
            await self.app(scope, receive, watched)
        except _TooMuch:
            raise
        except ClientDisconnect:  # the visitor left during an upload and needs no answer
            return
        except Exception as fault:
            if scope["type"] != "http" or watched.started:
                raise
            _LOG.error("%s %s went wrong", scope["method"], scope["path"], exc_info=fault)
            response = await run_in_threadpool(self.answer, Request(scope), fault)
            await response(scope, receive, send)


class _Watched:
    """Passes messages on, and knows whether an answer has begun."""

    def __init__(self, send: Send) -> None:
        self.send, self.started = send, False

    async def __call__(self, message: Message) -> None:
        self.started = self.started or message["type"] == "http.response.start"
        await self.send(message)


class _TooMuch(Exception):
    pass
