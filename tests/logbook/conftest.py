"""A logbook in a file and one on a private PostgreSQL server: the same tests run on both."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import tempfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from estimator.descriptions import Lawn, Machine, Pack
from estimator.logbook import Logbook, keep_lawn, keep_machine, keep_pack, open_logbook
from estimator.logbook.tables import files, mows
from estimator.logbook.upkeep.checksums import with_sum


def _postgres_programs() -> Path | None:
    for initdb in (
        shutil.which("initdb"),
        *sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), reverse=True),
    ):
        if initdb is not None:
            return Path(initdb).resolve().parent
    return None


@pytest.fixture(scope="session")
def postgres_server(find_port: Callable[[], int]) -> Iterator[str]:
    """The URL of a private server on a loopback port, not run by root, which PostgreSQL refuses."""
    programs = _postgres_programs()
    if programs is None:
        pytest.skip("PostgreSQL's initdb is not installed (Debian: apt-get install postgresql)")
    pytest.importorskip("psycopg", reason="the postgres extra is not installed")
    root = os.geteuid() == 0
    folder = Path(tempfile.mkdtemp(prefix="mowcharge-postgres-"))
    try:
        if root:
            shutil.chown(folder, "nobody")
        who = {"user": "nobody", "group": "nogroup", "extra_groups": ()} if root else {}
        port, data = find_port(), str(folder / "data")
        quiet = {
            "stdout": subprocess.DEVNULL,
            "stderr": subprocess.STDOUT,
            "check": True,
            "cwd": str(folder),
            **who,
        }
        subprocess.run(
            [
                programs / "initdb",
                "-D",
                data,
                "-U",
                "gardener",
                "-A",
                "trust",
                "-E",
                "UTF8",
                "--no-locale",
                "-N",
            ],
            **quiet,
        )
        options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c fsync=off"
        control = [programs / "pg_ctl", "-D", data, "-w", "-t", "300", "-l", str(folder / "log")]
        subprocess.run([*control, "-o", options, "start"], **quiet)
        try:
            yield f"postgresql://gardener@127.0.0.1:{port}/postgres"
        finally:
            subprocess.run([*control, "-m", "immediate", "stop"], **quiet)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def postgres_url(postgres_server: str) -> str:
    """The URL of an empty database."""
    import psycopg

    with psycopg.connect(postgres_server, autocommit=True, options="-c lock_timeout=300s") as connection:
        schemas = connection.execute(
            "SELECT nspname FROM pg_namespace WHERE nspname LIKE 'mowcharge%'"
        ).fetchall()
        for name in ("public", *(row[0] for row in schemas)):
            connection.execute(f"DROP SCHEMA {name} CASCADE")
        connection.execute("CREATE SCHEMA public")
    return postgres_server


@pytest.fixture(params=["sqlite", "postgres"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where an empty logbook can be made: once a path, once a URL."""
    if request.param == "sqlite":
        return str(tmp_path / "logbook.sqlite")
    return str(request.getfixturevalue("postgres_url"))


@pytest.fixture
def book(place: str) -> Iterator[Logbook]:
    """An open logbook with lawns, packs and a machine."""
    with open_logbook(place) as opened:
        describe(opened)
        yield opened


def describe(opened: Logbook) -> None:
    keep_lawn(opened, Lawn("orchard", area_m2=420))
    keep_lawn(opened, Lawn("green", area_m2=260))
    keep_pack(opened, Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, name="new one"))
    keep_pack(opened, Pack(chemistry="lfp", series=12, capacity_ah=8.0, cut_off_v=33.0, name="old one"))
    keep_machine(opened, Machine("cylinder mower", cutting_width_m=0.43))


VERSION_2 = Path(__file__).with_name("version_2.json")


def make_version_2(place: str, copies: int = 1) -> None:
    """Make a logbook of schema version 2 as that version did, from frozen tables and rows.

    copies : how many mows to make from each frozen one, for a migration that takes a while
    """
    import sqlalchemy as sa

    frozen = json.loads(VERSION_2.read_text(encoding="utf-8"))
    uploads = {
        row["file_id"]: zlib.decompress(bytes.fromhex(row["packed"]["hex"]))
        for table, row in frozen["rows"]
        if table == "file_bytes"
    }
    postgres = place.startswith("postgresql:")
    words = {"number": "INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT", "real": "DOUBLE", "blob": "BLOB"}
    if postgres:
        words = {"number": "SERIAL PRIMARY KEY", "real": "DOUBLE PRECISION", "blob": "BYTEA"}
    url = place.replace("postgresql:", "postgresql+psycopg:") if postgres else f"sqlite:///{place}"
    engine = sa.create_engine(url)
    with engine.begin() as connection:
        for statement in frozen["tables"]:
            connection.exec_driver_sql(statement.format(**words))
        for number in range(copies):
            for table, row in frozen["rows"]:
                if number and table not in ("mows", "files", "file_bytes"):
                    continue
                values = _copied(table, row, number, uploads)
                names = ", ".join(values)
                marks = ", ".join(f":{name}" for name in values)
                connection.execute(sa.text(f"INSERT INTO {table} ({names}) VALUES ({marks})"), values)
        if postgres:
            for table in ("mows", "files", "changes"):
                connection.exec_driver_sql(
                    f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), (SELECT max(id) FROM {table}))"
                )
    if not postgres:
        with engine.connect() as connection:
            connection.exec_driver_sql(f"PRAGMA application_id={0x6D6F7763}")
            connection.exec_driver_sql("PRAGMA journal_mode=WAL")
    engine.dispose()


def _copied(table: str, row: dict[str, Any], number: int, uploads: dict[int, bytes]) -> dict[str, Any]:
    """A row as it was frozen (number 0), or one like it for another mow with other bytes."""
    values = {
        name: bytes.fromhex(cell["hex"]) if isinstance(cell, dict) else cell for name, cell in row.items()
    }
    if not number:
        return values
    if table == "mows":
        return with_sum(mows, {**values, "id": values["id"] + 2 * number})
    data = uploads[values["id" if table == "files" else "file_id"]] + f"# copy {number}\n".encode()
    if table == "files":
        digest = hashlib.sha256(data).hexdigest()
        numbers = {"id": values["id"] + 3 * number, "mow_id": values["mow_id"] + 2 * number}
        return with_sum(files, {**values, **numbers, "size": len(data), "sha256": digest})
    return {"file_id": values["file_id"] + 3 * number, "packed": zlib.compress(data, 9)}


@pytest.fixture
def version_2(place: str) -> str:
    """Where a logbook of schema version 2 is."""
    make_version_2(place)
    return place


@pytest.fixture
def make_old() -> Callable[..., None]:
    """A function that makes a logbook of schema version 2."""
    return make_version_2


@pytest.fixture
def describe_in() -> Callable[[str], None]:
    """A function that makes a logbook with lawns, packs and a machine at a path or URL."""

    def make(place: str) -> None:
        with open_logbook(place) as opened:
            describe(opened)

    return make
