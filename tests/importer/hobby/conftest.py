"""Lets the tests import the modules that write the hobby files by name."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from hobby_files import hobby_files
from hobby_mow import HobbyFile


@pytest.fixture(scope="session")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, HobbyFile]:
    return {file.name: file for file in hobby_files(tmp_path_factory.mktemp("hobby"))}
