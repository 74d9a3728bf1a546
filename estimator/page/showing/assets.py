"""The page's own style sheet, scripts, signs and manifest, served under names that contain their hash."""

from __future__ import annotations

import json
from base64 import b64encode
from dataclasses import dataclass
from functools import cache
from hashlib import sha384
from importlib.resources import files
from typing import Any

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from estimator.report.pictures.picture import PICTURE_STYLE

KINDS = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
    "webmanifest": "application/manifest+json",
}

MANIFEST = "mowcharge.webmanifest"


@dataclass(frozen=True)
class Asset:
    """One file: its address with the hash, its integrity value, its kind and its content."""

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
    if name == MANIFEST:
        content = json.dumps(_manifest()).encode()
    else:
        content = (files("estimator.page") / "static" / name).read_bytes()
    if name == "mow.css":
        content += PICTURE_STYLE.encode()
    digest = sha384(content).digest()
    stem, _, ending = name.rpartition(".")
    return Asset(
        f"/own/{stem}.{digest.hex()[:16]}.{ending}",
        "sha384-" + b64encode(digest).decode(),
        KINDS[ending],
        content,
    )


NAMES = (*(each.name for each in (files("estimator.page") / "static").iterdir()), MANIFEST)


def _manifest() -> dict[str, Any]:
    """What a phone needs to put the page on its home screen, and to share files with it.

    Members: W3C Web Application Manifest; `share_target`: W3C Web Share Target, level 2.
    """
    kinds = [".csv", ".txt", ".tsv", ".xlsx", ".gz", "text/csv", "text/plain", "application/gzip"]
    return {
        "id": "/", "name": "mowcharge", "short_name": "mowcharge", "start_url": "/", "scope": "/",
        "display": "standalone", "background_color": "#f6f4f0", "theme_color": "#4f1f49",
        "icons": [
            {"src": asset("sign.svg").address, "sizes": "any", "type": "image/svg+xml"},
            {"src": asset("sign-192.png").address, "sizes": "192x192", "type": "image/png"},
            {"src": asset("sign-512.png").address, "sizes": "512x512", "type": "image/png"},
            {"src": asset("sign-whole-512.png").address, "sizes": "512x512", "type": "image/png",
             "purpose": "maskable"},
        ],
        "share_target": {
            "action": "/add/shared", "method": "POST", "enctype": "multipart/form-data",
            "params": {"files": [{"name": "files", "accept": kinds}]},
        },
        "shortcuts": [
            {"name": "Add a mow", "url": "/add"},
            {"name": "Lawns today", "url": "/lawns"},
        ],
    }  # fmt: skip


def serve_asset(request: Request) -> Response:
    """Answer an address under /own/; that of an older version is not found."""
    for each in map(asset, NAMES):
        if each.address == request.url.path:
            return Response(
                each.content,
                media_type=each.kind,
                headers={"cache-control": "public, max-age=31536000, immutable"},
            )
    return PlainTextResponse("not here", status_code=404)
