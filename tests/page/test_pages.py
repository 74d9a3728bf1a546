"""Every page answers, with a full and an empty logbook; changes are taken, and errors are said."""

from __future__ import annotations

import csv
import io
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import datetime
from html import unescape
from pathlib import Path

import httpx
import pytest
from page_kit import RunningPage, read, running_page, token_of

from estimator.descriptions import Lawn, Machine, Pack
from estimator.logbook import (
    Logbook,
    add_mow,
    edit_mow,
    history,
    keep_lawn,
    lawns,
    machines,
    meters,
    mow,
    mows,
    open_logbook,
    packs,
)
from estimator.page.screens.first_page import latest_mow

PATHS = (
    "/", "/add", "/add/by-hand", "/waiting", "/mows", "/mows?season=2024&lawn=far+meadow",
    "/mows?page=99", "/lawns",
    "/minutes", "/grass", "/more", "/capacity", "/seasons",
    "/life?pack=green+crate", "/compare", "/record", "/conversion",
    "/conversion/cable",
    "/conversion/limits", "/conversion/motor", "/conversion/charging", "/conversion/cost", "/conversion/care",
    "/list", "/list/lawn", "/list/pack", "/list/machine", "/list/meter", "/logbook",
    "/devices", "/pair", "/seasons/report", "/logbook/mows.csv",
)  # fmt: skip
ANSWERS = (
    (
        "/lawns?pack=green+crate&lawn=far+meadow&lawn=apple+rows&place:apple+rows=1&moisture=damp",
        "of 2 lawns",
    ),
    (
        "/lawns?pack=old+box&order=area&start_charge=80&pause_after=1&pause_minutes=30&charger_w=200",
        "of 3 lawns",
    ),
    ("/capacity?pack=green+crate&lawn=apple+rows&sure=90&sizes_ah=8+10+12", "What the margin is made of"),
    ("/seasons?pack=green+crate", "Discharge curves of green crate"),
    ("/life?pack=green+crate&lawn=apple+rows", "for apple rows on one charge"),
    ("/life?pack=green+crate&lawn=apple+rows", "as far as its charge goes"),
    ("/compare?changed_on=2025-01-01", "Energy per area"),
    ("/compare?changed_on=2025-01-01&only_lawn=apple+rows", "before 1 January 2025"),
    ("/record", "Bands that held"),
    ("/grass", "leaves a mark on a shoe"),
    ("/mows/1/minutes", "More of the same, until"),
    ("/conversion/cable?size=6+mm2&one_way_m=1", "Wh/mow"),
    ("/conversion/limits?fuse_a=30", "fuse"),
    ("/conversion/motor?rated_w=2000&engine_hp=5", "of the old engine"),
    ("/conversion/charging?charger_a=4&used_ah=5&pause_minutes=20", "a break gives"),
    (
        "/conversion/cost?price_per_kwh=0.3&mows_per_season=20&petrol_price_per_l=1.8&petrol_l_per_hour=1",
        "petrol",
    ),
    ("/list/lawn?name=apple+rows", 'value="420"'),
    ("/list/pack?name=green+crate", "History"),
    ("/mows/1/report", "Charge left at the end".lower()),
    ("/seasons/report", "Which pack"),
)
WRONG = (
    ("/mows/9999", 422, "Mow 9999 is not in the logbook"),
    ("/lawns?lawn=moon", 422, "Lawn &#39;moon&#39; is not in the logbook"),
    ("/lawns?sure=200", 422, "Certainty is 200"),
    ("/lawns?start_charge=lots", 422, "Start charge is &#39;lots&#39;; give a number"),
    ("/lawns?moisture=soggy", 422, "choose one of dry, damp, wet"),
    ("/capacity?sizes_ah=8;ten", 422, "Size of a pack is &#39;ten&#39;"),
    ("/capacity?coldest_c=400", 422, "Coldest temperature is 400"),
    ("/compare?changed_on=someday", 422, "write it as 2025-05-01 or 2025-05-01T09:30"),
    ("/compare?tag=never+used", 422, "No mow with"),
    ("/compare?tag=rear+roller+off&changed_on=2025-01-01", 422, "a day are given; give one of them"),
    ("/conversion/cable?size=thick&one_way_m=1", 422, 'role="alert"'),
    ("/conversion/cable?size=6+mm2", 422, "Length one way is missing"),
    ("/conversion/nothing", 404, "no such page"),
    ("/list/nothing", 404, "no such page"),
    ("/nothing", 404, "no such page"),
    ("/add/" + "0" * 32, 422, "upload the file again"),
    ("/minutes/" + "0" * 32, 422, "upload the file again"),
)


