"""Start the page, and say in plain words who can reach it."""

from __future__ import annotations

import io
import os
import socket
import sys
from contextlib import suppress
from pathlib import Path
from secrets import token_urlsafe
from typing import Any

import segno
import uvicorn
from platformdirs import user_data_path
from starlette.applications import Starlette

from estimator.answers.keeping.second_look import look_again
from estimator.errors import InputError
from estimator.logbook import is_there, open_logbook
from estimator.mends import Give
from estimator.page.app import doors_of, make_app
from estimator.page.door.access import CODE_S, Doors
from estimator.page.door.certificate import Certificate, given_certificate, own_certificate
from estimator.page.door.connections import Listening, protocol_for
from estimator.page.screens.devices import pairing_link
from estimator.page.settings import PageSettings, uploads_of

SECRET_VARIABLE = "MOWCHARGE_PAGE_SECRET"
SHORTEST_SECRET = 16
"""Least length of a secret [characters]: 96 bits if it is random (base64), out of reach of guessing."""
PORT = 8719
"""Any free port would do; one that stays the same keeps bookmarks valid."""
PATIENCE_S = 0.6
"""How long a page waits for an answer [s]; with the rest of the page that stays under a second."""


def serve(
    logbook: str | Path | None,
    *,
    port: int = PORT,
    beyond: bool = False,
    certificate: str | Path | None = None,
    key: str | Path | None = None,
    plain: bool = False,
    follow: str | Path | None = None,
) -> None:
    """Serve the page until it is stopped.

    logbook : file or URL, None for the usual place
    port : where to listen
    beyond : listen to the whole network instead of only this computer; every visitor must then be paired
    certificate, key : PEM files to encrypt with; without them, one is made where `beyond` is True
    plain : do not encrypt even then
    follow : a file that a logger is writing, shown live
    Raises InputError where the port is taken or the secret in the environment is too short, LogbookError
    where the logbook cannot be opened.
    """
    secret = _secret()
    addresses = own_addresses() if beyond else ()
    new = not is_there(logbook)
    with open_logbook(logbook) as book:  # so that trouble with it becomes one line here
        look_again(book)
        where = book.where
        if new:
            print(f"A new logbook was made: {book.where}", flush=True)
    listening = _listen("0.0.0.0" if beyond else "127.0.0.1", port)
    shown = _certificate(addresses, beyond, certificate, key, plain)
    settings = PageSettings(
        logbook=logbook, hosts=own_hosts(port, addresses), secret=secret, pairing=beyond,
        fingerprint=shown.fingerprint if shown else None,
        devices_file=user_data_path("mowcharge", appauthor=False) / "page-devices.json" if beyond else None,
        pending_folder=uploads_of(where), follow=None if follow is None else Path(follow),
        patience_s=PATIENCE_S, ahead=True,
    )  # fmt: skip
    doors = doors_of(settings)
    app = make_app(settings, doors)
    print(announcement(settings, doors, port, addresses), flush=True)
    with listening, suppress(KeyboardInterrupt):
        ways = {"ssl_certfile": shown.certificate, "ssl_keyfile": shown.key} if shown else {}
        server_of(app, listening, **ways).run(sockets=[listening])


def _certificate(
    addresses: tuple[str, ...], beyond: bool, given: str | Path | None, key: str | Path | None, plain: bool
) -> Certificate | None:
    """The certificate to encrypt with; None where the page is not encrypted."""
    if (given is None) != (key is None):
        missing = "the key of the certificate" if key is None else "the certificate of the key"
        raise InputError(f"{missing} is missing", mend="give a certificate and its key, or neither")
    if given is not None and key is not None:
        if plain:
            raise InputError(
                "a certificate is given to a page that is not encrypted",
                mend=("leave out ", Give("certificate"), " or ", Give("not_encrypted")),
            )
        return given_certificate(given, key)
    if plain or not beyond:
        return None
    return own_certificate(user_data_path("mowcharge", appauthor=False), (*own_names(addresses),))


def server_of(app: Starlette, listening: Listening, **changes: Any) -> uvicorn.Server:
    """The server of a page, which takes in only as many connections as there is room for."""
    listening.connections = app.state.connections
    usual: dict[str, Any] = {
        "log_level": "warning", "access_log": False, "proxy_headers": False, "server_header": False,
        "timeout_keep_alive": 10, "h11_max_incomplete_event_size": 65_536,
        "http": protocol_for(app.state.connections),
    }  # fmt: skip
    app.state.server = uvicorn.Server(uvicorn.Config(app, **{**usual, **changes}))
    server: uvicorn.Server = app.state.server
    return server


