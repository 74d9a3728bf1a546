"""The JSON interface under /api: the page's questions for phone shortcuts and scripts."""

from __future__ import annotations

import json
from dataclasses import dataclass, fields

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from estimator.answers.capacity import CapacityAnswer, capacity_to_buy
from estimator.answers.charge_curve import ChargeOfMow, charge_of_mow
from estimator.answers.describe import Described, all_described
from estimator.answers.keeping.changing import split_mow
from estimator.answers.keeping.keep import add_mow, spot_file
from estimator.answers.keeping.read_mow import MowFigures
from estimator.answers.looking_back.compare import CompareAnswer, groups_compared
from estimator.answers.looking_back.seasons import SeasonsAnswer, seasons_compared
from estimator.answers.looking_back.track_record import TrackRecordAnswer, record_so_far
from estimator.answers.minutes import MinutesAnswer, minutes_of_files
from estimator.answers.mow import MowStory, story_of_mow
from estimator.answers.plan import PlanAnswer, plan_of_day
from estimator.answers.why import as_plain
from estimator.descriptions import Lawn
from estimator.errors import AlreadyKept, InputError, NotFound
from estimator.importer.log import SpotNotes
from estimator.logbook import Logbook, MowRecord, delete, keep_lawn, keep_pack, merge, mows
from estimator.page.door.forms import Sent, needed_amount, number_of, read_sent, sent_query
from estimator.page.interface.live_operations import LIVE
from estimator.page.interface.openapi import Operation, openapi
from estimator.page.questions import capacity_question, minutes_question, plan_question
from estimator.page.remembered import remembered
from estimator.page.screens.as_kept import circumstances
from estimator.page.screens.descriptions import pack_of
from estimator.page.screens.looking_back import compare_question
from estimator.page.showing.decision_fields import as_sent
from estimator.page.showing.decisions import examine_upload
from estimator.page.showing.hand_readings import spot_of

PER_PAGE = 50
"""How many mows one answer lists; bounds its size."""
LARGEST_MOW_NUMBER = 2**31 - 1
"""The largest of PostgreSQL's integers."""


@dataclass(frozen=True)
class MowList:
    """One page of the list of mows, the latest first; `count` is of all pages together."""

    count: int
    page: int
    mows: tuple[MowRecord, ...]


@dataclass(frozen=True)
class Kept:
    """The name of what was described, merged into or deleted."""

    name: str


def _book(request: Request) -> Logbook:
    return request.app.state.book  # type: ignore[no-any-return]


def _list(request: Request, sent: Sent) -> MowList:
    given = number_of(sent, "page", "page")
    number = 1.0 if given is None else given
    if not 1 <= number <= 100_000 or number != int(number):
        raise InputError(f"page is {number:g}", mend="give a whole number from 1")
    found = mows(_book(request), lawn=sent.text("lawn") or None, pack=sent.text("pack") or None)[::-1]
    start = (int(number) - 1) * PER_PAGE
    return MowList(len(found), int(number), tuple(found[start : start + PER_PAGE]))


def _number(request: Request) -> int:
    number = int(request.path_params["number"])
    if number > LARGEST_MOW_NUMBER:
        raise HTTPException(404)
    return number


def _add(request: Request, sent: Sent) -> MowFigures:
    if not sent.files:
        raise InputError("no file was sent", mend="send one or two as the form field files")
    examine_upload(request, sent.files, sent.fields)
    return add_mow(_book(request), sent.files, circumstances(sent, sent.fields))


def _add_by_hand(request: Request, sent: Sent) -> MowFigures:
    said = circumstances(sent, {})
    return add_mow(_book(request), [spot_file(spot_of(sent), said.started)], said)


def _so_far(request: Request, sent: Sent) -> tuple[tuple[str, bytes], ...]:
    if not sent.files:
        raise InputError("no file was sent", mend="send the log so far as the form field files")
    examine_upload(request, sent.files, {})
    return sent.files


def _merge(request: Request, sent: Sent) -> Kept:
    merge(_book(request), sent.text("kind"), sent.text("name"), sent.text("into"))
    return Kept(sent.text("into"))


def _delete(request: Request, sent: Sent) -> Kept:
    delete(_book(request), sent.text("kind"), sent.text("name"))
    return Kept(sent.text("name"))


def _describe_lawn(request: Request, sent: Sent) -> Kept:
    keep_lawn(_book(request), Lawn(sent.text("name"), area_m2=needed_amount(sent, "area_m2")))
    return Kept(sent.text("name"))


def _describe_pack(request: Request, sent: Sent) -> Kept:
    name = sent.text("name")
    if not name:
        raise InputError("the pack has no name", mend="give it one")
    keep_pack(_book(request), pack_of(name, sent))
    return Kept(name)


GRASS = ("moisture", "growth_mm", "days_since_cut")
CIRCUMSTANCES = ("lawn_one", "pack", "machine", *GRASS, "start_charge", "temperature_c", "started", "tags")
SPOT = tuple(each.name for each in fields(SpotNotes))
PLAN = (
    "lawn", "pack", "machine", *GRASS, "start_charge", "temperature_c", "sure", "reserve", "order", "spare",
)  # fmt: skip
CAPACITY = (
    "lawn", "pack", "machine", *GRASS, "sure", "reserve", "coldest_c", "capacity_at_end", "sizes_ah",
)  # fmt: skip

