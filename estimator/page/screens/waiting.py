"""What waits to be kept: a line for each recording; those that need no decision are kept with one tap."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from estimator.answers.keeping.after_mow import AfterMow, after_mow
from estimator.errors import AlreadyKept, InputError
from estimator.logbook import latest_change, lawns, mow_count, packs
from estimator.page.door.forms import Sent, takes_form
from estimator.page.door.pending import all_waiting, drop_upload, get_upload, say
from estimator.page.screens.adding import with_proposals
from estimator.page.screens.preview import keep_upload
from estimator.page.showing.rendering import go_to, page
from estimator.page.showing.words import sentence


def _list(request: Request, kept: tuple[AfterMow, ...] = (), known: Sequence[str] = ()) -> Response:
    """What waits, what was just kept, and the files that the logbook had already."""
    folder, book = request.app.state.settings.pending_folder, request.app.state.book
    now, known_lawns, any_mow = latest_change(book), lawns(book), mow_count(book) > 0
    for each in all_waiting(folder):
        given = each.said.get("pack") and (each.said.get("lawn") or not any_mow)
        given = given and not each.said.get("doubtful")  # what a doubt rests on may have been put right
        if not (given or each.said.get("trouble") or each.said.get("proposed_at") == now):
            upload = get_upload(folder, each.key)
            told = {name: text for name, text in upload.said.items() if text}
            say(folder, each.key, with_proposals(request, upload.files, told))
    waiting = all_waiting(folder)
    one = {"lawn": known_lawns[0].name} if known_lawns else {}
    lines = [(each, _needs(each.said), _needs({**each.said, **one})) for each in waiting]
    return page(
        request, "waiting.html", kept=kept, known=known, lines=lines,
        packs=packs(book), lawns=known_lawns,
        ready=sum(not needs for _, needs, _ in lines), askable=sum(not besides for *_, besides in lines),
    )  # fmt: skip


def _needs(said: Mapping[str, str]) -> str:
    """What the user must decide before an upload can be kept; blank where there is nothing."""
    if said.get("trouble"):
        return said["trouble"]
    if said.get("doubtful"):
        return said["doubtful"]
    missing = [what for what in ("lawn", "pack") if not said.get(what)]
    missing += [] if said.get("day") or said.get("started") else ["date"]
    return f"Its {' and '.join(missing)} must be given." if missing else ""


def _keep_all(request: Request, sent: Sent) -> Response:
    """Keep all that need no decision, in order of their days; where one cannot be kept, it says why."""
    folder, book = request.app.state.settings.pending_folder, request.app.state.book
    numbers: list[int] = []
    known: list[str] = []
    for each in sorted(all_waiting(folder), key=lambda one: one.said.get("day", "")):
        lawn = sent.text(f"lawn_{each.key}") or each.said.get("lawn", "")
        if _needs({**each.said, "lawn": lawn}):
            continue
        upload = get_upload(folder, each.key)
        moisture = upload.said.get("moisture") or sent.text("moisture")
        said = {**upload.said, "lawn": lawn, "moisture": moisture}
        try:
            numbers.append(keep_upload(request, upload, Sent(said, {})))
        except AlreadyKept:
            known += each.names
            drop_upload(folder, each.key)
        except InputError as error:
            say(folder, each.key, {**said, "trouble": sentence(error)})
    return _list(request, tuple(after_mow(book, number) for number in numbers), known)


def _drop_all(request: Request, sent: Sent) -> Response:
    folder = request.app.state.settings.pending_folder
    for each in all_waiting(folder):
        drop_upload(folder, each.key)
    return go_to("/waiting", "dropped")


ROUTES = [
    Route("/waiting", _list),
    Route("/waiting/keep", takes_form(_keep_all), methods=["POST"]),
    Route("/waiting/drop", takes_form(_drop_all), methods=["POST"]),
]
