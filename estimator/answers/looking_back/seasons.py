"""Compare seasons in discharge curves, capacity, resistance, energy, pace and idle power; change or noise."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.figures.pack_curves import DatedCurve, capacity_seen, curves_of_pack
from estimator.answers.figures.pack_now import PackNow, pack_now
from estimator.answers.keeping.typed import the_pack
from estimator.answers.why import Part, Why
from estimator.conversion.cautions import BLADES, FULL_DISCHARGE, for_pack
from estimator.errors import InputError
from estimator.importer.log import HALF_90
from estimator.logbook import Logbook, mow_count

if TYPE_CHECKING:
    from estimator.fitting.seasons.comparisons import GroupChange, GroupComparison, GroupLevel
    from estimator.fitting.seasons.measures import Measure, Observed
    from estimator.fitting.seasons.season_curves import CurveChange, SeasonCurves


@dataclass(frozen=True)
class SeasonsAnswer:
    """Seasons side by side.

    curves : discharge curves of the pack by season; None where no logged mow starts from a known charge
    pack_now : what the pack holds now; comparisons : by season, its usable capacity (up to that figure), its
        resistance, and energy, pace and idle power of all mows
    sentences : what changed and whether it is more than noise; the latest season comes first, and in it the
        real changes; of_latest : how many sentences are about the latest season
    """

    pack: str
    pack_now: PackNow
    curves: SeasonCurves | None
    comparisons: tuple[GroupComparison, ...]
    sentences: tuple[str, ...]
    of_latest: int
    why: Why


def seasons_compared(
    logbook: Logbook, pack: str | None = None, *, power_w: float | None = None, temperature_c: float = 25.0
) -> SeasonsAnswer:
    """Every figure that the logbook follows, season by season.

    power_w [W], temperature_c [°C] : the load and pack temperature for which all discharge curves are given;
    None takes the usual load
    """
    from estimator.fitting.seasons.comparisons import compare_groups
    from estimator.fitting.seasons.measures import CAPACITY
    from estimator.fitting.seasons.season_curves import season_curves, season_names

    chosen = the_pack(logbook, pack)
    fitted = fit_of_pack(logbook, chosen)
    dated = curves_of_pack(logbook, chosen, fitted.capacity_ah)
    try:
        curves = season_curves(
            [each.curve for each in dated],
            [each.day for each in dated],
            chosen.series,
            power_w,
            temperature_c,
        )
    except InputError:
        curves = None
    capacity, now = capacity_seen(logbook, chosen, dated), pack_now(fitted)
    usable = [replace(one, value=one.value * now.usable_share) for one in capacity.observed]
    seen = _followed(logbook, usable, dated)
    comparisons = []
    for measure, observed in seen:
        if observed:
            compared = compare_groups(measure, observed, season_names([each.day for each in observed]))
            if measure == CAPACITY:
                compared = _with_scale(compared, capacity.scale_std)
            comparisons.append(compared)
    told: list[CurveChange | GroupChange] = [
        *(curves.changes if curves else ()),
        *(each for comparison in comparisons for each in comparison.changes),
    ]
    latest = max((each.later for each in told), default="")
    told.sort(key=lambda each: (each.later != latest, not each.more_than_noise))
    return SeasonsAnswer(
        pack=chosen.name,
        pack_now=now,
        curves=curves,
        comparisons=tuple(comparisons),
        sentences=tuple(each.sentence for each in told),
        of_latest=sum(each.later == latest for each in told),
        why=Why(
            parts=(
                Part("mows of the pack", str(mow_count(logbook, chosen.name))),
                Part(
                    "mows without a known start charge",
                    str(curves.left_out if curves else len(dated)),
                    "",
                    "left out of the curves",
                ),
                *(Part(f"mows that show {measure.name}", str(len(observed))) for measure, observed in seen),
            ),
            assumptions=(
                "Seasons run from the time of year when nobody mows to the same time a year later.",
                *(
                    f"{measure.name.capitalize()} is compared after allowing for {measure.allowed_for}."
                    for measure, _ in seen
                    if measure.allowed_for
                ),
            ),
            cautions=(for_pack(chosen.chemistry)[0], BLADES, FULL_DISCHARGE),
        ),
    )


def _followed(
    logbook: Logbook, capacity: Sequence[Observed], curves: Sequence[DatedCurve]
) -> tuple[tuple[Measure, tuple[Observed, ...]], ...]:
    """Every measure that the logbook follows, with what the mows show of it, oldest first."""
    from estimator.fitting.seasons import measures

    features = list(features_of_mows(logbook).values())
    resistance = measures.resistance_observed([each.curve for each in curves], [each.day for each in curves])
    return (
        (measures.CAPACITY, tuple(capacity)),
        (measures.RESISTANCE, resistance),
        (measures.ENERGY, measures.energy_observed(features)),
        (measures.PACE, measures.pace_observed(features)),
        (measures.IDLE, measures.idle_observed(features)),
    )


def _with_scale(compared: GroupComparison, scale_std: float) -> GroupComparison:
    """Widen the bands of the groups' levels by the uncertainty that all mows share. Changes are free of it: a
    change that is more than noise though the bands overlap says so."""

    def widened(group: GroupLevel) -> GroupLevel:
        down, up = (
            math.hypot(math.log(group.value / end), HALF_90 * scale_std) for end in (group.low, group.high)
        )
        return replace(group, low=group.value * math.exp(-down), high=group.value * math.exp(up))

    def explained(change: GroupChange) -> GroupChange:
        one, other = level_of[change.earlier], level_of[change.later]
        if not change.more_than_noise or one.high < other.low or other.high < one.low:
            return change
        shared = f"by {100 * HALF_90 * scale_std:.0f} % up or down, alike in both seasons"
        return replace(change, sentence=f"{change.sentence} Only how much both hold is less sure: {shared}.")

    level_of = {group.group: widened(group) for group in compared.groups}
    return replace(
        compared,
        groups=tuple(level_of.values()),
        changes=tuple(explained(change) for change in compared.changes),
    )
