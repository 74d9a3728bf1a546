"""Minutes left without a log: the short form on the page."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import httpx
import pytest
from page_kit import RunningPage, running_page

from estimator.descriptions import Lawn, Pack
from estimator.logbook import keep_lawn, keep_pack, open_logbook


@pytest.fixture
def described(tmp_path: Path) -> Iterator[RunningPage]:
    """The page of a logbook with two lawns and one pack."""
    where = tmp_path / "logbook.sqlite"
    with open_logbook(where) as book:
        keep_lawn(book, Lawn("orchard", area_m2=420))
        keep_lawn(book, Lawn("verge", area_m2=60))
        keep_pack(book, Pack(name="bank", chemistry="lfp", series=16, capacity_ah=20, cut_off_v=44))
    with running_page(where, tmp_path) as page:
        yield page


def read(answer: httpx.Response) -> str:
    """What the answer shows, with plain blanks."""
    return unescape(answer.text).replace("\xa0", " ")


def test_the_form_is_found_from_the_question_and_answers_with_a_band(described: RunningPage) -> None:
    with described.visitor() as visitor:
        assert "/minutes/by-hand" in visitor.get("/minutes").text
        asked = {"typical_a": "17", "minutes": "12", "start_charge": "100", "one_more": "yes"}
        answer = visitor.get("/minutes/by-hand", params=asked)
        assert answer.status_code == 200
        assert "Until bank stops" in read(answer)
        assert "One more lawn now?" in read(answer)
        chances = re.findall(r"<strong>(\w+)</strong><span class=\"number\">([^<]+)<", read(answer))
        assert [lawn for lawn, _ in chances] == ["verge", "orchard"], "the likeliest first"


def test_what_is_missing_or_odd_is_said_and_nothing_typed_is_lost(described: RunningPage) -> None:
    with described.visitor() as visitor:
        answer = visitor.get("/minutes/by-hand", params={"typical_a": "17", "load_v": "50,1"})
        assert answer.status_code == 422
        assert "The minutes of mowing are missing" in read(answer)
        assert 'value="50,1"' in answer.text
        assert visitor.get("/minutes/by-hand").status_code == 200
