"""Pages of the invented orchard's logbook and of an empty one."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from page_kit import RunningPage, running_page


@pytest.fixture(scope="session")
def orchard_page(orchard_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningPage]:
    """The page of the orchard's logbook, only to be looked at."""
    with running_page(orchard_file, tmp_path_factory.mktemp("page")) as page:
        yield page


@pytest.fixture
def reader(orchard_page: RunningPage) -> Iterator[httpx.Client]:
    """A visitor who looks at the orchard's logbook."""
    with orchard_page.visitor() as visitor:
        yield visitor


@pytest.fixture
def writer(orchard_copy: Path, tmp_path: Path) -> Iterator[httpx.Client]:
    """A visitor who may change a copy of the orchard's logbook."""
    with running_page(orchard_copy, tmp_path) as page, page.visitor() as visitor:
        yield visitor


@pytest.fixture
def empty_page(tmp_path: Path) -> Iterator[RunningPage]:
    """The page of an empty logbook."""
    with running_page(tmp_path / "empty.sqlite", tmp_path) as page:
        yield page
