"""How long the pack will still finish the chosen lawns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from estimator.answers.load import profile_of
from estimator.answers.names import the_lawns, the_pack
from estimator.answers.pack_chain import fit_of_pack, steps_of_pack
from estimator.answers.why import Part, Why
from estimator.conversion.cautions import for_pack
from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.logbook import Logbook

if TYPE_CHECKING:
    from estimator.predictor.finish_forecast import FinishForecast


@dataclass(frozen=True)
class PackLifeAnswer:
    """When the pack no longer finishes the lawns in one charge.

    capacity_ah, capacity_std_ah [Ah] : after each mow so far
    forecast : capacity the lawns need, the course to come, and the odds to finish at each mow of this pack
    """

    pack: str
    capacity_ah: tuple[float, ...]
    capacity_std_ah: tuple[float, ...]
    forecast: FinishForecast
    why: Why


def pack_life(
    logbook: Logbook,
    lawns: tuple[str, ...] = (),
    *,
    pack: str | None = None,
    grass: Grass | None = None,
    sure: float = 0.90,
    temperature_c: float | None = None,
) -> PackLifeAnswer:
    """The mow at which the pack no longer finishes the lawns with that certainty."""
    from estimator.predictor.finish_forecast import capacity_needed, finish_forecast

    chosen = the_pack(logbook, pack)
    areas = the_lawns(logbook, lawns)
    fitted = fit_of_pack(logbook, chosen)
    steps = steps_of_pack(logbook, chosen)
    if not steps:
        raise InputError(f"pack {chosen.name} has no mows yet", mend="add one first")
    profile = profile_of(logbook)
    need = capacity_needed(profile, fitted, areas, grass, sure, temperature_c=temperature_c)
    capacities = tuple(step.capacity_ah for step in steps)
    stds = tuple(step.capacity_std_ah for step in steps)
    found = finish_forecast(need, areas, list(range(1, len(steps) + 1)), capacities, stds)
    return PackLifeAnswer(
        pack=chosen.name,
        capacity_ah=capacities,
        capacity_std_ah=stds,
        forecast=found,
        why=Why(
            parts=(
                Part("capacity now", capacities[-1], "Ah", f"± {stds[-1]:.2g} Ah"),
                Part("capacity the lawns need", need.at_sure_ah, "Ah", f"with {sure:.0%} certainty"),
                Part("odds to finish now", 100 * found.odds_now, "%"),
                Part("mows of this pack", str(len(steps))),
            ),
            assumptions=(
                "The pack is used as so far; a knee, where fading suddenly speeds up, cannot be foreseen.",
                *profile.assumptions,
            ),
            cautions=for_pack(chosen.chemistry)[:1],
        ),
    )
