"""The picture of a log shows what was left out of it: charging, copies, readings without volts."""

from __future__ import annotations

import re

import numpy as np
import pytest
from matplotlib.figure import Figure

from estimator.importer.cleaning.mending import Examined
from estimator.importer.read import examine_bytes
from estimator.report.pictures.log_picture import log_picture
from estimator.report.pictures.picture import page_picture

SHADE = {"charging": "charging, left out", "dead": "no volts, left out"}
AMPS = 5 + 2 * np.sin(np.arange(600) / 7) + np.arange(600) % 13 / 10
MOW = [(float(a), 52 - k / 600 - 0.1 * float(a)) for k, a in enumerate(AMPS)]


def _examined(rows: list[tuple[float, float]]) -> Examined:
    lines = ["time s,current a,voltage v", *(f"{k},{a:.3f},{v:.3f}" for k, (a, v) in enumerate(rows))]
    return examine_bytes([("mow.csv", "\n".join(lines).encode())])


def _labels(figure: Figure) -> list[str]:
    legend = figure.axes[0].get_legend()
    return [] if legend is None else [text.get_text() for text in legend.get_texts()]


CHARGED = [(-2.0, 53 + k / 4000) for k in range(1200)]
UNPLUGGED = [(0.0, 0.01)] * 90


@pytest.mark.parametrize(
    ("kind", "rows", "shown_min"),
    [
        # 600 readings, one a second, end at 599 s; at most a quarter of that is shown before or after
        ("charging", MOW + CHARGED, (0.0, 599 * 1.25 / 60)),
        ("charging", CHARGED + MOW, (-599 * 0.25 / 60, 599 / 60)),
        ("dead", UNPLUGGED + MOW, (-90 / 60, 599 / 60)),
    ],
)
def test_what_was_left_out_is_shaded_beside_the_mow(
    kind: str, rows: list[tuple[float, float]], shown_min: tuple[float, float]
) -> None:
    found = _examined(rows)
    assert kind in {mark.kind for mark in found.marks}
    figure = log_picture(found.log, found)
    assert SHADE[kind] in _labels(figure)
    for axes in figure.axes:
        assert axes.get_xlim() == pytest.approx(shown_min, abs=0.02)


def test_a_charging_current_is_within_the_picture() -> None:
    found = _examined(MOW + CHARGED)
    lowest, _ = log_picture(found.log, found).axes[0].get_ylim()
    assert lowest < -2.0


def test_a_dead_voltmeter_does_not_flatten_the_volts() -> None:
    found = _examined(UNPLUGGED + MOW)
    lowest, _ = log_picture(found.log, found).axes[1].get_ylim()
    assert lowest > 45


def test_a_log_with_nothing_left_out_is_drawn_from_its_start_to_its_end() -> None:
    found = _examined(MOW)
    figure = log_picture(found.log, found)
    assert not set(SHADE.values()) & set(_labels(figure))
    assert figure.axes[0].get_xlim() == pytest.approx((0, 599 / 60))


def test_a_hatch_is_seen_in_an_svg_too() -> None:
    """A hatch in the colour of its ground would look plain: each pattern has no background."""
    found = _examined(UNPLUGGED + MOW)
    drawn = page_picture(log_picture(found.log, found)).html
    patterns = re.findall(r"<pattern.*?</pattern>", drawn, flags=re.DOTALL)
    assert patterns
    for each in patterns:
        assert "<rect" not in each
        assert 'fill="none"' in each


def test_a_mended_stretch_says_its_reason() -> None:
    lines = ["time s,current a,voltage v", *(f"{k},{a:.3f},{v:.3f}" for k, (a, v) in enumerate(MOW))]
    lines[150] = "149,OL,52.0"
    found = examine_bytes([("mow.csv", "\n".join(lines[:400] + lines[480:]).encode())])
    said = re.findall(r'data-said="([^"]*)"', page_picture(log_picture(found.log, found)).html)
    assert any("1 reading over the meter" in each for each in said), said
    assert any("81 s in all" in each for each in said), said


def test_a_second_mow_is_laid_over_the_first() -> None:
    later = [(amps + k / 500, volts - 1) for k, (amps, volts) in enumerate(MOW)]
    found, other = _examined(MOW), _examined([(amps / 2, volts - 4) for amps, volts in MOW + later])
    figure = log_picture(found.log, found, ("apple rows, 3 May 2025", other.log))
    assert {"this mow", "apple rows, 3 May 2025"} <= set(_labels(figure))
    for axes, column in zip(figure.axes, ("current_a", "voltage_v"), strict=True):
        drawn = next(line for line in axes.lines if line.get_label() == "apple rows, 3 May 2025")
        assert np.nanmax(drawn.get_ydata()) == pytest.approx(other.log.readings[column].max())
        assert axes.get_xlim()[1] == pytest.approx(1199 / 60)
        low, high = axes.get_ylim()
        assert low <= np.nanmin(drawn.get_ydata()) and np.nanmax(drawn.get_ydata()) <= high