OPERATIONS = (
    Operation("GET", "/api/mows", "The mows, the latest first.", ("lawn_one_maybe", "pack", "page"), "query",
              MowList, _list),
    Operation("POST", "/api/mows", "Keep a mow from meter files.", ("files", *CIRCUMSTANCES), "form",
              MowFigures, _add, 201),
    Operation("POST", "/api/mows/by-hand", "Keep a mow from a few hand readings.", (*SPOT, *CIRCUMSTANCES),
              "json", MowFigures, _add_by_hand, 201),
    Operation("GET", "/api/mows/{number}", "One mow.", (), "query", MowStory,
              lambda asked, sent: story_of_mow(_book(asked), _number(asked))),
    Operation("GET", "/api/mows/{number}/charge", "Charge through a mow.", (), "query", ChargeOfMow,
              lambda asked, sent: charge_of_mow(_book(asked), _number(asked))),
    Operation("POST", "/api/mows/{number}/split", "Two mows of one log; gives the second.",
              ("at", "lawn_one", "pack"), "json", MowRecord,
              lambda asked, sent: split_mow(
                  _book(asked), _number(asked), sent.text("at"), sent.text("lawn"), sent.text("pack")),
              201),
    Operation("POST", "/api/minutes", "Minutes left after the log so far, which is not kept.",
              ("files", "pack", *GRASS, "start_charge", "temperature_c", "go_on_as", "one_more", "level",
               "gaps"), "form", MinutesAnswer,
              lambda asked, sent: minutes_of_files(
                  _book(asked), minutes_question(sent, _so_far(asked, sent)))),
    Operation("GET", "/api/plan", "Lawns per charge.", PLAN, "query", PlanAnswer,
              lambda asked, sent: remembered(asked, plan_of_day, plan_question(sent))),
    Operation("POST", "/api/plan", "Lawns with what the log so far, which is not kept, left of the charge.",
              ("files", *PLAN), "form", PlanAnswer,
              lambda asked, sent: plan_of_day(_book(asked), plan_question(sent, _so_far(asked, sent)))),
    Operation("GET", "/api/capacity", "Recommended capacity.", CAPACITY, "query", CapacityAnswer,
              lambda asked, sent: remembered(asked, capacity_to_buy, capacity_question(sent))),
    Operation("GET", "/api/seasons", "Seasons compared.", ("pack",), "query", SeasonsAnswer,
              lambda asked, sent: remembered(asked, seasons_compared, sent.text("pack") or None)),
    Operation("GET", "/api/compare", "Two groups of mows compared.",
              ("tag", "changed_on", "only_lawn", "since", "until"), "query", CompareAnswer,
              lambda asked, sent: remembered(asked, groups_compared, compare_question(sent))),
    Operation("GET", "/api/track-record", "How well earlier answers held.", (), "query",
              TrackRecordAnswer, lambda asked, sent: remembered(asked, record_so_far)),
    Operation("GET", "/api/list", "All that was described.", (), "query", Described,
              lambda asked, sent: all_described(_book(asked))),
    Operation("POST", "/api/lawns", "Describe a lawn, or change it.", ("name", "area_m2"), "json",
              Kept, _describe_lawn),
    Operation("POST", "/api/packs", "Describe a pack, or change it.",
              ("name", "chemistry", "series", "capacity_ah", "capacity_guessed", "cut_off_v",
               "current_limit_a"), "json", Kept, _describe_pack),
    Operation("POST", "/api/merge", "Move all mows of a lawn, pack or machine to another, and delete it.",
              ("kind_mown", "name", "into"), "json", Kept, _merge),
    Operation("POST", "/api/delete", "Delete a lawn, pack, machine or meter that no mow uses.",
              ("kind", "name"), "json", Kept, _delete),
    *LIVE,
)  # fmt: skip


def _route(operation: Operation) -> Route:
    async def endpoint(request: Request) -> Response:
        if operation.brings == "query":
            sent = sent_query(request, percent=False)
        elif operation.brings == "form":
            sent = await read_sent(request, percent=False)
        else:
            sent = _from_json(await request.body())
        return await run_in_threadpool(_answer, operation, request, sent)

    path = operation.path.replace("{number}", "{number:int}")
    return Route(path, endpoint, methods=[operation.method])


def _answer(operation: Operation, request: Request, sent: Sent) -> Response:
    try:
        return JSONResponse(as_plain(operation.ask(request, sent)), status_code=operation.status)
    except InputError as error:
        table = {} if error.table is None else {"table": as_plain(error.table)}
        status = 404 if isinstance(error, NotFound) and error.what == "mow" else 422
        status = 409 if isinstance(error, AlreadyKept) else status
        return JSONResponse({"error": error.said(as_sent, percent=False), **table}, status_code=status)


def _from_json(body: bytes) -> Sent:
    """A JSON object of texts and numbers as the fields of a form; it may not hold lists or objects."""
    try:
        found = json.loads(body)
    except (ValueError, RecursionError):
        raise HTTPException(422, "the body is not JSON; send one object") from None
    if not isinstance(found, dict):
        raise HTTPException(422, "the body is not an object; send one with the named fields")
    fields: dict[str, str] = {}
    for name, value in found.items():
        if value is None:
            continue
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            raise HTTPException(422, f"{name[:40]} is neither text nor number")
        fields[name] = value if isinstance(value, str) else repr(value)
    return Sent(fields, {name: [text] for name, text in fields.items()}, percent=False)


ROUTES = [
    Route("/api/openapi.json", lambda _: JSONResponse(openapi(OPERATIONS))),
    *(_route(each) for each in OPERATIONS),
]