Look = Callable[[str], httpx.Response]


@pytest.fixture(scope="module")
def look(orchard_page: RunningPage) -> Iterator[Look]:
    """Fetch a page of the orchard's logbook, each address once."""
    seen: dict[str, httpx.Response] = {}
    with orchard_page.visitor() as visitor:

        def looked(path: str) -> httpx.Response:
            if path not in seen:
                seen[path] = visitor.get(path)
            return seen[path]

        yield looked


@pytest.mark.parametrize("path", PATHS)
def test_every_page_answers(look: Look, path: str) -> None:
    answer = look(path)
    assert answer.status_code == 200
    if answer.headers["content-type"].startswith("text/html"):
        assert answer.text.count("<h1>") == 1


def test_every_page_answers_on_an_empty_logbook(empty_page: RunningPage) -> None:
    with empty_page.visitor() as visitor:
        for path in PATHS:
            answer = visitor.get(path)
            assert answer.status_code == 200, (path, answer.text)
            assert 'role="alert"' not in answer.text, path


@pytest.mark.parametrize(("path", "words"), ANSWERS)
def test_questions_are_answered(look: Look, path: str, words: str) -> None:
    answer = look(path)
    assert answer.status_code == 200
    assert words in read(answer)
    assert 'role="alert"' not in answer.text


@pytest.mark.parametrize(("path", "status", "line"), WRONG)
def test_what_is_wrong_is_said(reader: httpx.Client, path: str, status: int, line: str) -> None:
    answer = reader.get(path)
    assert answer.status_code == status
    assert line in read(answer)


def test_every_answer_can_be_asked_why(look: Look) -> None:
    questions = (
        "/lawns /capacity /seasons /record /mows/1 /life?pack=green+crate /compare?changed_on=2025-01-01"
    )
    for path in questions.split():
        page = look(path).text
        figures = page.count('<p class="figure')
        assert figures >= 1
        assert page.count("<summary>Why?</summary>") >= figures, path


def test_cautions_stand_where_cells_and_blades_are_concerned(look: Look) -> None:
    for path in ("/lawns", "/capacity", "/mows/1", "/list/pack", "/conversion/charging?charger_w=200"):
        assert re.search("lithium|Lithium", look(path).text), path
    for path in ("/list", "/lawns", "/conversion/care", "/compare?changed_on=2025-01-01"):
        assert "ake the battery off before you touch the blades" in look(path).text, path
    for path in ("/conversion/limits?fuse_a=30", "/conversion/cable?size=6+mm2&one_way_m=1"):
        assert "local code" in look(path).text, path


def test_no_page_calls_anything_safe(look: Look) -> None:
    for path in (*PATHS, *(path for path, _ in ANSWERS)):
        assert not re.search(r"\bsafe(ly)?\b", look(path).text), path


def test_nothing_in_a_page_is_inline_or_foreign(look: Look) -> None:
    for path in ("/mows/1", "/capacity", "/lawns", "/seasons", "/devices"):
        page = look(path).text
        assert " style=" not in page
        assert "<style" not in page
        outside = set(re.findall(r'(?:src|href|action)="(?!/|#)([^"]*)"', page))
        assert outside == set(), path


