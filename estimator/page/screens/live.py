"""The mow that runs: minutes left in large type, kept up to date by events, or reloaded without scripts."""

from __future__ import annotations

from asyncio import sleep
from collections.abc import AsyncIterator
from pathlib import Path
from time import monotonic

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from estimator import logbook as kept
from estimator.errors import InputError
from estimator.logbook import lawns, packs
from estimator.page.door.forms import Sent, amount_of, takes_form
from estimator.page.door.guards import SESSION_COOKIE
from estimator.page.door.pending import put_upload
from estimator.page.live.posted import begun_of, posted_files, remove_posted
from estimator.page.live.watch import Now, Said, Watch
from estimator.page.showing.assets import asset
from estimator.page.showing.rendering import go_to, page, templates
from estimator.page.showing.words import unbroken

EVENTS = "/live/events"
MOST_STREAMS = 40  # how many pages can be open at once; each holds a connection
POLL_S, QUIET_S = 0.3, 15.0
"""Time between two looks for something new, and time after which a quiet stream says that it is there [s]."""


def _live(request: Request) -> Response:
    watch: Watch = request.app.state.watch
    now, source = watch.look(), watch.source()
    others = [each for each in posted_files(watch.folder) if each != source]
    return page(
        request, "live.html",
        now=now, waits=source is not None, posted=source is not None and source.parent == watch.folder,
        source=source.name if source else "", others=[(each.name, begun_of(each)) for each in others],
        told=Said() if source is None else watch.said(source),
        lawns=lawns(request.app.state.book), packs=packs(request.app.state.book),
        live_js=asset("live.js"), last=0 if now is None else now.number,
    )  # fmt: skip


async def _events(request: Request) -> Response:
    state = request.app.state
    streams: set[object] = state.streams
    if len(streams) >= MOST_STREAMS:
        raise HTTPException(503, "too many screens follow this mow; close one of them")
    given = request.headers.get("last-event-id") or request.query_params.get("last", "")
    stream = _stream(request, int(given) if given.isdecimal() and len(given) < 19 else 0)
    return StreamingResponse(stream, media_type="text/event-stream")


async def _stream(request: Request, sent: int) -> AsyncIterator[str]:
    """Each answer newer than the last one sent, until the visitor, their session or the page is gone."""
    state, me, said = request.app.state, object(), monotonic()
    state.streams.add(me)
    try:
        yield "retry: 2000\n\n"
        while not state.server.should_exit:
            now = state.watch.look()
            if now is not None and now.number > sent:
                sent, said = now.number, monotonic()
                text = await run_in_threadpool(_fragment, now)
                yield (
                    f"id: {sent}\nevent: now\n"
                    + "".join(f"data: {line}\n" for line in text.split("\n"))
                    + "\n"
                )
            elif monotonic() - said > QUIET_S:
                said, secret = monotonic(), request.cookies.get(SESSION_COOKIE)
                if state.settings.pairing and not state.doors.devices.is_let_in(secret):
                    return
                yield ": still here\n\n"
            await sleep(POLL_S)
    finally:
        state.streams.discard(me)


def _fragment(now: Now) -> str:
    return unbroken(templates().get_template("live_now.html").render(now=now))


def _say(request: Request, sent: Sent) -> Response:
    """Take what the user says of the mow; a name that is not described is refused before it is kept."""
    if lawn := sent.text("lawn"):
        kept.lawn(request.app.state.book, lawn)
    request.app.state.watch.say(
        _chosen(request, sent)[0],
        Said(
            pack=sent.text("pack") or None,
            lawn=lawn or None,
            start_charge=amount_of(sent, "start_charge"),
            moisture=sent.text("moisture") or None,
        ),
    )
    return go_to("/live")


def _keep(request: Request, sent: Sent) -> Response:
    """Pass the readings on to the waiting uploads, where they can be kept; only then delete a posted file."""
    watch: Watch = request.app.state.watch
    path, posted = _chosen(request, sent)
    if not path.is_file():
        raise InputError("no readings have come yet", mend="wait for the first ones")
    said, data = watch.said(path), path.read_bytes()
    name = f"live {begun_of(path):%Y-%m-%d %H%M}.csv" if posted else path.name
    folder = request.app.state.settings.pending_folder
    start = "" if said.start_charge is None else f"{100 * said.start_charge:g}"
    told = {"lawn": said.lawn, "pack": said.pack, "moisture": said.moisture, "start_charge": start}
    key = put_upload(folder, [(name, data)], {field: text for field, text in told.items() if text})
    if posted:
        remove_posted(path)
    return go_to(f"/add/{key}")


def _drop(request: Request, sent: Sent) -> Response:
    path, posted = _chosen(request, sent)
    if not posted:
        raise InputError(f"{path.name} is a logger's own file", mend="stop following it instead")
    if not sent.text("sure"):
        return page(request, "live_drop.html", source=path.name, begun=begun_of(path))
    remove_posted(path)
    return go_to("/live", "dropped")


def _chosen(request: Request, sent: Sent) -> tuple[Path, bool]:
    """The file that a form names, and whether it was posted: only a posted file can be thrown away here."""
    watch: Watch = request.app.state.watch
    for each in posted_files(watch.folder):
        if each.name == sent.text("source"):
            return each, True
    source = watch.source()
    if source is None or source.name != sent.text("source"):
        raise InputError("this mow is not here any more", mend="open the page again")
    return source, False


ROUTES = [
    Route("/live", _live),
    Route(EVENTS, _events),
    Route("/live/say", takes_form(_say), methods=["POST"]),
    Route("/live/keep", takes_form(_keep), methods=["POST"]),
    Route("/live/drop", takes_form(_drop), methods=["POST"]),
]
