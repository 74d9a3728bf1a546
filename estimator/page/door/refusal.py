"""A refusal in one plain line, sent before any page is made."""

from __future__ import annotations

import json
from html import escape
from time import monotonic

from starlette.types import Receive, Scope, Send

from estimator.page.showing.assets import asset
from estimator.page.showing.words import sentence

DRAIN_S = 20.0
"""How long [s] the rest of a refused upload is read and thrown away, so that the browser gets the answer."""


async def refuse(
    scope: Scope, send: Send, status: int, line: str, *, receive: Receive | None = None, drain_bytes: int = 0
) -> None:
    """Answer with one plain line, without making a page."""
    if receive is not None:
        await _drain(receive, drain_bytes)
    if scope["path"].startswith("/api/"):
        body, kind = json.dumps({"error": line}).encode(), b"application/json"
    else:
        body, kind = (
            _REFUSAL.format(line=escape(sentence(line)), css=asset("mow.css").address).encode(),
            b"text/html; charset=utf-8",
        )
    headers = [(b"content-type", kind), (b"content-length", str(len(body)).encode())]
    if status == 401:
        headers.append((b"www-authenticate", b"Bearer"))
    if status == 413:
        headers.append((b"connection", b"close"))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})


async def _drain(receive: Receive, most_bytes: int) -> None:
    until, left = monotonic() + DRAIN_S, most_bytes
    while left > 0 and monotonic() < until:
        message = await receive()
        left -= len(message.get("body", b""))
        if message["type"] != "http.request" or not message.get("more_body"):
            return


_REFUSAL = """<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Not let through</title><link rel="stylesheet" href="{css}"></head>
<body><header class="head"></header><main><h1>Not let through</h1><p>{line}</p>
<p><a class="button plain" href="/">Try again</a></p></main></body></html>
"""
