"""Hand readings on the page and over HTTP: four numbers are enough, what is unlikely is shown."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import pytest
from page_kit import BEARER, RunningPage, running_page, token_of, upload

from estimator.descriptions import Lawn, Pack
from estimator.logbook import Logbook, derived_of_mows, keep_lawn, keep_pack, mows, open_logbook

FOUR = {"idle_a": "1,5", "typical_a": "4,4", "highest_a": "12", "minutes": "26"}


@pytest.fixture
def described(tmp_path: Path) -> Iterator[RunningPage]:
    """The page of a logbook with one lawn and one pack."""
    where = tmp_path / "logbook.sqlite"
    with open_logbook(where) as book:
        keep_lawn(book, Lawn("orchard", area_m2=420))
        keep_pack(
            book,
            Pack(name="crate", chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39, current_limit_a=30),
        )
    with running_page(where, tmp_path) as page:
        yield page


def read(answer: httpx.Response) -> str:
    """What the answer shows, with plain blanks."""
    return unescape(answer.text).replace("\xa0", " ")


def typed(visitor: httpx.Client, readings: dict[str, str]) -> httpx.Response:
    return visitor.post("/add/by-hand", data={"form_token": token_of(visitor, "/add/by-hand"), **readings})


def keep(visitor: httpx.Client, shown: httpx.Response) -> httpx.Response:
    key = shown.url.path.rsplit("/", 1)[1]
    said = {"lawn": "orchard", "pack": "crate", "started": "2025-05-04T09:30"}
    return visitor.post(f"/add/{key}/keep", data={"form_token": token_of(visitor), **said})


def test_what_the_logbook_does_not_show_yet_is_no_mistake(described: RunningPage) -> None:
    """A mow by hand shows no capacity: that is said calmly, as an answer, and other packs can be chosen."""
    with described.visitor() as visitor:
        keep(visitor, typed(visitor, FOUR))
        answer = visitor.get("/life")
        assert answer.status_code == 200 and 'role="alert"' not in answer.text
        assert "No mow of crate shows its capacity yet; log one from full" in read(answer)
        assert "Stay with a full discharge" in read(answer), "whoever is sent to the cut-off is warned"
        record = visitor.get("/record")
        assert record.status_code == 200 and "1 mow cannot make a track record" in read(record)
        assert visitor.get("/life?sure=200").status_code == 422


def test_the_list_and_the_preview_read_the_figures_of_other_mows_once(
    described: RunningPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    with described.visitor() as visitor:
        for minutes in (20, 21):
            keep(visitor, typed(visitor, {**FOUR, "minutes": f"{minutes}"}))
        shown = typed(visitor, FOUR)
        read_of: list[list[int]] = []

        def counted(book: Logbook, kind: str, version: str, numbers: list[int]) -> Any:
            read_of.append([*numbers])
            return derived_of_mows(book, kind, version, numbers)

        monkeypatch.setattr("estimator.answers.figures.mow_figures.derived_of_mows", counted)
        visitor.get("/mows")
        assert sorted(number for each in read_of for number in each) == [1, 2]
        read_of.clear()
        visitor.get(shown.url.path)
        assert [each for each in read_of if len(each) > 1] == [[1, 2]]


def test_four_numbers_make_a_mow(described: RunningPage) -> None:
    with described.visitor() as visitor:
        shown = typed(visitor, FOUR)
        assert "No volts were read: 5" in read(shown)
        kept = keep(visitor, shown)
        assert kept.url.path == "/mows/1/kept"
        one = visitor.get("/mows/1")
        assert "No volts were read: 5" in read(one)
        assert "The charge curve cannot be drawn" not in one.text
        assert visitor.get("/mows/1/report").status_code == 200
        assert visitor.get("/mows/1/minutes").status_code == 200


def test_readings_are_corrected_before_they_are_kept_and_the_same_ones_are_another_mow_on_another_day(
    described: RunningPage,
) -> None:
    with described.visitor() as visitor:
        first = typed(visitor, {"typical_a": "4.4", "rest_after_v": "50", "gauge_after": "60"})
        assert "about" in read(first) and "Something is wrong" not in first.text
        again = re.search(r"/add/by-hand\?instead=\w+", first.text)
        assert again is not None
        form = visitor.get(again[0])
        filled = dict(re.findall(r'name="(\w+)"[^>]*value="([^"]+)"', form.text))
        assert (filled["typical_a"], filled["rest_after_v"], filled["gauge_after"]) == ("4.4", "50", "60")
        assert "<details open><summary>More readings" in form.text
        second = typed(visitor, {**FOUR, "instead": filled["instead"]})
        assert "26 min" in read(second) and "about" not in read(second)
        assert visitor.get(first.url.path).status_code == 422, "the first one waits no longer"
        assert keep(visitor, second).url.path == "/mows/1/kept"
        time.sleep(1.0)  # the same figures within a second count as one press of the button
        key = typed(visitor, FOUR).url.path.rsplit("/", 1)[1]
        said = {"lawn": "orchard", "pack": "crate", "started": "2025-05-11T09:30"}
        kept = visitor.post(f"/add/{key}/keep", data={"form_token": token_of(visitor), **said})
        assert kept.url.path == "/mows/2/kept"


def test_what_is_doubted_is_not_clear_on_the_list(described: RunningPage) -> None:
    """More Ah than the pack holds, and volts at rest that rise: each has its doubt beside it until it is
    looked at or put right; what waits is told apart by its minutes."""
    rising = {"typical_a": "4.4", "minutes": "24", "rest_before_v": "50", "rest_after_v": "53"}
    with described.visitor() as visitor:
        keep(visitor, typed(visitor, FOUR))
        typed(visitor, {**FOUR, "minutes": "25"})
        for doubted in ({**FOUR, "minutes": "600"}, rising):
            assert '<div class="caution"><p>' in typed(visitor, doubted).text
        listed = read(visitor.get("/waiting"))
        assert "Keep the one that is clear" in listed
        assert "4.4 A typical for 600 min are more than crate holds (10 Ah)" in listed
        assert listed.count("Waits for you") == 2
        assert re.findall(r">(By hand, [^<]+)</a>", listed) == [
            "By hand, 25 min", "By hand, 10 h 00 min", "By hand, 24 min"
        ]  # fmt: skip
        instead = re.search(r'href="/add/(\w+)">By hand, 10 h', listed)
        assert instead is not None
        typed(visitor, {**FOUR, "minutes": "27", "instead": instead[1]})
        listed = read(visitor.get("/waiting"))
        assert "Keep the 2 that are clear" in listed and listed.count("Waits for you") == 1
        kept = visitor.post("/waiting/keep", data={"form_token": token_of(visitor)})
        assert "Kept 2 mows." in read(kept)
    with open_logbook(described.settings.logbook) as book:
        assert [each.tags for each in mows(book, doubtful=None)] == [()] * 3


def test_four_numbers_without_a_pack_say_what_is_missing(empty_page: RunningPage) -> None:
    with empty_page.visitor() as visitor:
        refused = typed(visitor, FOUR)
        assert refused.status_code == 422
        assert (
            "<strong>Volts are missing; fill in those at rest before or after, or while mowing, or describe "
            "the pack first: its usual volts then stand in.</strong>"
        ) in refused.text
        assert 'value="4,4"' in refused.text


def test_a_note_without_volts_and_a_pack_cannot_be_read_yet(empty_page: RunningPage, tmp_path: Path) -> None:
    note = tmp_path / "note.csv"
    note.write_text("idle A,typical A,highest A,minutes\n1.5,4.4,12,26\n")
    with empty_page.visitor() as visitor:
        shown = upload(visitor, note)
        assert "This could not be read yet" in shown.text
        assert "volts are missing, and no pack is known whose usual volts could stand in" in shown.text


def test_unlikely_readings_are_shown_before_and_after_keeping(described: RunningPage) -> None:
    odd = {"typical_a": "44", "minutes": "6", "rest_before_v": "54", "rest_after_v": "53.5"}
    with described.visitor() as visitor:
        shown = typed(visitor, odd)
        said = "<p>Typical amps are 44, over the limit of 30 A of crate: check them.</p>"
        assert said in read(shown)
        assert said in read(keep(visitor, shown))


def test_a_log_that_ends_while_cutting_is_shown_where_it_can_be_tagged(
    described: RunningPage, tmp_path: Path
) -> None:
    log = tmp_path / "short.csv"
    log.write_text("time_s,current_a,voltage_v\n" + "".join(f"{k},{5 + 0.1 * (k % 3):.1f},52.{k % 2}\n"
                   for k in range(500)))  # fmt: skip
    with described.visitor() as visitor:
        kept = keep(visitor, upload(visitor, log))
        assert (
            "<p>The log ends while cutting, at 5.1 A and 52.1 V: tag the mow 'stopped short' if the lawn was "
            "not finished, or 'ran out' if the battery stopped the motor.</p>"
        ) in read(kept)


@pytest.mark.parametrize(
    ("readings", "line"),
    [
        (
            {"minutes": 20, "rest_before_v": 54},
            "by hand.csv: typical amps are missing; note them, or mean amps, or, with the "
            "minutes, volts at rest after or what the charger put back",
        ),
        (
            {"minutes": 20, "rest_before_v": 54, "typical_a": 4.4, "highest_a": 3},
            "by hand.csv: typical amps of 4.4 are above highest amps of 3; correct one, or swap them",
        ),
        ({"typical_a": 4.4}, "by hand.csv: minutes are missing; note how long the mowing took, or volts at "
         "rest after it, or what the charger put back"),
        ({"minutes": 20}, "by hand.csv: typical amps are missing; note them, or mean amps, or, with the "
         "minutes, volts at rest after or what the charger put back"),
    ],
)  # fmt: skip
def test_the_interface_names_the_reading_that_cannot_be(
    described: RunningPage, readings: dict[str, float], line: str
) -> None:
    with described.visitor(headers=BEARER) as client:
        answer = client.post("/api/mows/by-hand", json={**readings, "lawn": "orchard"})
    assert (answer.status_code, answer.json()["error"]) == (422, line)


def test_the_interface_takes_four_numbers_and_notes_what_is_unlikely(described: RunningPage) -> None:
    said = {"lawn": "orchard", "started": "2025-05-11T10:00"}
    with described.visitor(headers=BEARER) as client:
        four = client.post(
            "/api/mows/by-hand",
            json={"typical_a": 4.4, "highest_a": 12, "idle_a": 1.5, "minutes": 26, **said},
        )
        odd = client.post("/api/mows/by-hand", json={"typical_a": 4.4, "minutes": 600, **said})
    assert four.status_code == 201, four.text
    assert any("No volts were read" in note for note in four.json()["notes"])
    assert odd.status_code == 201, odd.text
    assert (
        "4.4 A typical for 600 min are more than crate holds (10 Ah): check amps and minutes."
        in odd.json()["notes"]
    )