def test_names_are_escaped_everywhere(tmp_path: Path, orchard_copy: Path) -> None:
    name = "<script>alert(1)</script>\"'&"
    with open_logbook(orchard_copy) as book:
        keep_lawn(book, Lawn(name, area_m2=100))
    with running_page(orchard_copy, tmp_path) as page, page.visitor() as visitor:
        for path in ("/list", "/mows", "/compare", "/conversion/cost"):
            text = visitor.get(path).text
            assert "<script>alert" not in text, path
            assert "&lt;script&gt;alert" in text, path


@pytest.mark.parametrize(
    ("kind", "fields", "line"),
    [
        ("lawn", {"name": "", "area": "420"}, "A lawn has no name; give it one"),
        ("lawn", {"name": "x", "area": "big"}, "Area is &#39;big&#39;"),
        ("lawn", {"name": "x", "area": "1,200"}, "decimal or a thousands mark"),
        (
            "pack",
            {"name": "x", "chemistry": "nmc", "series": "2.5", "capacity_ah": "1", "cut_off_v": "3"},
            "series",
        ),
        (
            "pack",
            {"name": "x", "chemistry": "wood", "series": "2", "capacity_ah": "1", "cut_off_v": "3"},
            "wood",
        ),
        ("pack", {"name": "x", "chemistry": "nmc", "series": "2", "cut_off_v": "3"}, "Capacity is missing"),
        ("machine", {"name": "x", "width": "wide"}, "Cutting width is"),
        ("meter", {"name": "x", "current_percent": "99"}, "give 0 to 50"),
    ],
)
def test_a_wrong_description_is_said_beside_what_was_typed(
    writer: httpx.Client, kind: str, fields: dict[str, str], line: str
) -> None:
    answer = writer.post(f"/list/{kind}", data={"form_token": token_of(writer), **fields})
    assert answer.status_code == 422
    assert line in answer.text
    for value in set(fields.values()) - {"nmc", "wood"}:
        assert f'value="{value}"' in answer.text


def test_what_is_described_twice_is_merged_and_what_nothing_is_of_deleted(
    orchard_copy: Path, tmp_path: Path
) -> None:
    with running_page(orchard_copy, tmp_path) as own, own.visitor() as visitor:
        token = {"form_token": token_of(visitor)}
        for area in ("1/4 acre", "20 x 35 m"):
            kept = visitor.post("/list/lawn", data={**token, "name": "verge", "area": area})
            assert kept.status_code == 200
        assert "700 m²" in visitor.get("/list").text.replace("\u00a0", " ")
        refused = visitor.post("/list/lawn/delete", data={**token, "was": "apple rows"})
        assert refused.status_code == 422 and "merge it into another one, or edit those first" in refused.text
        deleted = visitor.post("/list/lawn/delete", data={**token, "was": "verge"})
        assert "Deleted. Its description stays in the history." in deleted.text
        assert "Merge into another lawn" in visitor.get("/list/lawn?name=apple+rows").text
        merged = visitor.post("/list/lawn/merge", data={**token, "was": "apple rows", "new": "far meadow"})
        assert "Merged. The other one has its mows now." in merged.text and "apple rows" not in merged.text


def test_what_is_described_is_renamed_with_its_mows(orchard_copy: Path, tmp_path: Path) -> None:
    with running_page(orchard_copy, tmp_path) as own, own.visitor() as visitor:
        token = {"form_token": token_of(visitor)}
        rename = {**token, "was": "apple rows"}
        taken = visitor.post("/list/lawn/rename", data={**rename, "new": "far meadow"})
        assert taken.status_code == 422
        assert "is in the logbook already" in taken.text
        assert 'value="far meadow"' in taken.text
        gone = visitor.post("/list/lawn/rename", data={**rename, "new": " "})
        assert gone.status_code == 422
        renamed = visitor.post("/list/lawn/rename", data={**rename, "new": "old rows"})
        assert "Renamed. Its mows and its history went with it." in renamed.text
        shown = visitor.get("/list/lawn?name=old+rows").text
        assert 'value="420"' in shown
        assert "name was apple rows, now old rows" in shown
        assert "old rows" in visitor.get("/mows/1").text
        late = visitor.post("/list/care", data={**token, "day": "2125-06-20", "words": "sharpened"})
        assert late.status_code == 422
        assert "is in the future" in late.text


