"""Reports to print, shown in the browser or saved as a file."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from estimator.answers.capacity import capacity_to_buy
from estimator.answers.charge_curve import charge_of_mow
from estimator.answers.figures.mow_log import log_of_mow
from estimator.answers.mow import story_of_mow
from estimator.answers.plan import plan_of_day
from estimator.answers.seasons import seasons_compared
from estimator.answers.track_record import record_so_far
from estimator.errors import InputError
from estimator.page.questions import capacity_question, plan_question
from estimator.page.remembered import remembered
from estimator.page.screens.answering import asked
from estimator.report.printable import STYLE_SOURCE, mow_report, season_report

Answer = TypeVar("Answer")
POLICY = (
    f"default-src 'none'; style-src {STYLE_SOURCE}; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)


def _mow(request: Request) -> Response:
    book, number = request.app.state.book, request.path_params["number"]
    log = log_of_mow(book, number)
    charge = _if_there(lambda: charge_of_mow(book, number, log))
    return _shown(mow_report(story_of_mow(book, number), charge, log), f"mow-{number}.html")


def _seasons(request: Request) -> Response:
    sent = asked(request)
    text = season_report(
        _if_there(lambda: remembered(request, seasons_compared, sent.text("pack") or None)),
        _if_there(lambda: remembered(request, plan_of_day, plan_question(sent))),
        _if_there(lambda: remembered(request, capacity_to_buy, capacity_question(sent))),
        _if_there(lambda: remembered(request, record_so_far)),
    )
    return _shown(text, "seasons.html")


def _if_there(ask: Callable[[], Answer]) -> Answer | None:
    try:
        return ask()
    except InputError:
        return None


def _shown(text: str, name: str) -> Response:
    headers = {"content-security-policy": POLICY, "content-disposition": f'inline; filename="{name}"'}
    return HTMLResponse(text, headers=headers)


ROUTES = [Route("/mows/{number:int}/report", _mow), Route("/seasons/report", _seasons)]
