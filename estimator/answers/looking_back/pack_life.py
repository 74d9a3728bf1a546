"""How long the pack will still finish the chosen lawns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from estimator.answers.figures.load_profile import profile_of, rests_on
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.figures.pack_curves import capacity_seen
from estimator.answers.figures.pack_now import PackNow, pack_now
from estimator.answers.keeping.typed import the_lawns, the_pack
from estimator.answers.why import Part, Why, doubt_parts
from estimator.conversion.cautions import for_pack
from estimator.descriptions import Grass
from estimator.errors import NotYet
from estimator.logbook import Logbook, mow_count
from estimator.results import odds

if TYPE_CHECKING:
    from estimator.predictor.finish_forecast import FinishForecast
    from estimator.predictor.narrowing import Doubt


def _price(chemistry: str) -> str:
    """What the mow that shows the capacity costs a pack that a full discharge harms; else "".

    On ten planted lead-acid packs that held three quarters of their label, mows of half and of four fifths
    of a charge with 45 minutes of rest after them moved the capacity by nothing.
    """
    from estimator.conversion.running_cost import CYCLES

    if chemistry != "lead_acid":
        return ""
    lasts = CYCLES[chemistry].value
    return (
        "; with lead-acid no shorter mow shows it, nor do its volts at rest, and that one takes a full "
        f"discharge of the some {lasts:.0f} that it lasts: do it once a season, and charge it the same day"
    )


@dataclass(frozen=True)
class PackLifeAnswer:
    """When the pack no longer finishes the lawns on one charge.

    mow_number, capacity_ah, capacity_std_ah [Ah] : mows that show a capacity (slow discharge, 25 °C), that
        capacity, and its own uncertainty; scale_std : relative standard uncertainty that all of them share
    pack_now : what the pack holds now; people see capacities times its `usable_share`
    forecast : the capacity that the lawns need, how it will fade, and the odds of finishing at each mow
    doubts : what makes the odds of finishing now uncertain, the largest cause first
    notes : what the lawns' need rests on where that is not plain
    current_limit_a [A] : of the pack, if any, which these odds leave out: no capacity helps against it
    """

    pack: str
    mow_number: tuple[int, ...]
    capacity_ah: tuple[float, ...]
    capacity_std_ah: tuple[float, ...]
    scale_std: float
    mows: int
    pack_now: PackNow
    forecast: FinishForecast
    doubts: tuple[Doubt, ...]
    notes: tuple[str, ...]
    current_limit_a: float | None
    why: Why


def pack_life(
    logbook: Logbook,
    lawns: tuple[str, ...] = (),
    pack: str | None = None,
    grass: Grass | None = None,
    sure: float = 0.90,
    temperature_c: float | None = None,
) -> PackLifeAnswer:
    """The mow from which on the pack no longer finishes the lawns with the certainty wanted."""
    from estimator.predictor.finish_forecast import capacity_needed, finish_forecast

    chosen = the_pack(logbook, pack)
    areas = the_lawns(logbook, lawns)
    fitted = fit_of_pack(logbook, chosen)
    count = mow_count(logbook, chosen.name)
    if not count:
        raise NotYet(f"pack {chosen.name} has no mows yet", mend="add one first")
    history = capacity_seen(logbook, chosen)
    if not history.observed:
        raise NotYet(
            f"no mow of {chosen.name} shows its capacity yet",
            mend=f"log one from full until the cut-off stops the motor{_price(chosen.chemistry)}",
        )
    profile = profile_of(logbook)
    need = capacity_needed(profile, fitted, areas, grass, sure, temperature_c=temperature_c)
    seen = history.series()
    now = pack_now(fitted)
    found = finish_forecast(
        need, areas, seen.number, seen.capacity_ah, seen.std_ah,
        scale_std=seen.scale_std, usable_share=now.usable_share,
    )  # fmt: skip
    return PackLifeAnswer(
        pack=chosen.name,
        mow_number=history.mow_number,
        capacity_ah=tuple(seen.capacity_ah.tolist()),
        capacity_std_ah=tuple(seen.std_ah.tolist()),
        scale_std=history.scale_std,
        mows=count,
        pack_now=now,
        forecast=found,
        doubts=need.doubts,
        notes=rests_on(profile, grass or Grass()),
        current_limit_a=chosen.current_limit_a,
        why=Why(
            parts=(
                *now.parts(),
                Part("mows that show the capacity", str(len(seen.number)), "", f"by {history.shown_by}"),
                Part(
                    "what the lawns need",
                    need.at_sure_ah * now.usable_share,
                    "Ah",
                    f"from full when mowing, with {100 * sure:.0f} % certainty",
                ),
                Part("odds to finish now", odds(found.odds_now)),
                Part("mows of this pack", str(count)),
                *doubt_parts(need.doubts),
            ),
            assumptions=(
                "The pack is used as so far; a knee, where fading suddenly speeds up, cannot be foreseen.",
                *profile.assumptions,
            ),
            cautions=for_pack(chosen.chemistry)[:1],
        ),
    )
