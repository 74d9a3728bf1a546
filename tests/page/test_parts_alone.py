"""Parts of the page on their own: sessions, secrets, answers remembered, meters named, other protocols."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from estimator.errors import InputError
from estimator.logbook import keep_event, keep_meter, open_logbook
from estimator.page.door.guards import HostAndOrigin
from estimator.page.remembered import MOST_ANSWERS, Remembered
from estimator.page.serve import SECRET_VARIABLE, _secret
from estimator.page.settings import PageSettings
from estimator.page.showing.decisions import examine_upload

MOW = "time_s,current_a,voltage_v\n" + "\n".join(f"{k},{6 + k % 3},{52 - k % 2}" for k in range(60))


def test_a_secret_may_be_given_if_it_is_long_and_plain(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SECRET_VARIABLE, "letters-and-digits-1234567890-and-more")
    assert _secret() == "letters-and-digits-1234567890-and-more"
    monkeypatch.setenv(SECRET_VARIABLE, "short")
    with pytest.raises(InputError, match=rf"^{SECRET_VARIABLE} has 5 characters; use \d+ or more letters"):
        _secret()


def test_the_oldest_answers_are_forgotten_first(tmp_path: Path) -> None:
    asked: list[int] = []
    memory = Remembered()
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        keep_event(book, "2025-05-01", "blade care")
        for number in (*range(MOST_ANSWERS + 1), MOST_ANSWERS, 0):
            memory.answer(book, number, lambda number=number: asked.append(number))
    assert asked == [*range(MOST_ANSWERS + 1), 0]


def test_a_meter_must_be_described_before_it_is_named(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        keep_meter(book, "shed clamp", {})
        state = SimpleNamespace(book=book, settings=PageSettings())
        request: Any = SimpleNamespace(app=SimpleNamespace(state=state))
        upload = [("mow.csv", MOW.encode())]
        named = examine_upload(request, upload, {"meter_1": "shed clamp"})
        assert [meter.name for meter in named.meters] == ["shed clamp"]
        with pytest.raises(InputError) as refused:
            examine_upload(request, upload, {"meter_1": "shed clamp", "meter_2": "barn clamp"})
    assert str(refused.value) == "meter 'barn clamp' is not in the logbook; did you mean 'shed clamp'?"


@pytest.mark.parametrize(("kind", "reached"), [("lifespan", True), ("websocket", False)])
def test_only_what_the_page_speaks_goes_through(kind: str, reached: bool) -> None:
    through: list[str] = []

    async def page(scope: Any, receive: Any, send: Any) -> None:
        through.append(scope["type"])

    async def never(*_: Any) -> Any:
        raise AssertionError("nothing is read or answered")

    # a thread of its own: the browser of another test may have left a running loop in this one
    with ThreadPoolExecutor(1) as apart:
        asked = HostAndOrigin(page, PageSettings())({"type": kind}, never, never)
        apart.submit(asyncio.run, asked).result()
    assert bool(through) is reached