def announcement(settings: PageSettings, doors: Doors, port: int, addresses: tuple[str, ...]) -> str:
    """What is printed at the start: where the page is, who can reach it, and how to get in."""
    if not settings.pairing:
        return "\n".join(
            (
                f"The page is at {settings.scheme}://127.0.0.1:{port}/",
                "Exposed: nothing beyond this computer. Anyone logged on to this computer can open it.",
                f"Scripts send this secret as a bearer token: {settings.secret}",
                "Stop it with Ctrl-C.",
            )
        )
    reached = [f"{settings.scheme}://{address}:{port}" for address in addresses or ("127.0.0.1",)]
    link = pairing_link(reached[0], doors.new_code())
    return "\n".join(
        (
            f"The page is at {', '.join(f'{address}/' for address in reached)}",
            "Exposed: every device in your network can reach this address; only paired ones are let in.",
            _how_sent(settings),
            f"Pair one device within {CODE_S / 60:.0f} minutes by opening (once): {link}",
            _terminal_code(link),
            f"Scripts send this secret as a bearer token: {settings.secret}",
            "Stop it with Ctrl-C.",
        )
    )


def _how_sent(settings: PageSettings) -> str:
    if settings.fingerprint is None:
        return "What is sent is not encrypted, so use a network that you trust."
    return "\n".join(
        (
            "What is sent is encrypted. A phone warns once that it does not know the certificate:",
            "go on only if the SHA-256 fingerprint that it shows is this one:",
            *(f"  {settings.fingerprint[part : part + 48].rstrip(':')}" for part in (0, 48)),
        )
    )


def own_hosts(port: int, addresses: tuple[str, ...] = ()) -> frozenset[str]:
    """The values of the Host header that mean this page.

    >>> sorted(own_hosts(8719))
    ['127.0.0.1:8719', '[::1]:8719', 'localhost:8719']
    """
    names = [f"[{name}]" if ":" in name else name for name in own_names(addresses)]
    bare = names if port in (80, 443) else []
    return frozenset([*(f"{name}:{port}" for name in names), *bare])


def own_names(addresses: tuple[str, ...] = ()) -> list[str]:
    """The addresses and names under which the page is reached."""
    names = ["127.0.0.1", "localhost", "::1"]
    if addresses:
        name = socket.gethostname().lower()
        names += [*addresses, name, name if name.endswith(".local") else f"{name}.local"]
    return names


def own_addresses() -> tuple[str, ...]:
    """The addresses of this computer in its network; the one that leads outside comes first."""
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, suppress(OSError):
        probe.connect(("192.0.2.1", 9))  # RFC 5737 documentation address; a UDP connect sends nothing
        found.append(probe.getsockname()[0])
    with suppress(OSError):
        entries = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
        found += [str(entry[4][0]) for entry in entries]
    return tuple(dict.fromkeys(address for address in found if not address.startswith("127.")))


def _listen(address: str, port: int) -> Listening:
    listening = Listening(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((address, port))
    except (OSError, OverflowError) as error:
        listening.close()
        problem = getattr(error, "strerror", None) or "not a port"
        raise InputError(
            f"port {port} cannot be used ({problem})", mend=("choose another with ", Give("port"))
        ) from None
    return listening


def _secret() -> str:
    given = os.environ.get(SECRET_VARIABLE)
    if given is None:
        return token_urlsafe(24)
    if len(given) < SHORTEST_SECRET or not given.isascii() or not given.isprintable() or " " in given:
        raise InputError(
            f"{SECRET_VARIABLE} has {len(given)} characters",
            mend=f"use {SHORTEST_SECRET} or more letters and digits",
        )
    return given


def _terminal_code(link: str) -> str:
    """The link as a QR code in block characters; a remark where the terminal lacks these characters."""
    held = io.StringIO()
    segno.make(link, error="l").terminal(held, compact=True)
    code = held.getvalue().rstrip("\n")
    try:
        code.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return "(This terminal cannot show the link as a QR code; the page can, under Phones and devices.)"
    return code
