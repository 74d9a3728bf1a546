"""The logbook's file is replaced, deleted or put back under a running page."""

from __future__ import annotations

import shutil
from pathlib import Path

import httpx
from page_kit import BEARER, running_page, token_of, upload

from estimator.logbook import backup, mows, open_logbook

ROWS = "".join(f"{s},{6 + s % 3},{53 - s / 400}\n" for s in range(400))


def _meter_file(folder: Path, name: str) -> Path:
    path = folder / name
    path.write_text(f"time_s,current_a,voltage_v\n{ROWS}# {name}\n", encoding="utf-8")
    return path


def _keep(visitor: httpx.Client, address: str) -> httpx.Response:
    said = {
        "lawn": "apple rows",
        "pack": "green crate",
        "start_charge": "100",
        "form_token": token_of(visitor),
    }
    return visitor.post(f"{address}/keep", data=said)


def test_a_backup_copied_over_a_used_logbook_is_what_page_and_command_see(
    orchard_copy: Path, tmp_path: Path
) -> None:
    with open_logbook(orchard_copy) as book:
        backup(book, tmp_path / "backup.sqlite")
    with running_page(orchard_copy, tmp_path) as page, page.visitor() as visitor:
        before = visitor.get("/api/mows", headers=BEARER).json()["count"]
        looked_at = upload(visitor, _meter_file(tmp_path, "a.csv"))
        assert _keep(visitor, looked_at.url.path).status_code == 200
        assert visitor.get("/api/mows", headers=BEARER).json()["count"] == before + 1
        assert not list(tmp_path.glob("logbook.sqlite-*")), "between requests the file is whole in itself"
        shutil.copy(tmp_path / "backup.sqlite", orchard_copy)
        assert visitor.get("/api/mows", headers=BEARER).json()["count"] == before
        looked_at = upload(visitor, _meter_file(tmp_path, "b.csv"))
        assert _keep(visitor, looked_at.url.path).status_code == 200
    with open_logbook(orchard_copy) as book:
        assert len(mows(book)) == before + 1


def test_an_upload_waits_while_the_logbook_is_gone(orchard_copy: Path, tmp_path: Path) -> None:
    with running_page(orchard_copy, tmp_path) as page, page.visitor() as visitor:
        before = visitor.get("/api/mows", headers=BEARER).json()["count"]
        waiting = upload(visitor, _meter_file(tmp_path, "a.csv")).url.path
        token = token_of(visitor)
        shutil.move(orchard_copy, tmp_path / "away.sqlite")
        said = {"lawn": "apple rows", "pack": "green crate", "start_charge": "100", "form_token": token}
        gone = visitor.post(f"{waiting}/keep", data=said)
        assert gone.status_code == 503
        assert "is not there any more" in gone.text
        assert visitor.post("/api/mows", headers=BEARER, files={"files": b"1"}).status_code == 503
        shutil.move(tmp_path / "away.sqlite", orchard_copy)
        kept = visitor.post(f"{waiting}/keep", data=said)
        assert kept.status_code == 200
        assert "/mows/" in kept.url.path
    with open_logbook(orchard_copy) as book:
        assert len(mows(book)) == before + 1
