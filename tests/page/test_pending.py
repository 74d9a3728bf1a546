"""Uploads that wait: stored whole, found again, thrown away, and never stored under the user's names."""

from __future__ import annotations

import os
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from estimator.errors import InputError
from estimator.page.door import pending
from estimator.page.door.pending import KEPT_S, drop_old, drop_upload, get_upload, put_upload, say


def test_an_upload_comes_back_as_it_was(tmp_path: Path) -> None:
    files = [("amps.csv", b"1,2\xff"), ("volts.csv", b"")]
    key = put_upload(tmp_path, files)
    assert get_upload(tmp_path, key).files == tuple(files)


def test_what_is_said_is_replaced(tmp_path: Path) -> None:
    key = put_upload(tmp_path, [("a", b"b")])
    assert get_upload(tmp_path, key).said == {}
    say(tmp_path, key, {"lawn": "orchard"})
    say(tmp_path, key, {"lawn": "verge"})
    assert get_upload(tmp_path, key).said == {"lawn": "verge"}


@pytest.mark.parametrize("name", ["../../etc/passwd", "/etc/passwd", "a\x00b", "CON", "x" * 5000, "<script>"])
def test_the_name_of_a_file_is_never_a_path(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "waiting"
    key = put_upload(folder, [(name, b"content")])
    assert get_upload(folder, key).files[0] == (name, b"content")
    assert sorted(path.name for path in (folder / key).iterdir()) == ["0.bin", "said.json"]
    assert [path.name for path in tmp_path.iterdir()] == ["waiting"]


@pytest.mark.parametrize("key", ["", "..", "../x", "0" * 31, "0" * 33, "G" * 32, "0" * 32])
def test_an_unknown_key_finds_nothing(tmp_path: Path, key: str) -> None:
    with pytest.raises(InputError, match="not here any more; upload the file again"):
        get_upload(tmp_path, key)


def test_a_dropped_upload_is_gone(tmp_path: Path) -> None:
    key = put_upload(tmp_path, [("a", b"b")])
    drop_upload(tmp_path, key)
    drop_upload(tmp_path, key)
    with pytest.raises(InputError, match="upload the file again"):
        say(tmp_path, key, {"lawn": "orchard"})


def test_old_uploads_are_dropped_and_fresh_ones_stay(tmp_path: Path) -> None:
    old, fresh = put_upload(tmp_path, [("a", b"b")]), put_upload(tmp_path, [("a", b"b")])
    before = time.time() - KEPT_S - 10
    os.utime(tmp_path / old, (before, before))
    assert drop_old(tmp_path) == 1
    assert get_upload(tmp_path, fresh).key == fresh
    with pytest.raises(InputError):
        get_upload(tmp_path, old)


def test_too_many_are_refused_and_none_is_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pending, "MOST_UPLOADS", 3)
    keys = [put_upload(tmp_path, [("a", b"b")]) for _ in range(3)]
    with pytest.raises(InputError, match="3 uploads wait to be kept; keep or throw away some of them first"):
        put_upload(tmp_path, [("a", b"b")])
    assert all(get_upload(tmp_path, key).files == (("a", b"b"),) for key in keys)


def test_too_many_bytes_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pending, "MOST_BYTES", 100)
    put_upload(tmp_path, [("a", b"b" * 30)])
    with pytest.raises(InputError, match="1 uploads wait"):
        put_upload(tmp_path, [("a", b"b" * 90)])


def test_many_at_once_stay_apart(tmp_path: Path) -> None:
    with ThreadPoolExecutor(16) as many:
        keys = list(many.map(lambda k: put_upload(tmp_path, [(f"{k}.csv", b"%d" % k)]), range(80)))
    assert [get_upload(tmp_path, key).files[0] for key in keys] == [
        (f"{k}.csv", b"%d" % k) for k in range(80)
    ]
