"""Add mows: files or hand readings are taken in, and each recording waits with what is proposed for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers.keeping.keep import spot_file
from estimator.answers.keeping.proposal import propose
from estimator.errors import InputError
from estimator.logbook import latest_change, packs
from estimator.page.door.forms import MOST_FILES, Fields, Sent, read_sent, takes_form
from estimator.page.door.pending import all_waiting, drop_upload, get_upload, put_upload
from estimator.page.screens.as_kept import as_kept
from estimator.page.screens.first_page import latest_mow
from estimator.page.settings import PageSettings
from estimator.page.showing.decision_fields import labelled_below
from estimator.page.showing.decisions import examine_upload
from estimator.page.showing.hand_readings import (
    RARER_WORDS,
    SPOT_WORDS,
    needed_readings,
    volts_missing,
    without_file,
)
from estimator.page.showing.rendering import go_to, page
from estimator.page.showing.words import sentence

Files = Sequence[tuple[str, bytes]]


def _start(request: Request, problem: str | None = None) -> Response:
    return page(
        request, "add.html", problem=problem, most_files=MOST_FILES,
        waiting=len(all_waiting(request.app.state.settings.pending_folder)),
    )  # fmt: skip


def _take_files(request: Request, sent: Sent) -> Response:
    """Take files in: each that is complete by itself waits as a mow, the others wait in pairs."""
    if not sent.files:
        return _start(request, "Choose a file first.")
    settings: PageSettings = request.app.state.settings
    dated = dict(zip((name for name, _ in sent.files), sent.all("modified"), strict=False))
    keys = []
    for files in recordings_of(request, sent.files):
        days = [day for name, _ in files if (day := dated.get(name, ""))]
        keys.append(
            put_upload(
                settings.pending_folder, files, with_proposals(request, files, {}, min(days, default=""))
            )
        )
    return go_to(f"/add/{keys[0]}" if len(keys) == 1 else "/waiting")


def recordings_of(request: Request, files: Files) -> list[Files]:
    """The files of each recording: one file that can be read by itself, or two that can be read together."""
    if len(files) == 1:
        return [files]
    found: list[Files] = []
    rest: list[tuple[str, bytes]] = []
    for file in files:
        if _is_read(request, [file]):
            found.append([file])
        else:
            rest.append(file)
    if len(files) == 2 and len(rest) == 2:  # what is wrong is said about the two together
        return [rest]
    while rest:
        one = rest.pop(0)
        other = next((each for each in rest if _is_read(request, [one, each])), None)
        if other is not None:
            rest.remove(other)
        found.append([one] if other is None else [one, other])
    return found


def _is_read(request: Request, files: Files) -> bool:
    try:
        examine_upload(request, files, {})
    except InputError:
        return False
    return True


def with_proposals(
    request: Request, files: Files, said: Mapping[str, str], modified: str = ""
) -> dict[str, str]:
    """What was said of an upload, with a proposal for what was not said.

    modified : the file's own date (ISO); where the log has no date, the mow is taken to have ended then
    """
    book = request.app.state.book
    try:
        log = examine_upload(request, files, said).log
        ended = _instant(modified)
        length = timedelta(seconds=float(log.readings["time_s"].iloc[-1]))
        by_file = None if log.started or ended is None else ended - length
        found = propose(book, log, by_file)
    except InputError as error:
        return {**said, "trouble": sentence(error, labelled_below)}
    latest, began = latest_mow(book), log.started or by_file
    proposed = {
        "lawn": found.lawn or "",
        "pack": found.pack or "",
        "machine": (latest.machine if latest else None) or "",
        "start_charge": "100" if found.start_charge == 1.0 else "",
        "started": by_file.isoformat(timespec="minutes") if by_file else "",
    }
    shown = {
        "minutes": f"{found.minutes:.1f}",
        "energy_wh": f"{found.energy_wh:.1f}",
        "day": began.isoformat(timespec="minutes") if began else said.get("day", ""),
        "dated_by": "file" if by_file else said.get("dated_by", ""),
        "by_hand": "yes" if log.spot else "",
        "trouble": "",
        "proposed_at": latest_change(book),
    }
    proposed = {**proposed, **said, **shown}
    return {**proposed, "doubtful": "; ".join(as_kept(request, files, proposed, log).doubts)}


def _instant(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text).replace(tzinfo=None) if text else None
    except ValueError:
        return None


async def _take_shared(request: Request) -> Response:
    """Take files that a phone shares with the page, where it is installed on the phone.

    Such a form comes from the phone itself, so it carries no token; no other site can send it, since the
    browser says where a form comes from.
    """
    if request.headers.get("sec-fetch-site") not in ("none", "same-origin"):
        raise HTTPException(403, "files are shared by the phone itself; open the page and choose them there")
    return await run_in_threadpool(_take_files, request, await read_sent(request))


def _form(request: Request, typed: Mapping[str, str] | None = None, problem: str | None = None) -> Response:
    """The form for hand readings: blank, as it was typed, or with the readings of a waiting upload."""
    if key := request.query_params.get("instead"):
        upload = get_upload(request.app.state.settings.pending_folder, key)
        spot = examine_upload(request, upload.files, {}).log.spot
        shares = {name for name in vars(spot) if name.startswith("gauge")}
        read = {name: value for name, value in vars(spot).items() if value is not None}
        typed = {name: f"{100 * value if name in shares else value:g}" for name, value in read.items()}
        typed["instead"] = key
    return page(
        request, "by_hand.html", problem=problem, now=SPOT_WORDS, more=RARER_WORDS, values=Fields(typed or {})
    )


def _take_by_hand(request: Request, sent: Sent) -> Response:
    try:
        spot = needed_readings(sent)
        if not spot.volts and not packs(request.app.state.book):
            raise volts_missing()
        now = datetime.now()
        files = [spot_file(spot, now)]
        examine_upload(request, files, {})
    except InputError as error:
        return _form(request, sent.fields, without_file(error))
    folder = request.app.state.settings.pending_folder
    before: Mapping[str, str] = {}
    if key := sent.text("instead"):
        before = get_upload(folder, key).said
        drop_upload(folder, key)
    # as on a terminal: it ended just now, unless the next screen says otherwise
    said = with_proposals(request, files, before, "" if before else now.isoformat(timespec="minutes"))
    said["dated_by"] = before.get("dated_by", "")
    return go_to(f"/add/{put_upload(folder, files, said)}")


ROUTES = [
    Route("/add", _start),
    Route("/add", takes_form(_take_files), methods=["POST"]),
    Route("/add/shared", _take_shared, methods=["POST"]),
    Route("/add/by-hand", _form),
    Route("/add/by-hand", takes_form(_take_by_hand), methods=["POST"]),
]
