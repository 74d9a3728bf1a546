"""Answers that lack something say so instead of leaving a hole."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.fitting.pack_fit import fit_pack
from estimator.predictor.narrowing import limits_by_cause
from estimator.report.conversion_text import ends
from estimator.report.mow_text import mow_list_text
from estimator.report.season_text import seasons_text


def test_an_empty_logbook_has_no_mows() -> None:
    assert mow_list_text([], 72) == "No mows."


def test_a_figure_that_is_not_known_is_unknown() -> None:
    assert ends(None, "min") == "unknown"


def test_one_season_without_a_known_start_says_both() -> None:
    answer: Any = SimpleNamespace(pack="green crate", comparisons=(), curves=None, sentences=())
    said = seasons_text(answer, 72)
    assert "No discharge curves: no mow starts from a known charge." in said
    assert "One season so far: nothing to compare yet." in said


def test_a_sure_answer_is_limited_by_nothing() -> None:
    draws = np.random.default_rng(1).normal(size=200)
    assert limits_by_cause(np.full(200, 30.0), {"load": draws}) == ()
    assert limits_by_cause(draws, {"load": np.full(200, 3.0)}) == ()
    assert [each.cause for each in limits_by_cause(draws, {"load": draws})] == ["load"]


def test_start_charges_must_be_as_many_as_logs() -> None:
    pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    with pytest.raises(InputError) as refused:
        fit_pack([], pack, start_charges=[1.0])
    assert str(refused.value) == "1 start charges for 0 logs; give one for each log"
    assert fit_pack([], pack).capacity_ah == 10.0
