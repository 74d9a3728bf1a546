"""Backups while in use, restoring over a good and a damaged logbook, export and import."""

from __future__ import annotations

import csv
import hashlib
import json
import threading
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from estimator.descriptions import Grass, Lawn, Machine
from estimator.errors import InputError, LogbookError
from estimator.logbook import (
    Logbook,
    add_mow,
    backup,
    bytes_of,
    check,
    edit_mow,
    export,
    fingerprint,
    forget_derived,
    import_,
    keep_derived,
    keep_event,
    keep_lawn,
    keep_machine,
    keep_meter,
    mows,
    open_logbook,
    purge_mow,
    remove_mow,
    restore,
)
from estimator.logbook.records.uploads import as_uploaded

LOG = "time_s,current_a,voltage_v\n" + "".join(f"{s},{8 + s % 5},{48.5 - 0.01 * s:.2f}\n" for s in range(120))


@pytest.fixture
def full(book: Logbook) -> Logbook:
    """A logbook with something of every kind, a removed and a purged mow included."""
    _fill(book)
    return book


def _fill(book: Logbook) -> None:
    said: dict[str, Any] = {"lawn": "orchard", "pack": "new one"}
    for number in range(4):
        add_mow(
            book,
            [(f"mow {number}.csv", f"{LOG}# {number}\n".encode())],
            **said,
            grass=Grass("damp", 20 + number),
            started=datetime(2025, 5, 1 + number, 9, 14, 7),
            temperature_c=15.25,
            derived={"features": (1, {"wh": 70.1 + number, "trace": [1.5] * 50})},
        )
    add_mow(book, [("=cmd|' /C calc'!A0.csv", LOG.encode()), ("../volts.csv", bytes(range(256)))],
            lawn="green", notes="=HYPERLINK(1)", tags=["@sum", "-1"])  # fmt: skip
    edit_mow(book, 1, lawn="green", notes="\t=1+1")
    keep_lawn(book, Lawn("=A1", 12))
    keep_meter(book, "clamp", {"current_gain": 0.02})
    keep_event(book, "2025-05-03", "blade care", "+sharpened", "cylinder mower")
    keep_derived(book, "pack new one", "fit", "b2", [0.1, None, "ü"])
    remove_mow(book, 2)
    remove_mow(book, 5)
    purge_mow(book, 5)
    add_mow(book, [("../../up.csv", b"up")], lawn="=A1")
    remove_mow(book, 6)
    keep_derived(book, "pack new one", "fit", "b2", [0.1, None, "ü"])
    purge_mow(book, 6)
    keep_derived(book, "pack new one", "fit", "b2", [0.1, None, "ü"])
    add_mow(book, [("=cmd.csv", LOG.encode()), ("../volts.csv", bytes(range(256)))],
            lawn="green", notes="=HYPERLINK(\"x\")", tags=["@sum", "-1"], decisions={})  # fmt: skip


def test_a_backup_is_a_logbook_that_holds_the_same(full: Logbook, tmp_path: Path) -> None:
    path = backup(full, tmp_path / "copy.sqlite")
    with open_logbook(path) as copy:
        assert fingerprint(copy) == fingerprint(full)
        assert check(copy).problems == ()
    with pytest.raises(InputError, match=r"copy\.sqlite is there already; name a new file$"):
        backup(full, path)
    (tmp_path / "file").touch()
    with pytest.raises(LogbookError, match="cannot be made"):
        backup(full, tmp_path / "file" / "copy.sqlite")


def test_a_backup_during_uploads_is_one_moment(full: Logbook, tmp_path: Path) -> None:
    stop = threading.Event()

    def add_for_ever() -> None:
        number = 0
        while not stop.is_set():
            add_mow(full, [(f"{number}.csv", f"during {number}".encode() * 400)], lawn="orchard")
            number += 1

    adding = threading.Thread(target=add_for_ever)
    adding.start()
    try:
        paths = [backup(full, tmp_path / f"copy {number}.sqlite") for number in range(3)]
    finally:
        stop.set()
        adding.join()
    for path in paths:
        with open_logbook(path) as copy:
            assert check(copy).problems == ()


