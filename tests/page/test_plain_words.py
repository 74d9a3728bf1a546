"""The page assumes nothing that was not said, and its sentences are about what the visitor sees."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import httpx
import pytest
from page_kit import running_page, token_of, upload

from estimator.logbook import Change
from estimator.report.words.change_text import changed_words


def test_a_full_pack_is_proposed_with_its_reason(writer: httpx.Client, samples: Path) -> None:
    """Proposed where the first volts are those of a full pack; can be changed; if blank, it is worked out."""
    shown = upload(writer, samples / "2025-05-03a.csv").text
    assert "its first volts are those of a full pack" in shown
    asked = re.search(r'<input id="start_charge"[^>]*>', shown)
    assert asked is not None
    assert 'value="100"' in asked[0]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (
            {"idle_a": "6", "typical_a": "4.4", "minutes": "20"},
            "Idle amps of 6 are above typical amps of 4.4; correct one, or swap them.",
        ),
        (
            {"minutes": "20", "rest_before_v": "54", "idle_a": "1.5"},
            "Typical amps are missing; fill them in, or the mean, or volts at rest after with the minutes.",
        ),
        (
            {"idle_a": "2", "highest_a": "12", "load_v": "50"},
            "The minutes of mowing are missing; fill them in, or volts at rest after.",
        ),
        (
            {"typical_a": "-4", "minutes": "20", "load_v": "50"},
            "Typical current is -4\u00a0A; give 0 to 10000\u00a0A.",
        ),
    ],
)
def test_a_form_is_told_of_readings_and_not_of_files(
    writer: httpx.Client, given: dict[str, str], said: str
) -> None:
    answer = writer.post("/add/by-hand", data={"form_token": token_of(writer, "/add/by-hand"), **given})
    assert answer.status_code == 422
    assert f"<strong>{said}</strong>" in answer.text


def test_a_note_names_the_field_that_overrules_it(writer: httpx.Client, samples: Path) -> None:
    two = [samples / "2024-07-06a-amps.csv", samples / "2024-07-06a-volts.csv"]
    shown = unescape(upload(writer, *two).text)
    assert "“Seconds to add to the voltmeter's clock” below overrules it" in shown
    assert "--decide" not in shown


def test_a_kept_mow_does_not_tell_how_to_read_it_otherwise(reader: httpx.Client) -> None:
    noted = [text for n in range(1, 15) if "Two meters joined" in (text := reader.get(f"/mows/{n}").text)]
    assert noted
    assert not any("overrules it" in text for text in noted)


def test_a_paper_note_that_cannot_be_read_leads_to_the_form(writer: httpx.Client, tmp_path: Path) -> None:
    note = tmp_path / "note.csv"
    note.write_text("idle A,typical A,highest A,volts before\n1.5,4.4,12,54\n")
    assert 'noted on paper can also be <a href="/add/by-hand">' in upload(writer, note).text


def test_a_small_lawn_keeps_its_half_metre(orchard_copy: Path, tmp_path: Path) -> None:
    with running_page(orchard_copy, tmp_path) as page, page.visitor() as visitor:
        fields = {"form_token": token_of(visitor), "name": "by the well", "area": "95.5"}
        assert visitor.post("/list/lawn", data=fields).status_code == 200
        for path in ("/list", "/", "/lawns"):
            assert "95.5\u00a0m²" in visitor.get(path).text, path


def test_bringing_back_a_mow_is_told_without_the_time_kept_for_it() -> None:
    gone = Change("mow 3", "2025-05-02T09:00:00Z", "removed", {"removed": None}, {"removed": "2025-05-02"})
    back = Change("mow 3", "2025-05-03T09:00:00Z", "restored", {"removed": "2025-05-02"}, {"removed": None})
    assert changed_words(gone) == changed_words(back) == []


def test_when_a_mow_began_is_changed_with_the_pickers_of_the_browser(reader: httpx.Client) -> None:
    shown = reader.get("/mows/1").text
    asked = re.search(r'<input id="started"[^>]*>', shown)
    assert asked is not None
    assert 'type="datetime-local"' in asked[0]
    assert re.search(r'value="\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d"', asked[0])
