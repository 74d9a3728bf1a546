"""The page's own style sheet, script and sign: read once, served under names that carry their hash."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from functools import cache
from hashlib import sha384
from importlib.resources import files

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

KINDS = {"css": "text/css; charset=utf-8", "js": "text/javascript; charset=utf-8", "svg": "image/svg+xml"}


@dataclass(frozen=True)
class Asset:
    """One file: its address with hash, its integrity value, its kind and content."""

    address: str
    integrity: str
    kind: str
    content: bytes


@cache
def asset(name: str) -> Asset:
    """An asset by its plain name.

    >>> asset("mow.css").address.startswith("/own/mow.")
    True
    """
    content = (files("estimator.page") / "static" / name).read_bytes()
    digest = sha384(content).digest()
    stem, _, ending = name.rpartition(".")
    return Asset(
        f"/own/{stem}.{digest.hex()[:16]}.{ending}",
        "sha384-" + b64encode(digest).decode(),
        KINDS[ending],
        content,
    )


NAMES = ("mow.css", "mow.js", "picture.js", "live.js", "sign.svg")


def serve_asset(request: Request) -> Response:
    """Answer an address under /own/; an address of an older version is not found."""
    for each in map(asset, NAMES):
        if each.address == request.url.path:
            return Response(
                each.content,
                media_type=each.kind,
                headers={"cache-control": "public, max-age=31536000, immutable"},
            )
    return PlainTextResponse("not here", status_code=404)
