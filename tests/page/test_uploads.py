"""Uploads: looked at before they are kept, refused while they come in, many at once."""

from __future__ import annotations

import gzip
import random
import re
import tracemalloc
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from page_kit import BEARER, RunningPage, read, running_page, token_of, upload

from estimator.descriptions import Lawn, Pack
from estimator.importer.table.opened_file import open_table
from estimator.logbook import bytes_of, keep_lawn, keep_pack, mows, open_logbook
from estimator.page.door.forms import MOST_FILES
from estimator.page.door.pending import get_upload
from estimator.page.settings import MIB

LOG = "time_s,current_a,voltage_v\n" + "".join(
    f"{k},{4 + 0.5 * (k % 7):.1f},{53 - 0.004 * k:.2f}\n" for k in range(600)
)


@pytest.fixture
def described_page(tmp_path: Path) -> Iterator[RunningPage]:
    """The page of a logbook with one lawn and one pack."""
    where = tmp_path / "logbook.sqlite"
    with open_logbook(where) as book:
        keep_lawn(book, Lawn("orchard", area_m2=420))
        keep_pack(book, Pack(name="crate", chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39))
    with running_page(where, tmp_path) as page:
        yield page


def keep(visitor: httpx.Client, shown: httpx.Response, **fields: str) -> httpx.Response:
    """Press “keep” on the page that shows an upload."""
    key = shown.url.path.rsplit("/", 1)[1]
    usual = {
        "form_token": token_of(visitor),
        "lawn": "orchard",
        "pack": "crate",
        "started": "2025-05-04T09:30",
    }
    return visitor.post(f"/add/{key}/keep", data={**usual, **fields})


