"""One mow with everything that the logbook knows of it; lists of mows."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import Any

from estimator import logbook as kept
from estimator.answers.figures.mow_figures import (
    USED,
    USED_VERSION,
    as_noted,
    figures_shown,
    plain_used,
    used_in_mow,
)
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.figures.pack_now import PackNow, pack_now
from estimator.answers.keeping.twins import twins_caution, twins_of
from estimator.answers.why import Part, Why, within
from estimator.conversion.cautions import BLADES
from estimator.logbook import Change, Logbook, MowRecord
from estimator.logbook.records.mow_values import HAND, decisions_said


@dataclass(frozen=True)
class PackHolds:
    """What a pack holds now, by all its mows."""

    pack: str
    pack_now: PackNow


@dataclass(frozen=True)
class MowsListed:
    """The mows wanted, by start, then number; `count` is how many, `packs` what their packs hold now.

    minutes [min], energy_wh [Wh] : of each mow, gaps filled at its mean power
    """

    count: int
    mows: tuple[MowRecord, ...]
    minutes: tuple[float, ...] = ()
    energy_wh: tuple[float, ...] = ()
    packs: tuple[PackHolds, ...] = ()


def mows_listed(logbook: Logbook, **which: Any) -> MowsListed:
    """The mows of a lawn, pack, season or tag, or the removed ones; `which` is as for `logbook.mows`, but
    doubtful ones are listed with the others."""
    found = tuple(kept.mows(logbook, **{"doubtful": None, **which}))
    packs = sorted({mow.pack for mow in found if mow.pack})
    figures = figures_shown(logbook, found).values()
    return MowsListed(
        len(found),
        found,
        tuple(one.motor_s / 60 for one in figures),
        tuple(one.energy_wh for one in figures),
        tuple(PackHolds(name, pack_now(fit_of_pack(logbook, kept.pack(logbook, name)))) for name in packs),
    )


@dataclass(frozen=True)
class MowStory:
    """A mow as it is described, its figures and its history.

    minutes [min], energy_wh [Wh], wh_per_m2 [Wh/m²], powers [W] : of the mow, gaps filled at its mean power
    peaks [W] : over 1, 5 and 30 s, None where the readings are too far apart to show them
    pack_now : what its pack holds now, by all its mows; None where no pack was given
    ah [Ah] with its standard uncertainty ah_std, gap_minutes [min] : as measured
    """

    record: MowRecord
    minutes: float
    energy_wh: float
    wh_per_m2: float
    ah: float
    ah_std: float
    gap_minutes: float
    mean_w: float
    idle_w: float | None
    peak_1s_w: float | None
    peak_5s_w: float | None
    peak_30s_w: float | None
    pack_now: PackNow | None
    history: tuple[Change, ...]
    why: Why


def story_of_mow(logbook: Logbook, mow: int) -> MowStory:
    """The story of one mow, even of a removed one."""
    record = kept.mow(logbook, mow)
    features = figures_shown(logbook, [record])[mow]
    used = kept.derived_of(logbook, mow, USED, USED_VERSION)
    if used is None:
        used = plain_used(used_in_mow(kept.log_of(logbook, mow), features))
        kept.keep_derived(logbook, mow, USED, USED_VERSION, used)
    how = "trapezoid between readings"
    if features.spot and used["wh"] > 0:  # later mows show more of the person's habit
        used, how = {**used, **as_noted(features)}, "as its readings and the other mows say together"
    twins = () if record.removed else twins_of(logbook, record.pack, record.started, used["ah"], but=mow)
    return MowStory(
        record=record,
        minutes=features.motor_s / 60,
        energy_wh=features.energy_wh,
        wh_per_m2=features.energy_per_area(),
        ah=used["ah"],
        ah_std=used["ah_std"],
        gap_minutes=used["gap_s"] / 60,
        mean_w=features.mean_w,
        idle_w=features.idle_w,
        peak_1s_w=features.seen_peak_w(1),
        peak_5s_w=features.seen_peak_w(5),
        peak_30s_w=features.seen_peak_w(30),
        pack_now=None
        if record.pack is None
        else pack_now(fit_of_pack(logbook, kept.pack(logbook, record.pack))),
        history=history_of_mow(logbook, mow),
        why=Why(
            parts=(
                Part("charge used", used["ah"], "Ah",
                     f"{how}, {within(used['ah_std'], 'Ah')}"),
                Part("time without readings", used["gap_s"] / 60, "min",
                     "energy and time count them at the mean power; the charge used leaves them out"),
                Part("area of the lawn", features.area_m2, "m²", "as described"),
                Part("usual time between readings", features.step_s, "s", "shorter peaks were not seen"),
            ),
            assumptions=("Readings by hand: the power between them is a stand-in.",) if features.spot else (),
            sources=("Uncertainties combined by JCGM 100:2008 (GUM).",),
            cautions=(*twins_caution(twins), BLADES),
        ),
    )  # fmt: skip


def history_of_mow(logbook: Logbook, mow: int) -> tuple[Change, ...]:
    """The changes of a mow, oldest first; a hand reading is as in its file until it is corrected."""
    changes = kept.history(logbook, mow)
    if not any(HAND in decisions_said(each.after) for each in changes):
        return changes
    read = vars(kept.examined_of(logbook, mow).log.spot)

    def whole(change: Change) -> Change:
        sides = decisions_said(change.before), decisions_said(change.after)
        names = {name for side in sides for name in side.get(HAND, ())}
        if not names or change.before is None:
            return change
        first = {name: read[name] for name in sorted(names)}
        before, after = (json.dumps({**side, HAND: first | side.get(HAND, {})}) for side in sides)
        return replace(
            change,
            before={**change.before, "decisions": before},
            after={**(change.after or {}), "decisions": after},
        )

    return tuple(whole(each) for each in changes)