def test_descriptions_are_kept_and_changed(empty_page: RunningPage) -> None:
    with empty_page.visitor() as visitor:
        token = {"form_token": token_of(visitor)}
        for kind, fields in (
            ("lawn", {"name": "orchard", "area": "0.1 acre"}),
            ("pack", {"name": "crate", "chemistry": "lfp", "series": "15", "capacity_ah": "12,5",
                      "cut_off_v": "38", "string_ah": "2.5", "hold_s": "2", "first_year": "2019"}),
            ("machine", {"name": "reel", "width": "17 in", "pace": "3.6 km/h", "motor": "5 hp"}),
            ("meter", {"name": "clamp", "current_percent": "2", "zero_a": "0.1"}),
        ):  # fmt: skip
            assert "Described." in visitor.post(f"/list/{kind}", data={**token, **fields}).text
        visitor.post("/list/lawn", data={**token, "name": "orchard", "area": "420"})
        old = {"name": "old box", "chemistry": "agm", "series": "12", "capacity_ah": "30"}
        visitor.post("/list/pack", data={**token, **old, "capacity_guessed": "yes"})
        assert 'name="capacity_guessed" value="yes" checked' in visitor.get("/list/pack?name=old%20box").text
        assert "about 30 Ah, guessed" in visitor.get("/list").text.replace("\xa0", " ")
        visitor.post("/list/pack", data={**token, **old, "capacity_ah": "~33"})
        assert "about 33 Ah, guessed" in visitor.get("/list").text.replace("\xa0", " ")
        visitor.post("/list/pack", data={**token, **old, "capacity_ah": "33"})
        shown = visitor.get("/list/pack?name=old%20box").text
        assert "guessed was yes, now not given" in shown and "guessed was not given, now yes" not in shown
        visitor.post("/list/pack/delete", data={**token, "was": "old box"})
        visitor.post("/list/care", data={**token, "day": "2025-06-20", "words": "with the new stone"})
        assert "with the new stone" in visitor.get("/list").text
        shown = visitor.get("/list/meter?name=clamp").text
        assert 'value="2"' in shown
        assert 'value="0.1"' in shown
        visitor.post("/list/care/1/remove", data=token)
        assert "with the new stone" not in visitor.get("/list").text
    with open_logbook(empty_page.settings.logbook) as book:
        assert lawns(book) == (Lawn("orchard", area_m2=420.0),)
        known = Pack("lfp", 15, 12.5, 38.0, hold_s=2.0, string_ah=2.5, first_year=2019, name="crate")
        assert packs(book) == (known,)
        # NIST SP 811, appendix B.8: 1 inch is 0.0254 m, 1 horsepower (550 ft·lbf/s) is 745.6999 W
        assert machines(book) == (Machine("reel", 0.0254 * 17, 1.0, 745.6999 * 5),)
        # JCGM 100, 4.3.7: half-widths of rectangular distributions, so divided by the square root of 3
        assert meters(book)["clamp"]["current_gain"] == pytest.approx(0.02 / 3**0.5)
        assert meters(book)["clamp"]["current_zero_a"] == pytest.approx(0.1 / 3**0.5)
        assert len(history(book, "lawn orchard")) == 2


def test_a_description_under_a_name_in_use_says_what_it_changed(empty_page: RunningPage) -> None:
    """Whatever comes next: the first page, or an upload that waits for its lawn."""
    with empty_page.visitor() as visitor:
        fields = {"form_token": token_of(visitor), "name": "<b>orchard", "area": "420"}
        for _ in range(2):
            assert "Described." in visitor.post("/list/lawn", data=fields).text, "the same again"
        told = "Lawn &lt;b&gt;orchard: area was 420 m², now 99 m². The old value stays in the history."
        for area, words in (("99", told), ("98", "orchard: area was 99 m², now 98 m².")):
            said = {**fields, "area": area, "onward": "/waiting" if area == "98" else ""}
            answer = visitor.post("/list/lawn", data=said)
            assert words in answer.text.replace("\xa0", " ") and "Described." not in answer.text
        for of in ("lawn meadow", "xyzzy", "<i>lawn"):
            made_up = visitor.get("/list", params={"said": "changed", "of": of}).text
            assert "Changed. The old value" in made_up and of not in made_up


