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
    from estimator.predictor.fade_forecast import FadeForecast


@dataclass(frozen=True)
class PackLifeAnswer:
    """When capacity falls under what the lawns need.

    needed_ah [Ah] : capacity under which the lawns are not finished with certainty `sure` in one charge
    capacity_ah [Ah], capacity_std_ah : after each mow so far; forecast : the course to come, in mows of this pack
    """

    pack: str
    lawns: tuple[str, ...]
    sure: float
    needed_ah: float
    capacity_ah: tuple[float, ...]
    capacity_std_ah: tuple[float, ...]
    forecast: FadeForecast
    why: Why


def pack_life(
    logbook: Logbook,
    lawns: tuple[str, ...] = (),
    *,
    pack: str | None = None,
    grass: Grass | None = None,
    sure: float = 0.95,
) -> PackLifeAnswer:
    """The mow at which the pack no longer finishes the lawns in one charge."""
    from estimator.predictor.capacity import recommend_capacity
    from estimator.predictor.fade_forecast import fade_forecast

    chosen = the_pack(logbook, pack)
    areas = the_lawns(logbook, lawns)
    fitted = fit_of_pack(logbook, chosen)
    steps = steps_of_pack(logbook, chosen)
    if not steps:
        raise InputError(f"pack {chosen.name} has no mows yet", mend="add one first")
    need = recommend_capacity(
        profile_of(logbook), fitted, areas, grass or Grass(), sure,
        capacity_at_end=1.0, resistance_at_end=1.0, coldest_c=20.0, reserve=0.0,
    )  # fmt: skip
    capacities = tuple(step.capacity_ah for step in steps)
    stds = tuple(step.capacity_std_ah for step in steps)
    found = fade_forecast(list(range(1, len(steps) + 1)), capacities, need.capacity_ah, stds)
    return PackLifeAnswer(
        pack=chosen.name,
        lawns=tuple(lawn.name for lawn in areas),
        sure=sure,
        needed_ah=need.capacity_ah,
        capacity_ah=capacities,
        capacity_std_ah=stds,
        forecast=found,
        why=Why(
            parts=(
                Part("capacity now", capacities[-1], "Ah", f"± {stds[-1]:.2g} Ah"),
                Part(
                    "capacity the lawns need", need.capacity_ah, "Ah", f"with {sure:.0%} certainty, at 20 °C"
                ),
                Part("mows of this pack", str(len(steps))),
            ),
            assumptions=(
                "The pack is used as so far; a knee, where fading suddenly speeds up, cannot be foreseen.",
                *need.assumptions,
            ),
            cautions=for_pack(chosen.chemistry)[:1],
        ),
    )