def test_restoring_brings_everything_back_and_keeps_what_was_there(
    full: Logbook, place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    before = fingerprint(full)
    kept = backup(full, tmp_path / "kept.sqlite")
    remove_mow(full, 1)
    add_mow(full, [("later.csv", b"later")], lawn="orchard")
    after = fingerprint(full)
    aside = restore(kept, place)
    assert fingerprint(full) == before
    assert aside is not None
    with open_logbook(aside) as old:
        assert fingerprint(old) == after
    assert add_mow(full, [("later.csv", b"later")], lawn="orchard").id == 8


def test_restoring_to_where_nothing_is(full: Logbook, tmp_path: Path) -> None:
    kept = backup(full, tmp_path / "kept.sqlite")
    assert restore(kept, tmp_path / "new" / "logbook.sqlite") is None
    with open_logbook(tmp_path / "new" / "logbook.sqlite") as book:
        assert fingerprint(book) == fingerprint(full)


def test_restoring_over_a_damaged_logbook(tmp_path: Path, describe_in: Any) -> None:
    path = tmp_path / "logbook.sqlite"
    describe_in(str(path))
    with open_logbook(path) as book:
        kept, whole = backup(book, tmp_path / "kept.sqlite"), fingerprint(book)
    path.write_bytes(path.read_bytes()[:5000])
    aside = restore(kept, path)
    assert aside is not None
    assert aside.stat().st_size == 5000
    with open_logbook(path) as book:
        assert fingerprint(book) == whole


def test_a_damaged_backup_is_not_restored(tmp_path: Path, describe_in: Any) -> None:
    path, kept = tmp_path / "logbook.sqlite", tmp_path / "kept.sqlite"
    describe_in(str(path))
    with open_logbook(path) as book:
        add_mow(book, [("a.csv", hashlib.sha512(b"a").digest())], lawn="orchard")
        backup(book, kept)
        whole = fingerprint(book)
        kept.write_bytes(kept.read_bytes().replace(hashlib.sha512(b"a").digest(), bytes(64)))
        with pytest.raises(LogbookError) as caught:
            restore(kept, path)
        assert str(caught.value) == (
            f"{kept} is damaged itself (mow 1: the bytes of a.csv do not match their checksum); "
            "take another backup"
        )
        assert fingerprint(book) == whole
    with pytest.raises(InputError, match=r"none\.sqlite is not a file; name a backup$"):
        restore(tmp_path / "none.sqlite", path)


def test_an_export_comes_back_identical(full: Logbook, tmp_path: Path) -> None:
    report = export(full, tmp_path / "out")
    assert report.mows == 5
    with open_logbook(tmp_path / "new.sqlite") as new:
        assert import_(new, tmp_path / "out") == 5
        assert fingerprint(new) == fingerprint(full)
        assert check(new).problems == ()
        assert bytes_of(new, 7) == bytes_of(full, 7)
        assert add_mow(new, [("later.csv", b"later")], lawn="orchard").id == 8


def test_an_export_of_a_file_goes_to_postgresql(
    postgres_url: str, tmp_path: Path, describe_in: Callable[[str], None]
) -> None:
    describe_in(str(tmp_path / "logbook.sqlite"))
    with open_logbook(tmp_path / "logbook.sqlite") as one, open_logbook(postgres_url) as club:
        _fill(one)
        export(one, tmp_path / "out")
        import_(club, tmp_path / "out")
        assert fingerprint(club) == fingerprint(one)
        assert add_mow(club, [("later.csv", b"later")], lawn="orchard").id == 8


def test_an_export_is_plain_files_with_their_checksums(full: Logbook, tmp_path: Path) -> None:
    out = export(full, tmp_path / "out").folder
    lines = (out / "checksums.sha256").read_text(encoding="utf-8").splitlines()
    told = {name: digest for digest, name in (line.split("  ", 1) for line in lines)}
    found = {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()}
    assert set(told) == found - {"checksums.sha256"}
    for name, digest in told.items():
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest
    assert (out / "files" / "0007" / "2-volts.csv").read_bytes() == bytes(range(256))
    with (out / "mows.csv").open(encoding="utf-8", newline="") as sheet:
        rows = {row["id"]: row for row in csv.DictReader(sheet)}
    assert (rows["1"]["growth_mm"], rows["1"]["temperature_c"]) == ("20.0", "15.25")
    with (out / "lawns.csv").open(encoding="utf-8", newline="") as sheet:
        assert {row["name"]: row["area_m2"] for row in csv.DictReader(sheet)} == {
            "'=A1": "12", "green": "260", "orchard": "420",
        }  # fmt: skip


def test_no_cell_of_an_exported_table_starts_a_formula(full: Logbook, tmp_path: Path) -> None:
    # OWASP, "CSV Injection": =, +, -, @, tab and carriage return start a formula in a spreadsheet.
    out = export(full, tmp_path / "out").folder
    seen = 0
    for path in out.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as sheet:
            for row in csv.reader(sheet):
                assert not [cell for cell in row if cell[:1] in "=+-@\t\r" and cell and not _number(cell)]
                seen += sum(cell.startswith("'") for cell in row)
    assert seen >= 5


def _number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_an_import_refuses_what_it_cannot_trust(full: Logbook, tmp_path: Path) -> None:
    out = export(full, tmp_path / "out").folder
    with pytest.raises(InputError, match=r"out is not empty; name a new folder$"):
        export(full, out)
    with pytest.raises(InputError, match=r"is not empty; import into a new logbook$"):
        import_(full, out)
    with open_logbook(tmp_path / "new.sqlite") as new:
        with pytest.raises(
            InputError, match=r"nowhere is not an exported logbook; name the folder of an export$"
        ):
            import_(new, tmp_path / "nowhere")
        upload = out / "files" / "0001" / "1-mow_0.csv"
        good = upload.read_bytes()
        upload.write_bytes(good + b"1,2,3\n")
        with pytest.raises(
            InputError, match=r"^1-mow_0\.csv: the file does not match its checksum; export again$"
        ):
            import_(new, out)
        upload.unlink()
        with pytest.raises(
            InputError, match=r"^1-mow_0\.csv: cannot be read \(No such file or directory\); export"
        ):
            import_(new, out)
        upload.write_bytes(good)
        _rewrite(out, lambda whole: whole["tables"]["files"][0].update(path="../../secret"))
        with pytest.raises(
            InputError, match=r"^the export names \.\./\.\./secret, which is outside its folder; do"
        ):
            import_(new, out)
        _rewrite(out, lambda whole: whole.update(schema=4))
        with pytest.raises(
            InputError, match=r"the export is of schema 4, this program knows 3; update mowcharge$"
        ):
            import_(new, out)
        _rewrite(out, lambda whole: whole.update(schema=2, tables=[]))
        with pytest.raises(
            InputError, match=r"^logbook\.json: is not an exported logbook \(.*\); export again$"
        ):
            import_(new, out)
        (out / "logbook.json").write_text("{}", encoding="utf-8")
        with pytest.raises(
            InputError, match=r"^logbook\.json: the file does not match its checksum; export again$"
        ):
            import_(new, out)
        assert mows(new) == []


def _rewrite(out: Path, change: Any) -> None:
    """Change logbook.json and its checksum together, as somebody who means harm would."""
    whole = json.loads((out / "logbook.json").read_text(encoding="utf-8"))
    old = hashlib.sha256((out / "logbook.json").read_bytes()).hexdigest()
    change(whole)
    (out / "logbook.json").write_text(json.dumps(whole), encoding="utf-8")
    new = hashlib.sha256((out / "logbook.json").read_bytes()).hexdigest()
    sums = out / "checksums.sha256"
    sums.write_text(sums.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")


def test_an_export_unpacks_each_upload_once_and_tells_how_far_it_is(
    full: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    unpacked: list[str] = []
    unpack = as_uploaded

    def counted(where: str, mow_id: int, row: Any) -> bytes:
        unpacked.append(row.name)
        return unpack(where, mow_id, row)

    monkeypatch.setattr("estimator.logbook.records.readings.as_uploaded", counted)
    told: list[str] = []
    export(full, tmp_path / "out", told.append)
    names = [file.name for mow in [*mows(full), *mows(full, removed=True)] for file in mow.files]
    assert sorted(unpacked) == sorted(names)
    assert told == [*(f"exporting mow {place} of 5" for place in range(1, 6)), "writing checksums"]


def test_derived_figures_are_exported_row_by_row_as_one_list(full: Logbook, tmp_path: Path) -> None:
    """The file is what a single dump of all rows would be, even where there are none."""
    keep_derived(full, "pack old one", "words", 1, {"line\nbreak": ["a\nb", {}, []], "ü": 1.5})
    for out, kinds in (("full", {"features", "fit", "words"}), ("bare", set())):
        export(full, tmp_path / out)
        text = (tmp_path / out / "derived.json").read_text(encoding="utf-8")
        rows = json.loads(text)
        assert text == json.dumps(rows, ensure_ascii=False, indent=1, sort_keys=True) + "\n"
        assert {row["kind"] for row in rows} == kinds
        forget_derived(full)


def test_names_of_any_length_are_exported_and_come_back(tmp_path: Path, describe_in: Any) -> None:
    """Systems count bytes of a name: 80 of these characters have 320."""
    describe_in(str(tmp_path / "old.sqlite"))
    with open_logbook(tmp_path / "old.sqlite") as old, open_logbook(tmp_path / "new.sqlite") as new:
        for number, name in enumerate(("\U00020000" * 80, "é" * 300 + ".csv", "/" * 90, "." * 90)):
            add_mow(old, [(name, b"time_s,current_a,voltage_v\n%d" % number)], lawn="orchard")
        assert export(old, tmp_path / "out").mows == 4
        assert import_(new, tmp_path / "out") == 4
        assert fingerprint(new) == fingerprint(old)


def test_tables_of_an_export_have_a_heading_and_no_words_of_a_programming_language(
    tmp_path: Path, describe_in: Any
) -> None:
    describe_in(str(tmp_path / "logbook.sqlite"))
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        keep_machine(book, Machine("old mower", blade_care=(date(2024, 4, 1),)))
        export(book, tmp_path / "out")
    assert (tmp_path / "out" / "events.csv").read_text() == "id,day,machine,kind,words,removed\n"
    with (tmp_path / "out" / "machines.csv").open(newline="") as sheet:
        care = {row["name"]: row["blade_care"] for row in csv.DictReader(sheet)}
    assert care == {"cylinder mower": "[]", "old mower": '["2024-04-01"]'}
