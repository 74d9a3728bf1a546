"""Figures: everybody can tell lines apart, labels have units, words are read aloud, no global state."""

from __future__ import annotations

import itertools
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from html import escape
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.figure import Figure

from estimator.answers.capacity import CapacityQuestion, capacity_to_buy
from estimator.answers.looking_back.compare import CompareQuestion, groups_compared
from estimator.answers.looking_back.pack_life import pack_life
from estimator.answers.looking_back.seasons import seasons_compared
from estimator.answers.looking_back.track_record import record_so_far
from estimator.answers.minutes import MinutesQuestion, minutes_of_files
from estimator.answers.plan import PlanQuestion, plan_of_day
from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.logbook import Logbook, open_logbook, rename
from estimator.report.pictures.answer_pictures import margin_picture, minutes_picture, plan_picture
from estimator.report.pictures.picture import page_picture
from estimator.report.pictures.season_pictures import (
    compare_picture,
    pack_life_picture,
    record_picture,
    seasons_picture,
)
from estimator.report.pictures.style import PALETTE, write_picture
from estimator.report.words.season_text import charge_alone_words, pack_life_text

CRATE = "green crate"


@pytest.fixture(scope="module")
def book(orchard_file: Path) -> Any:
    with open_logbook(orchard_file) as opened:
        yield opened


def _minutes(book: Logbook, samples: Path) -> Figure:
    path = samples / "2025-09-27a.csv"
    return minutes_picture(
        minutes_of_files(book, MinutesQuestion(((path.name, path.read_bytes()[:20000]),), CRATE))
    )


DRAWN: dict[str, Callable[[Logbook, Path], Figure]] = {
    "minutes": _minutes,
    "plan": lambda book, _: plan_picture(
        plan_of_day(book, PlanQuestion(grass=Grass("wet", 45.0), pack=CRATE))
    ),
    "capacity": lambda book, _: margin_picture(
        capacity_to_buy(book, CapacityQuestion(("chapel strip",), pack=CRATE))
    ),
    "seasons": lambda book, _: seasons_picture(seasons_compared(book, CRATE)),
    "compare": lambda book, _: compare_picture(groups_compared(book, CompareQuestion(tag="rear roller off"))),
    "pack life": lambda book, _: pack_life_picture(pack_life(book, ("far meadow",), pack=CRATE)),
    "record": lambda book, _: record_picture(record_so_far(book, last=10)),
}


