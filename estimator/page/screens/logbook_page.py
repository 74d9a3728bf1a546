"""The logbook itself: a backup, a check, removed mows, and tables for spreadsheets.

In these tables no text can turn into a formula.
"""

from __future__ import annotations

from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp

import pandas as pd
from starlette.background import BackgroundTask
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.keeping.changing import restore_mow
from estimator.errors import InputError
from estimator.logbook import backup, check, mow_count, mows, purge_mow, readings_csv
from estimator.logbook.upkeep.plain_files import disarmed
from estimator.page.door.forms import Sent, takes_form
from estimator.page.showing.rendering import go_to, page


def _overview(request: Request, sent: Sent | None = None) -> Response:
    """The page of the logbook, with a check where the form asked for one."""
    book = request.app.state.book
    return page(
        request, "logbook.html",
        where=book.where, mow_count=mow_count(book), removed=mows(book, removed=True, doubtful=None),
        checked=check(book) if sent else None,
    )  # fmt: skip


def _backup(request: Request) -> Response:
    folder = Path(mkdtemp(prefix="mowcharge-"))
    try:
        copy = backup(request.app.state.book, folder / "logbook.sqlite")
    except BaseException:
        rmtree(folder, ignore_errors=True)
        raise
    return FileResponse(
        copy,
        filename="mowcharge-logbook.sqlite",
        media_type="application/vnd.sqlite3",
        background=BackgroundTask(rmtree, folder, ignore_errors=True),
    )


def _mows_table(request: Request) -> Response:
    book = request.app.state.book
    records = mows(book, doubtful=None)
    figures = features_of_mows(book, records)
    rows = [
        (
            each.id, each.started.isoformat(" ") if each.started else "", each.lawn, each.pack, each.machine,
            each.grass.moisture, each.grass.growth_mm, each.grass.days_since_cut, each.start_charge,
            each.temperature_c, figures[each.id].motor_s / 60, figures[each.id].energy_wh,
            figures[each.id].mean_w, figures[each.id].peak_5s_w, ", ".join(each.tags),
        )
        for each in records
    ]  # fmt: skip
    headings = (
        "mow", "started", "lawn", "pack", "machine", "moisture", "growth_mm", "days_since_cut",
        "start_charge", "temperature_c", "minutes", "energy_wh", "mean_w", "peak_5s_w", "tags",
    )  # fmt: skip
    table = pd.DataFrame(rows, columns=headings).map(disarmed)
    return _table(table.to_csv(index=False, float_format="%.6g"), "mows.csv")


def _readings(request: Request) -> Response:
    number = request.path_params["number"]
    return _table(readings_csv(request.app.state.book, number), f"mow-{number}-readings.csv")


def _table(text: str, name: str) -> Response:
    return Response(
        text,
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )


def _restore(request: Request, sent: Sent) -> Response:
    number = request.path_params["number"]
    restore_mow(request.app.state.book, number)
    return go_to(f"/mows/{number}", "restored")


def _purge(request: Request, sent: Sent) -> Response:
    if not sent.text("sure"):
        raise InputError("deleting for good was not confirmed", mend="tick the box first")
    purge_mow(request.app.state.book, request.path_params["number"])
    return go_to("/logbook", "purged")


ROUTES = [
    Route("/logbook", _overview),
    Route("/logbook/check", takes_form(_overview), methods=["POST"]),
    Route("/logbook/backup", _backup),
    Route("/logbook/mows.csv", _mows_table),
    Route("/mows/{number:int}/readings.csv", _readings),
    Route("/mows/{number:int}/restore", takes_form(_restore), methods=["POST"]),
    Route("/mows/{number:int}/purge", takes_form(_purge), methods=["POST"]),
]
