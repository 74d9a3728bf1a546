"""A logbook filled from the invented orchard, made once and copied for whoever changes it."""

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

gc.disable()  # a million objects come by collecting tests and stay: looking through them finds nothing


def pytest_collection_finish() -> None:
    """From here on only what tests make is looked through for what can be let go."""
    gc.collect()
    gc.freeze()
    gc.enable()


@pytest.fixture(scope="session", autouse=True)
def settled_environment(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What somebody set for their own use is not what is tested; the tests talk to this machine only."""
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
    """What finds a free port: below those that the system gives away meanwhile to whoever asks for any."""

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
    """A logbook file with all mows of the orchard; do not write to it."""
    path = tmp_path_factory.mktemp("orchard") / "orchard.sqlite"
    with open_logbook(path) as book:
        fill_from_samples(book, SAMPLES)
    return path


@pytest.fixture
def orchard_copy(orchard_file: Path, tmp_path: Path) -> Path:
    """A copy of the orchard's logbook file to do anything with."""
    copy = tmp_path / "logbook.sqlite"
    for part in orchard_file.parent.glob(orchard_file.name + "*"):
        shutil.copy(part, copy.with_name(part.name.replace(orchard_file.name, copy.name)))
    with open_logbook(copy) as book:  # a page that looks at the orchard has shown cautions in it
        note(book, SHOWN, "")
    return copy


@pytest.fixture
def orchard(orchard_copy: Path) -> Iterator[Logbook]:
    """The orchard's logbook, open, to do anything with."""
    with open_logbook(orchard_copy) as book:
        yield book