def test_before_the_first_mow_a_description_leads_on_to_the_next_step(empty_page: RunningPage) -> None:
    with empty_page.visitor() as visitor:
        fields = {"form_token": token_of(visitor), "name": "orchard", "area": "420"}
        after = visitor.post("/list/lawn", data=fields)
        assert after.url.path == "/"
        assert "Described." in after.text and "Three steps to a first answer" in after.text


def test_the_latest_mow_is_the_one_that_began_last_not_the_one_added_last(orchard: Logbook) -> None:
    newest = mows(orchard)[-1]
    add_mow(orchard, [("found.csv", b"1")], lawn=newest.lawn, started=datetime(2020, 5, 1))
    assert latest_mow(orchard) == newest
    edit_mow(orchard, 1, started=None)  # without a date it comes first in lists too
    assert latest_mow(orchard) == mow(orchard, 1)


def test_a_description_leads_back_to_the_upload_that_waited(writer: httpx.Client) -> None:
    key = "0" * 32
    fields = {"form_token": token_of(writer), "name": "new", "area": "10"}
    back = writer.post("/list/lawn", data={**fields, "onward": f"/add/{key}"}, follow_redirects=False)
    assert back.headers["location"] == f"/add/{key}?lawn=new&said=described"
    for elsewhere in (
        "http://evil.example",
        "//evil.example",
        "/add/../logbook",
        f"/add/{key}/../x",
        "/waiting/x",
    ):
        answer = writer.post("/list/lawn", data={**fields, "onward": elsewhere}, follow_redirects=False)
        assert answer.headers["location"] == "/list?said=described"


def test_a_mow_is_changed_taken_out_brought_back_and_deleted(orchard_copy: Path, tmp_path: Path) -> None:
    with open_logbook(orchard_copy) as book:
        last = max(each.id for each in mows(book))
        count = len(mows(book))
    with running_page(orchard_copy, tmp_path) as page, page.visitor() as visitor:
        token = {"form_token": token_of(visitor)}
        said = {
            "lawn": "far meadow", "pack": "old box", "started": "2025-10-11T10:00", "moisture": "wet",
            "start_charge": "95", "tags": "tall edges",
        }  # fmt: skip
        changed = visitor.post(f"/mows/{last}/change", data={**token, **said})
        assert "The old value stays in the history" in changed.text
        wrong = visitor.post(f"/mows/{last}/change", data={**token, **said, "lawn": "moon"})
        assert wrong.status_code == 422
        with open_logbook(orchard_copy) as book:
            record = mow(book, last)
        assert (record.lawn, record.grass.moisture, record.start_charge, record.tags) == (
            "far meadow", "wet", 0.95, ("tall edges",),
        )  # fmt: skip
        visitor.post(f"/mows/{last}/change", data={**token, **said, "started": "", "start_charge": ""})
        with open_logbook(orchard_copy) as book:
            assert (mow(book, last).started, mow(book, last).start_charge) == (None, None)
        removed = visitor.post(f"/mows/{last}/remove", data=token)
        assert "It can be restored" in removed.text and "Restore it" in removed.text
        assert "counts in no answer" in visitor.get(f"/mows/{last}").text
        assert f'<p class="lead">{count - 1} mows' in visitor.get("/mows").text
        assert "Restored." in visitor.post(f"/mows/{last}/restore", data=token).text
        visitor.post(f"/mows/{last}/remove", data=token)
        assert visitor.post(f"/mows/{last}/purge", data=token).status_code == 422, "without the tick"
        assert "Gone for good" in visitor.post(f"/mows/{last}/purge", data={**token, "sure": "1"}).text
        assert visitor.get(f"/mows/{last}").status_code == 422


