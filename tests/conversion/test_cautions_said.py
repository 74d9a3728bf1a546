"""Wherever a hand may reach for the machine, the cautions are said, and nothing is called safe."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import numpy as np
import pytest

import estimator.conversion
from estimator.conversion import cautions
from estimator.conversion.care import care_advice
from estimator.conversion.charging import break_gives, refill
from estimator.conversion.charging_habits import Charger
from estimator.conversion.current_limits import Limit, current_limits
from estimator.conversion.load_trace import LoadTrace
from estimator.conversion.motor import motor_load
from estimator.conversion.wiring import feed_cable
from estimator.descriptions import CHEMISTRIES, Pack

LOAD = LoadTrace(np.full(120, 18.0), np.array(48.0))
PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
MODULES = sorted(Path(estimator.conversion.__file__).parent.glob("*.py"))


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.stem)
def test_nothing_is_called_safe(module: Path) -> None:
    assert not re.search(r"\b(un)?safe(ly|ty)?\b", module.read_text(encoding="utf-8"), re.IGNORECASE)


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (feed_cable([LOAD], "6 mm2", 1.0), ["local code", "licensed", "not an approval"]),
        (current_limits([LOAD], [Limit("fuse", 30.0)]), ["Take the battery off", "local code", "maker"]),
        (motor_load([LOAD]), ["maker", "Take the battery off before you touch the blades"]),
        (refill(PACK, 5.0, Charger(watts=100)), ["Lithium cells can burn", "not unattended"]),
        (break_gives(PACK, 5.0, Charger(watts=100), 20.0), ["Lithium cells can burn", "hot pack"]),
        (
            care_advice([date(2026, 5, 1)], [None], [None]),
            ["Take the battery off before you touch the blades"],
        ),
    ],
    ids=lambda value: type(value).__name__,
)
def test_answers_carry_their_cautions(answer, said: list[str]) -> None:
    together = " ".join(answer.cautions)
    for words in said:
        assert words in together


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_every_chemistry_has_its_charging_caution(chemistry: str) -> None:
    assert cautions.CHARGING in cautions.for_pack(chemistry)
    assert (cautions.LITHIUM in cautions.for_pack(chemistry)) == (chemistry != "lead_acid")
