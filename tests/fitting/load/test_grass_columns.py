"""The columns of the load model, for what is known of a mow and for what is not, worked out on paper."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Grass, Lawn
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.grass_effects import (
    Circumstances,
    Situation,
    draw_columns,
    growth_column,
    height_mm,
    mean_columns,
)
from estimator.importer.log import Log
from estimator.mow import Mow

KNOWN = Circumstances(
    growth=float(np.log(1.5)), growth_std=0.2, growth_share=0.25, moisture=np.array([0.5, 0.3, 0.2]),
    moisture_share=0.64, care_days=30.0, temperature_c=20.0, growth_mm_a_day=2.5, growth_rate_log_std=0.4,
)  # fmt: skip
UNIT = np.array([[0.0, 0.0, 9.0], [1.0, -1.0, 9.0], [-2.0, 2.0, 9.0]])
MOIST = np.array([0.1, 0.6, 0.9])  # dry, damp and wet by chances of a half, three and two tenths


@pytest.mark.parametrize(
    ("situation", "row"),
    [
        (Situation(300.0, Grass("dry", 25.0), 0.0, 15.0), (1, 0, 0, 0, 0, 0, 0)),
        (Situation(600.0, Grass("damp", 75.0), 150.0, 5.0), (1, 1, 0, np.log(2), 1.5, -1, np.log(2))),
        (Situation(150.0, Grass("wet", 0.0), 500.0, 25.0), (1, 1, 1, -np.log(2), 4, 1, -np.log(2))),
        (Situation(300.0, Grass("dry", days_since_cut=30), 10.0, 15.0), (1, 0, 0, np.log(2), 0.1, 0, 0)),
        (Situation(300.0, Grass()), (1, 0.5, 0.2, np.log(1.5), 0.3, 0.5, 0)),
    ],
)
def test_a_row_says_how_a_mow_differs_from_dry_grass_of_25_mm_at_15_degrees_on_300_m2(situation, row):
    assert mean_columns([situation], KNOWN)[0] == pytest.approx(row)
    log = Log(pd.DataFrame({"time_s": [0.0, 60.0], "current_a": 5.0, "voltage_v": 48.0}))
    mow = mow_features(Mow(log, Lawn("plot", situation.area_m2), situation.grass))
    care, warm_c = situation.days_since_care, situation.temperature_c
    mow = replace(mow, days_since_care=care, temperature_c=warm_c)
    both = mean_columns([mow, situation], KNOWN)
    assert both == pytest.approx(np.array([row, row], float)), "a mow that was gives the row of one to come"


def test_what_is_known_is_drawn_as_it_is():
    situations = [Situation(600.0, Grass("damp", 75.0), 150.0, 8.0), Situation(10.0, Grass("wet", 5.0))]
    drawn = draw_columns(situations, KNOWN, UNIT, MOIST)
    assert drawn.shape == (3, 2, 7)
    for row in drawn:
        assert row == pytest.approx(mean_columns(situations, KNOWN))


def test_unknown_moisture_is_drawn_by_its_chances_and_swings_by_the_share_that_was_noted():
    """√0.64 = 0.8 of the way from the mean, 0.5 and 0.2, to 0 or 1."""
    drawn = draw_columns([Situation(300.0, Grass(growth_mm=25.0))], KNOWN, UNIT, MOIST)[:, 0]
    assert drawn[:, 1] == pytest.approx([0.5 - 0.4, 0.5 + 0.4, 0.5 + 0.4])
    assert drawn[:, 2] == pytest.approx([0.2 - 0.16, 0.2 - 0.16, 0.2 + 0.64])
    edge = draw_columns([Situation(300.0, Grass())], KNOWN, UNIT[:2], np.array([0.49, 0.51]))[:, 0, 1]
    assert edge == pytest.approx([0.1, 0.9])


def test_unknown_growth_is_drawn_by_its_scatter_and_never_below_none():
    """ln 1.5 and √0.25 · 0.2 of scatter; far out there is still something left to cut."""
    drawn = draw_columns([Situation(300.0, Grass("dry"))], KNOWN, UNIT, MOIST)[:, 0, 3]
    assert drawn == pytest.approx(np.log(1.5) + 0.1 * UNIT[:, 0])
    wide = replace(KNOWN, growth_std=4.0)
    assert draw_columns([Situation(300.0, Grass("dry"))], wide, UNIT, MOIST)[2, 0, 3] == -np.log(2)


def test_days_since_the_cut_are_drawn_by_their_rate():
    drawn = draw_columns([Situation(300.0, Grass("dry", None, 8.0))], KNOWN, UNIT, MOIST)[:, 0, 3]
    assert drawn == pytest.approx(growth_column(8 * 2.5 * np.exp(0.4 * UNIT[:, 1])))


@pytest.mark.parametrize(
    ("grass", "mm"), [(Grass(None, 12.0, 9.0), 12.0), (Grass(None, None, 9.0), 27.0), (Grass("wet"), None)]
)
def test_a_height_that_was_judged_counts_before_days(grass, mm):
    assert height_mm(grass, 3.0) == mm
