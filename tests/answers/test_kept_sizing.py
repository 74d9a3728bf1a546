"""The size to buy is worked out once for one question and the same figures, and again for any other."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from estimator.answers.capacity import CapacityQuestion, capacity_to_buy
from estimator.descriptions import Grass
from estimator.logbook import Logbook, keep_pack, pack
from estimator.predictor.sizing import recommend

CRATE = "green crate"


def test_a_size_is_kept_until_the_question_or_its_figures_change(
    orchard: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    worked_out: list[float] = []
    real = recommend.recommend_capacity

    def counted(*where: Any, **which: Any) -> Any:
        worked_out.append(1)
        return real(*where, **which, draws=60)

    monkeypatch.setattr(recommend, "recommend_capacity", counted)
    question = CapacityQuestion(("apple rows",), Grass("damp", 21.0), CRATE)
    first = capacity_to_buy(orchard, question)
    assert capacity_to_buy(orchard, question) == first
    assert len(worked_out) == 1
    capacity_to_buy(orchard, replace(question, sure=0.9))
    assert len(worked_out) == 2
    keep_pack(orchard, replace(pack(orchard, CRATE), hold_s=2.5))
    capacity_to_buy(orchard, question)
    assert len(worked_out) == 3
