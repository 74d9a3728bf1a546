"""Pairing: a phone opens a one-time link and is let in from then on, until it is revoked."""

from __future__ import annotations

import io
from urllib.parse import quote

import segno
from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.page.door.access import CODE_S, Doors
from estimator.page.door.forms import Sent, read_sent, takes_form
from estimator.page.door.guards import SESSION_COOKIE, keep_device
from estimator.page.showing.rendering import go_to, page


def pairing_link(address: str, code: str) -> str:
    """The address that pairs one device once.

    >>> pairing_link("https://192.168.1.20:8719", "abc")
    'https://192.168.1.20:8719/pair?code=abc'
    """
    return f"{address}/pair?code={quote(code, safe='')}"


def qr_svg(text: str) -> str:
    """A QR code of `text` as SVG, black on white, with words for screen readers."""
    held = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        held, kind="svg", xmldecl=False, svgclass=None, lineclass=None, omitsize=True, dark="#000000",
        light="#ffffff", title="Pairing link as a QR code",
        desc="Point a phone's camera at it to open the pairing link",
    )  # fmt: skip
    return held.getvalue().decode()


def _devices(request: Request, link: str | None = None) -> Response:
    """The devices that are let in, and a link to pair another one, where one was made."""
    doors: Doors = request.app.state.doors
    return page(
        request, "devices.html", devices=doors.devices.listed(),
        own=doors.devices.device_of(request.cookies.get(SESSION_COOKIE)), link=link,
        code=Markup(qr_svg(link)) if link else None, minutes=CODE_S / 60,
    )  # fmt: skip


def _new_link(request: Request, sent: Sent) -> Response:
    state = request.app.state
    address = f"{state.settings.scheme}://{request.headers['host']}"
    return _devices(request, pairing_link(address, state.doors.new_code()))


def _close_all(request: Request, sent: Sent) -> Response:
    request.app.state.doors.close_all()
    return go_to("/devices", "closed")


def _revoke(request: Request, sent: Sent) -> Response:
    doors: Doors = request.app.state.doors
    doors.devices.revoke(sent.text("device") or "-")
    return go_to("/devices", "revoked")


def _pair_form(request: Request) -> Response:
    kind = "phone" if "Mobi" in request.headers.get("user-agent", "") else "computer"
    days = request.app.state.settings.device_s / 86400
    return page(request, "pair.html", code=request.query_params.get("code", "")[:200], kind=kind, days=days)


async def _pair(request: Request) -> Response:
    """Pair a device; only pressing the button uses the code: a messenger's preview of the link does not."""
    sent = await read_sent(request)
    doors: Doors = request.app.state.doors
    secret = doors.use_code(sent.text("code")[:200], sent.text("name"))
    if secret is None:
        raise HTTPException(403, "this pairing link was used already or is too old; make a new one")
    response = go_to("/", "paired")
    keep_device(response, secret, request.app.state.settings)
    return response


ROUTES = [
    Route("/devices", _devices),
    Route("/devices/link", takes_form(_new_link), methods=["POST"]),
    Route("/devices/close", takes_form(_close_all), methods=["POST"]),
    Route("/devices/revoke", takes_form(_revoke), methods=["POST"]),
    Route("/pair", _pair_form),
    Route("/pair", _pair, methods=["POST"]),
]
