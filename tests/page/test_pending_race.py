"""Uploads stored at the same time do not trip over each other's half-written files."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from estimator.page.door.pending import get_upload, put_upload, say


def test_many_uploads_at_once_are_all_kept(tmp_path: Path) -> None:
    def put(k: int) -> str:
        key = put_upload(tmp_path, [(f"{k}.csv", b"%d" % k)])
        say(tmp_path, key, {"lawn": str(k)})
        return key

    with ThreadPoolExecutor(32) as many:
        keys = list(many.map(put, range(250)))
    for k, key in enumerate(keys):
        kept = get_upload(tmp_path, key)
        assert kept.files == ((f"{k}.csv", b"%d" % k),)
        assert kept.said == {"lawn": str(k)}