def test_an_upload_is_read_once(
    described_page: RunningPage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looked at twice, kept and shown; it is read again only where a decision was overruled."""
    read: list[bytes] = []

    def counted(data: bytes, *rest: object) -> object:
        read.append(data)
        return open_table(data, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr("estimator.importer.read.open_table", counted)
    (tmp_path / "once.csv").write_text(LOG + "600,4.0,50.60\n")
    with described_page.visitor() as visitor:
        shown = upload(visitor, tmp_path / "once.csv")
        assert visitor.get(shown.url.path).status_code == 200
        kept = keep(visitor, shown)
        assert kept.url.path == "/mows/1/kept"
        assert visitor.get("/mows/1").status_code == 200
        assert len(read) == 1
        (tmp_path / "twice.csv").write_text(LOG + "600,4.0,50.58\n")
        shown = upload(visitor, tmp_path / "twice.csv")
        said = {"form_token": token_of(visitor), "zero_a": "0.1"}
        assert visitor.post(f"{shown.url.path}/say", data=said).status_code == 200
        assert keep(visitor, shown, started="2025-05-05T09:30").url.path == "/mows/2/kept"
    assert len(read) == 3


def test_nothing_is_kept_before_the_button(described_page: RunningPage, tmp_path: Path) -> None:
    (tmp_path / "may.csv").write_text(LOG)
    with described_page.visitor() as visitor:
        shown = upload(visitor, tmp_path / "may.csv")
        assert shown.status_code == 200
        assert "What was recognised" in shown.text
        assert "600 readings" in shown.text
        with open_logbook(described_page.settings.logbook) as book:
            assert mows(book) == []
        kept = keep(visitor, shown, moisture="damp", growth_mm="25", tags="new cable, first")
        assert kept.url.path == "/mows/1/kept"
        assert "Kept." in kept.text
        assert visitor.get(shown.url.path).status_code == 422, "what is kept waits no longer"
    with open_logbook(described_page.settings.logbook) as book:
        record = mows(book)[0]
        assert bytes_of(book, 1) == [("may.csv", LOG.encode())]
    assert (record.lawn, record.grass.moisture, record.grass.growth_mm) == ("orchard", "damp", 25.0)
    assert record.tags == ("new cable", "first")


def test_the_same_file_again_leads_to_its_mow(described_page: RunningPage, tmp_path: Path) -> None:
    for name in ("may.csv", "renamed.csv"):
        (tmp_path / name).write_text(LOG)
    with described_page.visitor() as visitor:
        keep(visitor, upload(visitor, tmp_path / "may.csv"))
        again = keep(visitor, upload(visitor, tmp_path / "renamed.csv"))
    assert again.url.path == "/mows/1"
    assert "in the logbook already" in again.text


def test_an_upload_can_be_thrown_away(described_page: RunningPage, tmp_path: Path) -> None:
    (tmp_path / "may.csv").write_text(LOG)
    with described_page.visitor() as visitor:
        shown = upload(visitor, tmp_path / "may.csv")
        answer = visitor.post(f"{shown.url.path}/drop", data={"form_token": token_of(visitor)})
        assert "Nothing of it was kept" in answer.text
        assert visitor.get(shown.url.path).status_code == 422


def test_a_decision_is_corrected(described_page: RunningPage, tmp_path: Path) -> None:
    (tmp_path / "odd.csv").write_text(LOG.replace("current_a", "left").replace("voltage_v", "right"))
    with described_page.visitor() as visitor:
        shown = upload(visitor, tmp_path / "odd.csv")
        assert shown.status_code == 422
        assert "could not be read yet" in shown.text
        columns = {"column_time": "1", "column_current": "2", "column_voltage": "right"}
        mended = visitor.post(f"{shown.url.path}/say", data={"form_token": token_of(visitor), **columns})
        assert mended.status_code == 200
        assert "What was recognised" in mended.text
        kept = keep(visitor, mended)
        assert kept.url.path == "/mows/1/kept", kept.text
    with open_logbook(described_page.settings.logbook) as book:
        assert mows(book)[0].decisions == {"columns": {"time": 1, "current": 2, "voltage": "right"}}


def test_a_mow_that_is_kept_already_from_another_file_is_told_before_it_is_kept_twice(
    described_page: RunningPage, tmp_path: Path
) -> None:
    stamped = "time,amps,volts\n" + "".join(
        f"2025-05-04 09:{k // 60:02d}:{k % 60:02d},{4 + 0.5 * (k % 7):.1f},{53 - 0.004 * k:.2f}\n"
        for k in range(600)
    )
    (tmp_path / "may.csv").write_text(stamped)
    (tmp_path / "may-again.csv").write_text("# the same, saved once more\n" + stamped)
    with described_page.visitor() as visitor:
        first = upload(visitor, tmp_path / "may.csv")
        assert "began at the same time" not in first.text
        assert "1 upload waits to be kept" in visitor.get("/").text, "also before the first mow"
        assert keep(visitor, first, started="2025-05-04T09:00").url.path == "/mows/1/kept"
        assert "Mow 1 of this pack began at the same time" in upload(visitor, tmp_path / "may-again.csv").text
        waiting = visitor.get("/waiting").text
        assert "Waits for you" in waiting and "began at the same time" in waiting


def test_a_wrong_circumstance_is_said(described_page: RunningPage, tmp_path: Path) -> None:
    (tmp_path / "may.csv").write_text(LOG)
    with described_page.visitor() as visitor:
        shown = upload(visitor, tmp_path / "may.csv")
        for field, text, line in (
            ("lawn", "meadow", "Lawn &#39;meadow&#39; is not in the logbook"),
            ("start_charge", "250", "give 0 to 100"),
            ("started", "someday", "write it as 2025-05-01 or 2025-05-01T09:30"),
        ):
            answer = keep(visitor, shown, **{field: text})
            assert answer.status_code == 422
            assert line in read(answer)
        assert keep(visitor, shown).url.path == "/mows/1/kept"


def test_readings_by_hand_make_a_mow(described_page: RunningPage) -> None:
    with described_page.visitor() as visitor:
        fields = {
            "form_token": token_of(visitor), "idle_a": "2,5", "typical_a": "5", "highest_a": "11",
            "minutes": "22",            "rest_before_v": "54", "rest_after_v": "51.5",
        }  # fmt: skip
        shown = visitor.post("/add/by-hand", data=fields)
        assert "from hand readings" in shown.text
        assert keep(visitor, shown).url.path == "/mows/1/kept"
        wrong = visitor.post("/add/by-hand", data={**fields, "typical_a": "five"})
        assert wrong.status_code == 422
        assert "give a number" in wrong.text
        assert 'value="22"' in wrong.text, "what was typed stays"


def test_fifty_uploads_at_once_lose_nothing(described_page: RunningPage) -> None:
    logs = [LOG + f"{600 + k},5.0,50.0\n" for k in range(50)]
    said = {"lawn": "orchard", "pack": "crate", "started": "2025-05-04T09:30"}

    def add(k: int) -> int:
        files = [("files", (f"{k}.csv", logs[k].encode()))]
        with described_page.visitor(headers=BEARER) as script:
            answer = script.post("/api/mows", data=said, files=files)
            assert answer.status_code == 201, answer.text
            return int(answer.json()["mow"])

    with ThreadPoolExecutor(50) as many:
        numbers = list(many.map(add, range(50)))
    assert sorted(numbers) == list(range(1, 51))
    with open_logbook(described_page.settings.logbook) as book:
        assert [bytes_of(book, number)[0][1] for number in numbers] == [log.encode() for log in logs]


def test_fifty_uploads_wait_side_by_side(described_page: RunningPage) -> None:
    def send(k: int) -> str:
        with described_page.visitor() as visitor:
            files = [("files", (f"{k}.csv", LOG.encode() + b"%d" % k))]
            token = {"form_token": token_of(visitor)}
            answer = visitor.post("/add", data=token, files=files, follow_redirects=False)
            assert answer.status_code == 303
            return answer.headers["location"].rsplit("/", 1)[1]

    with ThreadPoolExecutor(50) as many:
        keys = list(many.map(send, range(50)))
    folder = described_page.settings.pending_folder
    assert [get_upload(folder, key).files[0][0] for key in keys] == [f"{k}.csv" for k in range(50)]


def test_two_hundred_megabytes_are_refused_in_bounded_memory(described_page: RunningPage) -> None:
    def body() -> Iterator[bytes]:
        for _ in range(200):
            yield b"0" * MIB

    with described_page.visitor() as visitor:
        boundary = {"content-type": "multipart/form-data; boundary=b", "content-length": str(200 * MIB)}
        tracemalloc.start()
        try:
            answer = visitor.post("/add", content=body(), headers=boundary)
            assert answer.status_code == 413
            assert "send a shorter log" in answer.text
            peak = tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()
    assert peak < 16 * MIB


def test_a_growing_form_is_cut_off_while_it_comes_in(described_page: RunningPage) -> None:
    def body() -> Iterator[bytes]:
        yield b'--b\r\nContent-Disposition: form-data; name="files"; filename="a.csv"\r\n\r\n'
        for _ in range(200):
            yield b"1,2,3\n" * (MIB // 6)

    with described_page.visitor() as visitor:
        answer = visitor.post(
            "/add", content=body(), headers={"content-type": "multipart/form-data; boundary=b"}
        )
    assert answer.status_code == 413


@pytest.mark.parametrize("where", ["/add", "/api/minutes"])
def test_a_gzip_bomb_is_refused_in_bounded_memory(tmp_path: Path, where: str) -> None:
    bomb = gzip.compress(b"0" * (300 * MIB), compresslevel=9)
    assert len(bomb) < MIB
    logbook = tmp_path / "logbook.sqlite"
    with running_page(logbook, tmp_path, upload_bytes=8 * MIB) as page, page.visitor() as visitor:
        token = token_of(visitor)
        tracemalloc.start()
        try:
            answer = visitor.post(
                where, data={"form_token": token}, files=[("files", ("a.csv.gz", bomb))], headers=BEARER
            )
            peak = tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()
    assert answer.status_code == 422
    assert "more than" in answer.text
    assert peak < 64 * MIB


def test_too_many_rows_are_refused(tmp_path: Path) -> None:
    (tmp_path / "long.csv").write_text(LOG)
    with running_page(tmp_path / "l.sqlite", tmp_path, upload_rows=100) as page, page.visitor() as visitor:
        shown = upload(visitor, tmp_path / "long.csv")
    assert shown.status_code == 422
    assert "100" in shown.text


@pytest.mark.parametrize(
    "name", ["../../../tmp/evil.csv", "/etc/cron.d/evil", "..\\evil.csv", "<img src=x>.csv"]
)
def test_a_file_name_is_only_shown(described_page: RunningPage, tmp_path: Path, name: str) -> None:
    with described_page.visitor() as visitor:
        shown = visitor.post(
            "/add", data={"form_token": token_of(visitor)}, files=[("files", (name, LOG.encode()))]
        )
        assert shown.status_code == 200
        assert "<img" not in re.sub(r'<img src="/own[^>]*>', "", shown.text)
        assert keep(visitor, shown).url.path == "/mows/1/kept"
    written = {path.name for path in tmp_path.rglob("*") if path.is_file()}
    assert not any("evil" in each for each in written)
    assert not Path("/tmp/evil.csv").exists()


def test_too_many_files_and_no_file_are_refused(described_page: RunningPage) -> None:
    with described_page.visitor() as visitor:
        token = {"form_token": token_of(visitor)}
        many = [("files", (f"{k}.csv", b"")) for k in range(MOST_FILES + 1)]
        assert visitor.post("/add", data=token, files=many).status_code == 400
        none = visitor.post("/add", data=token, files=[("other", ("", b""))])
        assert none.status_code == 422
        assert "Choose a file first" in none.text


@pytest.mark.parametrize(
    "content", [b"", b"\x00" * 500, random.Random(1).randbytes(3000), b"a,b\n1,2\n", LOG.encode()[:40]]
)
def test_what_is_no_log_gets_one_line(described_page: RunningPage, content: bytes) -> None:
    with described_page.visitor() as visitor:
        shown = visitor.post(
            "/add", data={"form_token": token_of(visitor)}, files=[("files", ("a.csv", content))]
        )
    assert shown.status_code == 422
    assert 'role="alert"' in shown.text
    assert "Traceback" not in shown.text


def test_minutes_left_of_a_log_so_far(described_page: RunningPage) -> None:
    with described_page.visitor() as visitor:
        answer = visitor.post(
            "/minutes",
            data={"form_token": token_of(visitor), "full": "1"},
            files=[("files", ("so-far.csv", LOG.encode()))],
        )
        assert answer.status_code == 200
        assert "Until crate stops" in answer.text
        assert "start_charge=100" in str(answer.url)
        assert "Nothing is waiting" in visitor.get("/waiting").text, "a question is no mow"
        visitor.get(answer.url.path.replace("/minutes/", "/add/"))
        assert "so-far.csv" in visitor.get("/waiting").text, "somebody wants to keep it"
    with open_logbook(described_page.settings.logbook) as book:
        assert mows(book) == []


def test_minutes_without_readings_are_named_and_can_be_told(described_page: RunningPage) -> None:
    """Volts fall across the hole by as much as 25 minutes of mowing would make them."""
    rows = []
    for second in (*range(900), *range(2400, 3300)):
        amps = 7 + 3 * random.Random(second).random()
        rows.append(f"{second},{amps:.2f},{53.5 - 1.2 * 8.5 * second / 3600 - 0.1 * amps:.2f}")
    log = "time_s,amps,volts\n" + "\n".join(rows)
    with described_page.visitor() as visitor:
        sent = {"form_token": token_of(visitor), "full": "1"}
        answer = visitor.post("/minutes", data=sent, files=[("files", ("hole.csv", log.encode()))])
        said = " ".join(answer.text.replace("\xa0", " ").split())
        assert "No readings for 25 min from minute 15 on: the motor ran on, some 3.53 Ah" in said
        assert "“Minutes without readings” below overrules it." in said
        told = visitor.get(f"{answer.url}&gaps=break").text.replace("\xa0", " ")
        assert "nothing ran, as you said." in " ".join(told.split())
        assert '<option value="break" selected>' in told
