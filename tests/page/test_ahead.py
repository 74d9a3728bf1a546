"""Answers that are ready, answers that take long, and what a mow added late leaves for later."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Event

import pytest
from page_kit import LONGEST_WAIT_S, running_page, token_of

from estimator.answers.looking_back.pack_life import pack_life
from estimator.logbook import latest_change, newest_number, open_logbook
from estimator.page.ahead import usual_questions
from estimator.page.remembered import Remembered, StillWorking, question_of

ASKED = ("/", "/lawns", "/capacity", "/seasons", "/life", "/record", "/grass")


def test_what_takes_long_goes_on_and_is_found_later(tmp_path: Path) -> None:
    go, asked = Event(), []

    def slow() -> int:
        asked.append(1)
        assert go.wait(LONGEST_WAIT_S)
        return 7

    memory = Remembered(patience_s=0.02)
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        for _ in range(3):
            with pytest.raises(StillWorking):
                memory.answer(book, "slow", slow)
        go.set()
        assert memory.answer(book, "slow", slow, patience_s=LONGEST_WAIT_S) == 7
        assert memory.answer(book, "slow", slow) == 7
    assert asked == [1], "asked again and again, worked out once"


def test_a_page_says_that_it_is_working_and_answers_later(orchard_copy: Path, tmp_path: Path) -> None:
    with running_page(orchard_copy, tmp_path, patience_s=0.001) as page, page.visitor() as visitor:
        first = visitor.get("/mows/2/minutes")
        assert first.status_code == 202
        assert "Working it out" in first.text and 'http-equiv="refresh"' in first.text
        assert visitor.get("/").status_code == 200, "the first page does not wait"
        deadline = time.monotonic() + LONGEST_WAIT_S
        while (answer := visitor.get("/mows/2/minutes")).status_code == 202:
            assert time.monotonic() < deadline
            time.sleep(0.1)
        assert "Minutes left after this mow" in answer.text


def test_after_a_change_the_pages_find_their_answers_ready(orchard_copy: Path, tmp_path: Path) -> None:
    """Every question that a page asks when nothing else is said was answered ahead, under the same name.

    Except the life of the latest pack: no mow of the old box shows its capacity, and that is said at once.
    """
    with running_page(orchard_copy, tmp_path, ahead=True) as page, page.visitor() as visitor:
        form = {"form_token": token_of(visitor, "/list/lawn"), "name": "hen run", "area": "90"}
        assert visitor.post("/list/lawn", data=form).status_code == 200
        with open_logbook(orchard_copy) as book:
            wanted = [
                question_of((ask.__name__, arguments))
                for ask, arguments in usual_questions(book)
                if ask is not pack_life
            ]
            memory, deadline = page.app.state.remembered, time.monotonic() + LONGEST_WAIT_S
            now = latest_change(book)
            while missing := set(wanted) - _answered(memory, now):
                assert time.monotonic() < deadline, missing
                time.sleep(0.2)
            newest = newest_number(book)
        ready = dict(memory._works)
        for path in (*ASKED, f"/mows/{newest}/minutes"):
            visitor.get(path)
        asked = {each for each in _answered(memory, now) if memory._works[each] is not ready.get(each)}
        assert asked == set(), "a page asked something else, or again"


def _answered(memory: Remembered, change: str) -> set[str]:
    return {
        question
        for question, work in memory._works.items()
        if work.change == change and work.found.done() and not work.failed
    }


def test_a_page_waits_for_what_is_worked_out_ahead(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        memory = Remembered(patience_s=0.01)
        ahead, new = memory.work_on(question_of("slow"), latest_change(book))
        assert new and not memory.work_on(question_of("slow"), latest_change(book))[1]

        def again() -> int:
            raise AssertionError("worked out a second time")

        with pytest.raises(StillWorking):
            memory.answer(book, "slow", again)
        ahead.found.set_result(7)
        assert memory.answer(book, "slow", again) == 7


def test_a_page_works_out_what_was_given_up_ahead(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "logbook.sqlite") as book, ThreadPoolExecutor(1) as pool:
        memory = Remembered()
        ahead, _ = memory.work_on(question_of("slow"), latest_change(book))
        waits = pool.submit(memory.answer, book, "slow", lambda: 8)
        time.sleep(0.05)
        assert not waits.done(), "it waits for the work ahead"
        ahead.found.cancel()
        assert waits.result(LONGEST_WAIT_S) == 8
        assert not memory.work_on(question_of("slow"), latest_change(book))[1]
