"""A logbook filled from the invented orchard, made once and copied for whoever changes it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from estimator.answers.samples import fill_from_samples
from estimator.logbook import Logbook, open_logbook

settings.register_profile("patient", deadline=None)
settings.load_profile("patient")  # a busy machine is slow, not wrong

SAMPLES = Path(__file__).resolve().parents[1] / "sample_logs"


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
    return copy


@pytest.fixture
def orchard(orchard_copy: Path) -> Iterator[Logbook]:
    """The orchard's logbook, open, to do anything with."""
    with open_logbook(orchard_copy) as book:
        yield book
