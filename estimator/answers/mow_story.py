"""One mow with all that the logbook knows of it."""

from __future__ import annotations

from dataclasses import dataclass

from estimator import logbook as kept
from estimator.answers.mow_figures import features_of_mows
from estimator.logbook import Change, Logbook, MowRecord


@dataclass(frozen=True)
class MowStory:
    """A mow as it is described, its figures (minutes [min], energy [Wh], power [W]) and its history."""

    record: MowRecord
    minutes: float
    energy_wh: float
    wh_per_m2: float
    mean_w: float
    idle_w: float | None
    peak_1s_w: float
    peak_5s_w: float
    peak_30s_w: float
    history: tuple[Change, ...]


def story_of_mow(logbook: Logbook, mow: int) -> MowStory:
    """The story of one mow, also of a removed one."""
    record = kept.mow(logbook, mow)
    features = features_of_mows(logbook, [record])[mow]
    return MowStory(
        record=record,
        minutes=features.motor_s / 60,
        energy_wh=features.energy_wh,
        wh_per_m2=features.energy_per_area(),
        mean_w=features.mean_w,
        idle_w=features.idle_w,
        peak_1s_w=features.peak_1s_w,
        peak_5s_w=features.peak_5s_w,
        peak_30s_w=features.peak_30s_w,
        history=kept.history(logbook, mow),
    )
