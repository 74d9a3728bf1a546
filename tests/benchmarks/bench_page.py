"""How quickly the page answers, compared with the same answer without the page and with a small logbook.

    python tests/benchmarks/bench_page.py

The page really listens and a visitor really asks; processor time is that of visitor and server together.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "page"))

import httpx
from orchard_books import PACK, copy_of
from page_kit import BEARER, running_page
from ratio import Ratio, beside, seconds

from estimator.answers.plan import PlanQuestion, plan_of_day
from estimator.logbook import open_logbook

RUNS = 9
PAGES = (
    "/", "/mows", "/mows/1", "/lawns?lawn=apple+rows&pack=green+crate",
    "/capacity?lawn=apple+rows&pack=green+crate",
    "/grass", "/seasons", "/record", "/minutes", "/list", "/logbook", "/add",
)  # fmt: skip


def afresh(number: int) -> float:
    """A start charge that was not asked about before, so that no remembered answer is used."""
    return 0.9 + number / 1000


def got(visitor: httpx.Client, path: str) -> float:
    """Processor time [s] of one page."""
    return seconds(lambda: visitor.get(path).raise_for_status())


def lawns_page(folder: Path) -> list[Ratio]:
    """Today's lawns with 200 mows, asked for the first time and again, compared with the bare answer."""
    book = copy_of(200, "page 200")
    asked, again, bare = [], [], []
    with (
        running_page(book, folder) as page,
        page.visitor(headers=BEARER) as visitor,
        open_logbook(book) as own,
    ):
        for k in range(RUNS + 1):
            question = PlanQuestion(("apple rows",), pack=PACK, start_charge=afresh(k))
            path = f"/lawns?lawn=apple+rows&pack=green+crate&start_charge={100 * afresh(k)}"
            bare.append(seconds(partial(plan_of_day, own, question)))
            asked.append(got(visitor, path))
            again.append(got(visitor, path))
    ours, once_more, theirs = (statistics.median(each[1:]) for each in (asked, again, bare))
    how = f"processor time of visitor and server, medians of {RUNS} by turns after 1"
    return [
        Ratio(
            "page of today's lawns, 200 mows", "the same answer by the library", ours / theirs, None, how,
            beside(ours, theirs),
        ),
        Ratio(
            "the same page asked again", "asked the first time", once_more / ours, None, how,
            beside(once_more, ours),
        ),
    ]  # fmt: skip


def many_mows(folder: Path) -> list[Ratio]:
    """Every page with 2,000 mows, asked for the first time; the list of mows compared with that of 10."""
    few, many = [], []
    with (
        running_page(copy_of(2000, "page 2000"), folder / "large") as large,
        running_page(copy_of(10, "page 10"), folder / "small") as small,
        large.visitor(headers=BEARER) as visitor,
        small.visitor(headers=BEARER) as other,
    ):
        took = {path: got(visitor, path) for path in PAGES}
        got(other, "/mows")
        for _ in range(RUNS):
            many.append(got(visitor, "/mows"))
            few.append(got(other, "/mows"))
    slowest = max(PAGES, key=took.__getitem__)
    ours, theirs = (1000 * statistics.median(each) for each in (many, few))
    how = "processor time of visitor and server, "
    return [
        Ratio(
            f"slowest of {len(PAGES)} pages, 2,000 mows: `{slowest}`", "one second", took[slowest], 1.0,
            f"{how}each asked once, cold", beside(took[slowest], 1.0),
        ),
        Ratio(
            "page of the list, 2,000 mows", "10 mows", ours / theirs, None, f"{how}medians of {RUNS}, warm",
            beside(ours, theirs, "ms"),
        ),
    ]  # fmt: skip


def ratios() -> list[Ratio]:
    """The page compared with the library, and a large logbook with a small one."""
    with tempfile.TemporaryDirectory() as folder:
        return lawns_page(Path(folder) / "200") + many_mows(Path(folder))


if __name__ == "__main__":
    from table import show

    show(ratios())
