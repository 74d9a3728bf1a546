"""What programs get from an answer, and what people may write as an amount."""

from __future__ import annotations

from datetime import date, datetime
from enum import Enum
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from estimator.answers.why import as_plain
from estimator.errors import InputError
from estimator.logbook.upkeep.compression import compressed, decompressed
from estimator.written import area_m2, length_m


class Colour(Enum):
    GREEN = "green"


@pytest.mark.parametrize(
    ("value", "plain"),
    [
        (date(2025, 5, 1), "2025-05-01"),
        (datetime(2025, 5, 1, 9), "2025-05-01T09:00:00"),
        (Path("a") / "b.csv", str(Path("a") / "b.csv")),
        (Colour.GREEN, "green"),
        ({1: float("inf")}, {"1": None}),
        (pd.DataFrame({"ah": [1.0, float("nan")]}), {"ah": [1.0, None]}),
        (np.array([1.5, np.nan]), [1.5, None]),
        (np.float64(2.5), 2.5),
        (frozenset({"wet"}), ["wet"]),
    ],
)
def test_answers_become_what_json_holds(value: object, plain: object) -> None:
    assert as_plain(value) == plain


def test_what_has_no_plain_form_is_a_mistake_in_the_program() -> None:
    with pytest.raises(TypeError, match="object has no plain form"):
        as_plain(object())


def test_numbers_need_no_unit_and_unknown_units_are_named() -> None:
    assert area_m2(420) == 420.0
    with pytest.raises(InputError) as refused:
        length_m("3 cubits")
    assert str(refused.value).startswith(
        "length is '3 cubits': unit 'cubits' is not known; use one of m, cm, mm, ft, yd, in"
    )


@pytest.mark.parametrize("codec", ["bz2", "zlib", "plain"])
def test_kept_bytes_come_back(codec: str) -> None:
    assert decompressed(codec, compressed(codec, b"9.8 A")) == b"9.8 A"


def test_unknown_and_damaged_codecs_are_refused() -> None:
    for work in (compressed, decompressed):
        with pytest.raises(ValueError, match="codec 'lead' is not known"):
            work("lead", b"9.8 A")
    with pytest.raises(ValueError, match="damaged"):
        decompressed("zlib", b"9.8 A")