@pytest.mark.parametrize("name", DRAWN)
def test_figures_are_labelled_and_read_aloud(name: str, book: Logbook, samples: Path, tmp_path: Path) -> None:
    figure = DRAWN[name](book, samples)
    assert figure.get_suptitle()
    for axes in figure.axes:
        labels = [each for each in (axes.get_xlabel(), axes.get_ylabel()) if each]
        assert labels
        assert any(each.endswith("]") or "mow" in each for each in labels)
    svg = write_picture(figure, tmp_path / "drawn.svg").read_bytes()
    root = ElementTree.fromstring(svg)
    space = {"svg": "http://www.w3.org/2000/svg"}
    assert root.get("role") == "img"
    assert root.find("svg:title", space).text == figure.get_suptitle().replace("\u00a0", " ")  # type: ignore[union-attr]
    assert len(root.find("svg:desc", space).text or "") > 20  # type: ignore[union-attr]
    assert write_picture(figure, tmp_path / "drawn.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("lawns", [("far meadow",), ("far meadow",) * 4])
def test_what_the_legend_lists_can_be_seen(book: Logbook, lawns: tuple[str, ...]) -> None:
    """A pack that is enough for now, and one that was too small before the forecast begins."""
    answer = pack_life(book, lawns, pack=CRATE)
    axes = pack_life_picture(answer).axes[0]
    left, right = axes.get_xlim()
    low, high = axes.get_ylim()
    lines = [each for each in axes.lines if len(each.get_xdata()) > 2]
    seen = [
        sum((left <= x <= right) and (low <= y <= high) for x, y in np.column_stack(each.get_data()))
        for each in lines
    ]
    assert len(lines) == 2 and min(seen) > 1, "each mow's capacity, and the forecast"
    assert low < answer.pack_now.usable_share * answer.forecast.needed_ah < high
    text = pack_life_text(answer, 72)
    assert answer.pack_now.said in " ".join(text.split())
    assert "as far as its charge goes: peaks over its 25 A are left out" in " ".join(text.split())
    assert charge_alone_words(replace(answer, current_limit_a=None)) == ""
    assert ("the pack holds less" in text.replace("\n", " ")) is (len(lawns) == 4) and (
        answer.forecast.odds_now < 0.9
    ) is (len(lawns) == 4)


def test_figures_can_be_drawn_without_pyplot() -> None:
    code = (
        "import sys, estimator.report.pictures.season_pictures; assert 'matplotlib.pyplot' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=300)


def test_other_endings_are_refused(book: Logbook, samples: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"picture plan.pdf: '.pdf'; end its name in .png or .svg"):
        write_picture(Figure(), tmp_path / "plan.pdf")


# Machado, Oliveira & Fernandes 2009, A physiologically-based model for simulation of color vision
# deficiency, doi 10.1109/TVCG.2009.113, matrices for severity 1.0 (linear RGB).
# sRGB and CIE L*a*b* (D65) by IEC 61966-2-1.
SEEN_AS = {
    "all": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protanopia": (
        (0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900),
    ),
}  # fmt: skip
TO_XYZ = (
    (0.4124564, 0.3575761, 0.1804375), (0.2126729, 0.7151522, 0.0721750), (0.0193339, 0.1191920, 0.9503041),
)  # fmt: skip


def _linear(colour: str) -> Any:
    each = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(each <= 0.04045, each / 12.92, ((each + 0.055) / 1.055) ** 2.4)


def _lab(rgb: Any) -> Any:
    xyz = np.array(TO_XYZ) @ np.clip(rgb, 0, 1) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("eyes", SEEN_AS)
def test_the_palette_is_told_apart(eyes: str) -> None:
    seen = [_lab(np.array(SEEN_AS[eyes]) @ _linear(colour)) for colour in PALETTE]
    apart = [float(np.linalg.norm(a - b)) for a, b in itertools.combinations(seen, 2)]
    assert min(apart) > 25  # CIE 1976 difference; about 2.3 is just noticeable (from memory)


def test_the_palette_stands_out_on_paper() -> None:
    # WCAG 2.2, 1.4.11: graphics need a contrast of 3:1 with what is next to them; straw and moss also have an
    # outline or a dash, so for them 1.7 is enough
    for colour in PALETTE:
        luminance = float(np.array([0.2126, 0.7152, 0.0722]) @ _linear(colour))
        assert 1.05 / (luminance + 0.05) > (1.7 if colour in (PALETTE[3], PALETTE[4]) else 3.0)


def test_text_with_dollar_signs_is_text_in_every_picture(tmp_path: Path, orchard: Logbook) -> None:
    """matplotlib takes text between two dollar signs for a formula, and fails where it is not one."""
    name = "Bed $25 #2 & shed $30 \\frac{1 _^ %"
    rename(orchard, "lawn", "apple rows", name)
    rename(orchard, "pack", "green crate", f"crate {name}")
    plan = plan_of_day(orchard, PlanQuestion(lawns=(name,), pack=f"crate {name}"))
    seasons = seasons_compared(orchard, f"crate {name}")
    for number, figure in enumerate((plan_picture(plan), seasons_picture(seasons))):
        written = write_picture(figure, tmp_path / f"{number}.svg").read_text(encoding="utf-8")
        write_picture(figure, tmp_path / f"{number}.png")
        page_picture(figure)
        assert f"crate {escape(name)}" in written
    tick = plan_picture(plan).axes[0].get_yticklabels()[0].get_text()
    assert tick.startswith(name)