def test_the_backup_is_a_whole_logbook(reader: httpx.Client, orchard_file: Path, tmp_path: Path) -> None:
    answer = reader.get("/logbook/backup")
    assert answer.headers["content-disposition"] == 'attachment; filename="mowcharge-logbook.sqlite"'
    (tmp_path / "copy.sqlite").write_bytes(answer.content)
    with closing(sqlite3.connect(tmp_path / "copy.sqlite")) as copy:
        assert copy.execute("pragma integrity_check").fetchone() == ("ok",)
    with open_logbook(tmp_path / "copy.sqlite") as book, open_logbook(orchard_file) as original:
        assert mows(book) == mows(original)


def test_a_check_says_that_all_is_well(writer: httpx.Client) -> None:
    assert "Every checksum holds" in writer.post("/logbook/check", data={"form_token": token_of(writer)}).text


def test_tables_hold_no_formulas(orchard_copy: Path, tmp_path: Path) -> None:
    with open_logbook(orchard_copy) as book:
        last = max(each.id for each in mows(book))
        keep_lawn(book, Lawn('=HYPERLINK("http://evil.example")', area_m2=1))
    with running_page(orchard_copy, tmp_path) as page, page.visitor() as visitor:
        said = {
            "lawn": '=HYPERLINK("http://evil.example")',
            "pack": "old box",
            "started": "2025-10-11T10:00",
        }
        visitor.post(f"/mows/{last}/change", data={"form_token": token_of(visitor), **said, "tags": "+1, -1"})
        rows = list(csv.DictReader(io.StringIO(visitor.get("/logbook/mows.csv").text)))
        readings = visitor.get(f"/mows/{last}/readings.csv")
    first = next(row for row in rows if row["mow"] == str(last))
    assert first["lawn"].startswith("'=HYPERLINK")
    assert first["tags"] == "'+1, -1"
    assert float(first["energy_wh"]) > 0
    assert readings.headers["content-type"].startswith("text/csv")
    assert len(readings.text.splitlines()) > 100


def test_an_address_cannot_put_words_on_a_page(reader: httpx.Client) -> None:
    page = reader.get("/list?said=%3Cb%3Eyour+account+is+locked%3C/b%3E").text
    assert "locked" not in page
    assert 'role="status"' not in page


def test_every_page_is_two_taps_away(reader: httpx.Client) -> None:
    """From the first page, by the bar on a phone and by the list under More."""
    near = set(re.findall(r'href="(/[^"?#]*)', reader.get("/").text))
    near |= {
        path
        for each in sorted(near - {"/seasons/report"})
        for path in re.findall(r'href="(/[^"?#]*)', reader.get(each).text)
    }
    asked = {path.partition("?")[0] for path in PATHS} - {"/logbook/mows.csv", "/pair"}
    assert {each for each in asked if each.startswith("/list/")} <= near | {"/list/lawn"}
    assert asked - near == set()


def test_the_pack_is_chosen_at_the_top_and_the_question_stays(reader: httpx.Client) -> None:
    """Without a choice it is the latest mow's."""
    for path in ("/lawns", "/capacity", "/seasons", "/life", "/conversion/limits"):
        shown = reader.get(path).text
        chosen = re.search(r'<nav class="packs".*?aria-current="true">([^<]+) <small>', shown, re.DOTALL)
        assert chosen is not None and chosen[1] == "old box", path
    other = reader.get("/lawns?lawn=apple+rows&moisture=wet").text
    assert "/lawns?pack=green+crate&amp;lawn=apple+rows&amp;moisture=wet" in other


def test_compare_opens_with_the_latest_change(reader: httpx.Client) -> None:
    shown = unescape(reader.get("/compare").text)
    assert '<option value="rear roller off" selected>' not in shown, "a day entered next would be refused"
    assert "with 'rear roller off'" in shown, "a tag that was first given after the last day of blade care"
    assert "blade care of cylinder mower" in shown
    assert 'class="changed"><a href="/compare?tag=rear%20roller%20off">' in reader.get("/").text
