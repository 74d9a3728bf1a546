"""What the importer decided about a file, and how a user overrules it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from estimator.importer.log import Log
from estimator.importer.read import read_bytes
from estimator.page.settings import PageSettings

DECISIONS: dict[str, str] = {}
"""Decisions that can be overruled, by the importer's name, with the label of their field."""


def decisions_of(said: Mapping[str, str]) -> dict[str, Any]:
    """The overruled decisions in what was said of an upload, as the importer takes them."""
    return {name: said[name] for name in DECISIONS if said.get(name)}


def read_upload(
    files: Sequence[tuple[str, bytes]], decisions: Mapping[str, Any], settings: PageSettings
) -> Log:
    """Read uploaded files within the page's limits."""
    return read_bytes(list(files), **decisions)
