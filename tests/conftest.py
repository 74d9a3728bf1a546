"""What all tests share: a clean environment, and a logbook of the invented orchard, copied before changes."""

from __future__ import annotations

import gc
import os
import shutil
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from random import SystemRandom

import pytest
from hypothesis import HealthCheck, settings

from estimator.answers.cautions import SHOWN
from estimator.answers.keeping.samples import fill_from_samples
from estimator.logbook import Logbook, note, open_logbook

settings.register_profile(
    "repeatable", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)  # the same cases everywhere; a busy machine is slow, not wrong
settings.register_profile("search", settings.get_profile("repeatable"), derandomize=False)
settings.load_profile("repeatable")  # `pytest --hypothesis-profile=search` looks for new cases

SAMPLES = Path(__file__).resolve().parents[1] / "sample_logs"

gc.disable()  # collecting the tests makes a million objects that stay: searching them frees nothing


def pytest_collection_finish() -> None:
    """From here on, garbage is looked for only among what the tests themselves make."""
    gc.collect()
    gc.freeze()
    gc.enable()


@pytest.fixture(scope="session", autouse=True)
def settled_environment(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Clear what users may have set in their environment; the tests talk only to this computer."""
    with pytest.MonkeyPatch.context() as patch:
        for name in [*os.environ]:
            looks = name in ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "LINES")
            if looks or name.startswith(("MOWCHARGE_", "PG")):
                patch.delenv(name)
        patch.setenv("MOWCHARGE_BACKUPS", "off")
        patch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)  # else every command compiles all it loads
        for name in ("NO_PROXY", "no_proxy"):
            patch.setenv(name, "*")
        if not os.access(Path("~").expanduser(), os.W_OK):
            patch.setenv("HOME", str(tmp_path_factory.mktemp("home")))
        yield


@pytest.fixture(scope="session")
def find_port() -> Callable[[], int]:
    """A function that finds a free port, below those that the system may meanwhile give to other programs."""

    def found() -> int:
        while True:
            port = SystemRandom().randrange(20_000, 32_000)
            with socket.socket() as probe:
                try:
                    probe.bind(("127.0.0.1", port))
                except OSError:
                    continue
                return port

    return found


@pytest.fixture(scope="session")
def samples() -> Path:
    """The folder of sample logs."""
    return SAMPLES


@pytest.fixture(scope="session")
def orchard_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A logbook file with all mows of the orchard, made once; do not write to it."""
    path = tmp_path_factory.mktemp("orchard") / "orchard.sqlite"
    with open_logbook(path) as book:
        fill_from_samples(book, SAMPLES)
    return path


@pytest.fixture
def orchard_copy(orchard_file: Path, tmp_path: Path) -> Path:
    """A copy of the orchard's logbook file, to be used in any way."""
    copy = tmp_path / "logbook.sqlite"
    for part in orchard_file.parent.glob(orchard_file.name + "*"):
        shutil.copy(part, copy.with_name(part.name.replace(orchard_file.name, copy.name)))
    with open_logbook(copy) as book:  # a page that used the shared file may have noted shown cautions in it
        note(book, SHOWN, "")
    return copy


@pytest.fixture
def orchard(orchard_copy: Path) -> Iterator[Logbook]:
    """The orchard's logbook, open, to be used in any way."""
    with open_logbook(orchard_copy) as book:
        yield book
