"""One recording before it is kept: what was recognised and what is proposed, both to be corrected."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers.keeping.keep import add_mow
from estimator.errors import AlreadyKept, InputError
from estimator.logbook import lawns, machines, meters, packs
from estimator.mends import worded_for
from estimator.page.door.forms import Sent, takes_form
from estimator.page.door.pending import PendingUpload, all_waiting, drop_upload, get_upload, say
from estimator.page.screens.adding import with_proposals
from estimator.page.screens.as_kept import as_kept, circumstances
from estimator.page.showing.decision_fields import DECISIONS, TOUCHED, labelled_below
from estimator.page.showing.decisions import METERS, examine_upload, touched_columns
from estimator.page.showing.rendering import go_to, page
from estimator.page.showing.words import sentence
from estimator.report.pictures.log_picture import log_picture
from estimator.report.pictures.picture import page_picture

SAID = (
    "lawn", "pack", "machine", "moisture", "growth_mm", "days_since_cut", "start_charge", "temperature_c",
    "started", "tags",
)  # fmt: skip
"""What a form says of a mow besides its files."""


def _preview(request: Request) -> Response:
    """The upload with what is proposed for it, or with the lawn or pack that was described just before."""
    folder = request.app.state.settings.pending_folder
    upload = get_upload(folder, request.path_params["key"])
    named = {name: text for name in ("lawn", "pack") if (text := request.query_params.get(name))}
    if named or "trouble" not in upload.said:
        said = {**with_proposals(request, upload.files, upload.said), **named, "asked": ""}
        upload = say(folder, upload.key, said)
    return _shown(request, upload)


def _shown(request: Request, upload: PendingUpload, problem: str | None = None) -> Response:
    from estimator.fitting.by_hand.spot_volts import with_usual_volts
    from estimator.fitting.charge_used import charge_used

    book = request.app.state.book
    examined, log, drawn, used, refused, minutes = None, None, None, None, None, 0.0
    unlikely: tuple[str, ...] = ()
    known_packs = packs(book)
    try:
        examined = examine_upload(request, upload.files, upload.said)
        pack = next((each for each in known_packs if each.name == upload.said.get("pack")), None)
        log = with_usual_volts(examined.log, pack or next(iter(known_packs), None))
        drawn = page_picture(log_picture(log, examined))
        used = charge_used(log)
        minutes = float(upload.said.get("minutes") or log.readings["time_s"].iloc[-1] / 60)
        found = as_kept(request, upload.files, upload.said, log)
        unlikely = found.doubts
        if found.read is not None:
            used, minutes = found.read.used, found.read.features.motor_s / 60
    except InputError as error:
        examined, problem, refused = None, problem or sentence(error, labelled_below), error.table
    return page(
        request, "preview.html", problem=problem,
        upload=upload, examined=examined, refused=refused, drawn=drawn, log=log, used=used, minutes=minutes,
        decisions=DECISIONS, meters=tuple(meters(book)), touched=TOUCHED,
        lawns=lawns(book), packs=known_packs, machines=machines(book),
        values={name: upload.said.get(name, "") for name in (*SAID, "dated_by")}, doubts=unlikely,
        notes=worded_for(log.notes, labelled_below)
        if examined and log else [],
    )  # fmt: skip


def _take(request: Request, sent: Sent) -> PendingUpload:
    """The upload with all that the form says of it, which is stored with it so that nothing typed is lost."""
    settings = request.app.state.settings
    upload = get_upload(settings.pending_folder, request.path_params["key"])
    fields = {name: sent.text(name)[:200] for name in (*SAID, *DECISIONS, *METERS) if name in sent.fields}
    said = {**upload.said, **fields, **touched_columns(sent)}
    if said.get("started") != upload.said.get("started"):
        said["dated_by"] = said["day"] = ""
    return say(settings.pending_folder, upload.key, said)


def _say(request: Request, sent: Sent) -> Response:
    """Read the upload again as the form says, or go and describe a lawn or pack first."""
    upload = _take(request, sent)
    if (kind := sent.text("describe")) in ("lawn", "pack"):
        return go_to(f"/list/{kind}?onward=/add/{upload.key}")
    proposed = with_proposals(request, upload.files, upload.said)
    say(request.app.state.settings.pending_folder, upload.key, proposed)
    return go_to(f"/add/{upload.key}")


def _keep(request: Request, sent: Sent) -> Response:
    upload = _take(request, sent)
    try:
        number = keep_upload(request, upload, sent)
    except AlreadyKept as error:
        drop_upload(request.app.state.settings.pending_folder, upload.key)
        return go_to(f"/mows/{error.mow}", "again")
    except InputError as error:
        return _shown(request, upload, sentence(error, labelled_below))
    return go_to(f"/mows/{number}/kept")


def keep_upload(request: Request, upload: PendingUpload, sent: Sent) -> int:
    """Keep an upload as a mow; returns its number."""
    examine_upload(request, upload.files, upload.said)
    figures = add_mow(request.app.state.book, upload.files, circumstances(sent, upload.said))
    drop_upload(request.app.state.settings.pending_folder, upload.key)
    assert figures.mow is not None
    return figures.mow


def _drop(request: Request, sent: Sent) -> Response:
    folder = request.app.state.settings.pending_folder
    drop_upload(folder, request.path_params["key"])
    return go_to("/waiting" if all_waiting(folder) else "/add", "dropped")


ROUTES = [
    Route("/add/{key}", _preview),
    Route("/add/{key}/say", takes_form(_say), methods=["POST"]),
    Route("/add/{key}/keep", takes_form(_keep), methods=["POST"]),
    Route("/add/{key}/drop", takes_form(_drop), methods=["POST"]),
]
