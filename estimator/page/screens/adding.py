"""Adding a mow: files or hand readings come in, are looked at, corrected, and kept or thrown away."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers.figures.mow_log import doubts
from estimator.answers.keeping.keep import Circumstances, add_mow, spot_file
from estimator.descriptions import Pack
from estimator.errors import AlreadyKept, InputError
from estimator.importer.by_hand.spot_order import has_volts
from estimator.importer.log import Log
from estimator.logbook import Logbook, lawns, machines, meters, packs
from estimator.page.door.forms import Sent, amount_of, takes_form
from estimator.page.door.pending import PendingUpload, drop_upload, get_upload, put_upload, say
from estimator.page.questions import grass_of
from estimator.page.screens.first_page import latest_mow
from estimator.page.settings import PageSettings
from estimator.page.showing.decisions import (
    DECISIONS,
    METERS,
    decisions_of,
    examine_upload,
    meters_of,
    named_here,
)
from estimator.page.showing.hand_readings import SPOT_WORDS, needed_readings, volts_missing, without_file
from estimator.page.showing.rendering import go_to, page, plain_fields
from estimator.page.showing.words import sentence
from estimator.report.pictures.log_picture import log_picture
from estimator.report.pictures.picture import page_picture
from estimator.written_days import moment

SAID_FIELDS = (
    "lawn", "pack", "machine", "moisture", "growth_mm", "days_since_cut", "start_charge", "temperature_c",
    "started", "tags",
)  # fmt: skip


@dataclass(frozen=True)
class LogSummary:
    """What is told of a log before it is kept."""

    minutes: float
    readings: int
    mean_a: float
    lowest_v: float
    highest_a: float
    ah: float
    ah_std: float
    wh: float
    started: datetime | None
    by_hand: bool


def _start(request: Request) -> Response:
    settings: PageSettings = request.app.state.settings
    return page(request, "add.html", most_bytes=settings.upload_bytes)


def _take_files(request: Request, sent: Sent) -> Response:
    settings: PageSettings = request.app.state.settings
    if not sent.files:
        return page(
            request,
            "add.html",
            status=422,
            problem="Choose one or two files first.",
            most_bytes=settings.upload_bytes,
        )
    return go_to(f"/add/{put_upload(settings.pending_folder, sent.files)}")


def _by_hand(request: Request) -> Response:
    return page(request, "by_hand.html", readings=SPOT_WORDS, values={})


def _take_by_hand(request: Request, sent: Sent) -> Response:
    try:
        spot = needed_readings(sent)
        if not has_volts(spot) and not packs(request.app.state.book):
            raise volts_missing()
        files = [spot_file(spot)]
        examine_upload(request, files, {})
    except InputError as error:
        return page(
            request,
            "by_hand.html",
            status=422,
            problem=without_file(error),
            readings=SPOT_WORDS,
            values=sent.fields,
        )
    return go_to(f"/add/{put_upload(request.app.state.settings.pending_folder, files)}")


def _preview(request: Request) -> Response:
    upload = get_upload(request.app.state.settings.pending_folder, request.path_params["key"])
    return _show_preview(request, upload)


def _contradictions(log: Log, pack: Pack | None) -> tuple[str, ...]:
    """Why a log cannot be of the pack that is named for it."""
    from estimator.fitting.contradictions import check_log_of_pack

    try:
        if pack is not None:
            check_log_of_pack(log, pack)
    except InputError as error:
        return (named_here(sentence(error)),)
    return ()


def _show_preview(request: Request, upload: PendingUpload, problem: str | None = None) -> Response:
    from estimator.fitting.by_hand.spot_volts import with_usual_volts

    book = request.app.state.book
    examined, log, drawn, summary, refused = None, None, None, None, None
    unlikely: tuple[str, ...] = ()
    values, known_packs = _values(book, upload), packs(book)
    try:
        examined = examine_upload(request, upload.files, upload.said)
        pack = next((each for each in known_packs if each.name == values["pack"]), None)
        log = with_usual_volts(examined.log, pack or next(iter(known_packs), None))
        summary = summary_of(log)
        drawn = page_picture(log_picture(log, examined))
        unlikely = (*_contradictions(log, pack), *log.doubts, *doubts(log, pack))
    except InputError as error:
        examined, problem, refused = None, problem or named_here(sentence(error)), error.table
    return page(
        request, "preview.html", status=422 if problem else 200, problem=problem,
        upload=upload, examined=examined, refused=refused, drawn=drawn, summary=summary, decisions=DECISIONS,
        meters=tuple(meters(book)),
        lawns=lawns(book), packs=known_packs, machines=machines(book),
        values=values, doubts=unlikely,
        notes=[named_here(note) for note in log.notes] if examined and log else [],
    )  # fmt: skip


def _values(book: Logbook, upload: PendingUpload) -> dict[str, str]:
    """What the form of circumstances starts with: what was said before, else as with the latest mow."""
    said = plain_fields(upload.said, *SAID_FIELDS)
    if any(said.values()):
        return said
    latest = latest_mow(book)
    if latest is not None:
        said |= {"lawn": latest.lawn, "pack": latest.pack or "", "machine": latest.machine or ""}
    elif len(known := packs(book)) == 1:
        said["pack"] = known[0].name
    return said


def _say(request: Request, sent: Sent) -> Response:
    settings: PageSettings = request.app.state.settings
    key = request.path_params["key"]
    upload = get_upload(settings.pending_folder, key)
    given = {name: sent.text(name)[:200] for name in (*DECISIONS, *METERS) if sent.text(name)}
    say(settings.pending_folder, key, {**plain_fields(upload.said, *SAID_FIELDS), **given})
    return go_to(f"/add/{key}")


def _keep(request: Request, sent: Sent) -> Response:
    settings: PageSettings = request.app.state.settings
    upload = get_upload(settings.pending_folder, request.path_params["key"])
    kept_said = {name: text for name, text in upload.said.items() if name in DECISIONS or name in METERS}
    said = {
        **kept_said,
        **{name: text[:200] for name, text in plain_fields(sent.fields, *SAID_FIELDS).items()},
    }
    say(settings.pending_folder, upload.key, said)
    try:
        examine_upload(request, upload.files, said)
        figures = add_mow(request.app.state.book, upload.files, circumstances(sent, said))
    except AlreadyKept as error:
        drop_upload(settings.pending_folder, upload.key)
        return go_to(f"/mows/{error.mow}", "again")
    except InputError as error:
        return _show_preview(request, PendingUpload(upload.key, upload.files, said), sentence(error))
    drop_upload(settings.pending_folder, upload.key)
    return go_to(f"/mows/{figures.mow}", "kept")


def _drop(request: Request, sent: Sent) -> Response:
    drop_upload(request.app.state.settings.pending_folder, request.path_params["key"])
    return go_to("/add", "dropped")


def circumstances(sent: Sent, said: Mapping[str, str]) -> Circumstances:
    """What a form says of a mow besides its files; `said` is what it says of reading them."""
    return Circumstances(
        lawn=sent.text("lawn"),
        pack=sent.text("pack") or None,
        machine=sent.text("machine") or None,
        grass=grass_of(sent),
        start_charge=amount_of(sent, "start_charge"),
        temperature_c=amount_of(sent, "temperature_c"),
        started=started_of(sent),
        tags=tags_of(sent),
        decisions=decisions_of(said),
        meters=meters_of(said),
    )


def started_of(sent: Sent) -> datetime | None:
    """A date and time from a form, None where it is blank."""
    text = sent.text("started")
    return moment(text) if text else None


def tags_of(sent: Sent) -> tuple[str, ...]:
    """Tags that group mows, separated by commas."""
    return tuple(dict.fromkeys(tag.strip() for tag in sent.text("tags").split(",") if tag.strip()))


def summary_of(log: Log) -> LogSummary:
    """Length, charge and extremes of a log."""
    from estimator.fitting.charge_used import charge_used

    used = charge_used(log)
    time_s, current_a = log.readings["time_s"], log.readings["current_a"]
    return LogSummary(
        minutes=float(time_s.iloc[-1]) / 60,
        readings=len(log.readings),
        mean_a=used.ah / used.measured_s * 3600 if used.measured_s else float("nan"),
        lowest_v=float(log.readings["voltage_v"].min()),
        highest_a=float(current_a.max()),
        ah=used.ah,
        ah_std=used.ah_std,
        wh=used.wh,
        started=log.started,
        by_hand=log.spot is not None,
    )


ROUTES = [
    Route("/add", _start),
    Route("/add", takes_form(_take_files), methods=["POST"]),
    Route("/add/by-hand", _by_hand),
    Route("/add/by-hand", takes_form(_take_by_hand), methods=["POST"]),
    Route("/add/{key}", _preview),
    Route("/add/{key}/say", takes_form(_say), methods=["POST"]),
    Route("/add/{key}/keep", takes_form(_keep), methods=["POST"]),
    Route("/add/{key}/drop", takes_form(_drop), methods=["POST"]),
]
