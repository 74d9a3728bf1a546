"""A logbook in a file and one on a real PostgreSQL server of its own: the same tests run on both."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from estimator.descriptions import Lawn, Machine, Pack
from estimator.logbook import Logbook, keep_lawn, keep_machine, keep_pack, open_logbook


def _postgres_programs() -> Path | None:
    for initdb in (
        shutil.which("initdb"),
        *sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), reverse=True),
    ):
        if initdb is not None:
            return Path(initdb).resolve().parent
    return None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """The URL of a private server on a loopback port, run by a user who is not root, as PostgreSQL demands."""
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
        port, data = _free_port(), str(folder / "data")
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
        options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c shared_buffers=32MB -c max_connections=60"
        control = [programs / "pg_ctl", "-D", data, "-w", "-l", str(folder / "log")]
        subprocess.run([*control, "-o", options, "start"], **quiet)
        try:
            yield f"postgresql://gardener@127.0.0.1:{port}/postgres"
        finally:
            subprocess.run([*control, "-m", "fast", "stop"], **quiet)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def postgres_url(postgres_server: str) -> Iterator[str]:
    """The URL of an empty database, dropped again afterwards."""
    import psycopg

    name = f"logbook_{uuid.uuid4().hex}"
    with psycopg.connect(postgres_server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
        yield postgres_server.rsplit("/", 1)[0] + f"/{name}"
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=["sqlite", "postgres"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where an empty logbook can be made: a path, then a URL."""
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
