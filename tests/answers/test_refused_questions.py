"""Questions that cannot be answered yet, and descriptions that cannot be true: one line says why."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.answers.keeping import samples as sample_logs
from estimator.answers.looking_back.pack_life import pack_life
from estimator.answers.why import Why, three_digits
from estimator.conversion.motor import motor_load
from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.logbook import Logbook, keep_pack
from estimator.report.words.text import why_text


def refusal(ask: object, *given: object, **named: object) -> str:
    with pytest.raises(InputError) as refused:
        ask(*given, **named)  # type: ignore[operator]
    return str(refused.value)


def test_a_pack_without_mows_has_no_life_yet(orchard: Logbook) -> None:
    keep_pack(orchard, Pack(chemistry="nmc", series=13, capacity_ah=12.0, cut_off_v=39.0, name="new crate"))
    assert refusal(pack_life, orchard, pack="new crate") == "pack new crate has no mows yet; add one first"


def test_a_hold_of_the_cut_off_is_seconds() -> None:
    assert refusal(Pack, "nmc", 13, 10.0, 39.0, name="crate", hold_s=90.0).startswith(
        "pack crate: hold time is 90 s; "
    )


def test_a_motor_is_judged_by_at_least_one_mow() -> None:
    assert refusal(motor_load, []) == "no mow was given for the motor; give the load of at least one"


def test_sample_logs_that_were_not_installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sample_logs, "__file__", str(tmp_path / "estimator" / "answers" / "samples.py"))
    assert refusal(sample_logs.samples_folder) == (
        "the sample logs are not installed; install mowcharge again, or use a checkout"
    )


def test_an_answer_says_only_what_stands_behind_it() -> None:
    assert why_text(Why((), ("the pack starts full",), (), ())) == "Assumed\n  - the pack starts full"
    assert why_text(Why((), (), (), ())) == ""
    assert three_digits(float("nan")) == "unknown"
