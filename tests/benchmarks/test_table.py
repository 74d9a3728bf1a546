"""The table of ratios: every benchmark can be run, and a missed target is said."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest
import table
from ratio import Ratio, said


@pytest.mark.parametrize("name", table.BENCHMARKS)
def test_every_benchmark_gives_ratios(name: str) -> None:
    assert callable(importlib.import_module(f"bench_{name}").ratios)


def test_no_benchmark_is_forgotten() -> None:
    files = Path(__file__).parent.glob("bench_*.py")
    assert {file.stem.removeprefix("bench_") for file in files} == set(table.BENCHMARKS)


def test_rows_say_ratio_target_and_method(capsys: pytest.CaptureFixture[str]) -> None:
    met = Ratio("help", "import typer", 1.158, 2.5, "medians of 9", "0.067 s beside 0.058 s")
    missed = Ratio("plan", "three imports", 2.4, 2.0, "medians of 9", "0.9 s beside 0.37 s")
    free = Ratio("futures", "solver", 0.00134, None, "once", "1.6 s beside 1,200 s")
    assert (met.missed, missed.missed, free.missed) == (False, True, False)
    assert list(table.as_markdown([met, missed, free]))[2:] == [
        "| help | import typer | 1.16 | 2.50 | medians of 9 | 0.067 s beside 0.058 s |",
        "| plan | three imports | 2.40 | 2.00 MISSED | medians of 9 | 0.9 s beside 0.37 s |",
        "| futures | solver | 1/746 |  | once | 1.6 s beside 1,200 s |",
    ]
    table.show([missed])
    assert capsys.readouterr().out.startswith("   2.40  2.00 MISSED  plan / three imports")


@pytest.mark.parametrize(
    ("ratio", "words"), [(1 / 300, "1/300"), (0.0951, "0.10"), (10.0, "10.00"), (None, "")]
)
def test_small_ratios_are_fractions(ratio: float | None, words: str) -> None:
    assert said(ratio) == words


def test_the_machine_is_described() -> None:
    words = table.machine()
    assert "cores" in words and "numpy" in words and "load before the run" in words
