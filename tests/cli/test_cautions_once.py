"""Cautions are shown in full once for each logbook and topic; afterwards one line names them."""

from __future__ import annotations

import json
import re
from collections.abc import Callable

import pytest

from estimator.conversion.cautions import BLADES, TOPICS

Say = Callable[..., str]
TO_ADD = ("--lawn", "orchard", "--moisture", "dry", "--start-charge", "100")


def full(text: str) -> list[str]:
    """The cautions that a text holds in full."""
    told = " ".join(text.replace("! ", "").split())
    return [topic for topic, caution in TOPICS.items() if caution in told]


def test_each_topic_is_shown_in_full_once(say: Say) -> None:
    pack = say("describe", "pack", "crate", "--chemistry", "Li-ion", "--series", "13", "--capacity-ah", "10")
    assert full(pack) == ["lithium cells", "charging", "plugging in", "building a pack"]
    again = say("describe", "pack", "crate", "--chemistry", "nmc", "--series", "13", "--capacity-ah", "12")
    line = (
        "Cautions: lithium cells, charging, plugging in, building a pack - `mowcharge cautions` shows them."
    )
    assert full(again) == [] and line in " ".join(again.split())
    added = say("add", "mow.csv", *TO_ADD)
    assert full(added) == ["measuring", "probes"] and "Cautions: lithium cells - " in added
    first, second = say("plan"), say("plan")
    assert full(first) == ["blades"] and full(second) == []
    told = second.splitlines()
    of_cautions = [line for line in told if line.startswith(("!", "Cautions"))]
    assert " ".join(told).endswith(
        "Cautions: lithium cells, blades, plugging in - `mowcharge cautions` shows them."
    )
    assert len(of_cautions) == 1 and len(told) > 4


def test_json_keeps_them_always(say: Say) -> None:
    say("describe", "pack", "crate", "--chemistry", "nmc", "--series", "13", "--capacity-ah", "10")
    say("add", "mow.csv", *TO_ADD)
    for _ in range(2):
        assert BLADES in json.loads(say("plan", "--json"))["why"]["cautions"]
    assert full(say("plan")) == ["blades"], "an object for a program has shown nobody anything"


def test_all_of_them_by_topic(say: Say) -> None:
    told = say("cautions")
    assert full(told) == list(TOPICS)
    assert re.findall(r"^([A-Z][\w -]+)$", told, re.MULTILINE) == [
        f"{each[0].upper()}{each[1:]}" for each in TOPICS
    ]


def test_another_logbook_has_shown_nothing(say: Say, monkeypatch: pytest.MonkeyPatch) -> None:
    words = ("describe", "pack", "crate", "--chemistry", "AGM", "--series", "24", "--capacity-ah", "12")
    assert "lead-acid" in full(say(*words)) and full(say(*words)) == []
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", "other.sqlite")
    assert "lead-acid" in full(say(*words))
