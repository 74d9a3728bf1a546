"""Right after a mow: whether it came as predicted, and what the charge that is left would still mow."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from estimator.answers.figures.load_profile import profile_of
from estimator.answers.figures.mow_figures import features_of_mows, with_habit
from estimator.answers.figures.mow_log import doubts_of_mow, log_of_mow
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.figures.replay import replay
from estimator.answers.keeping.typed import the_pack
from estimator.answers.why import Part, Why
from estimator.conversion.cautions import BLADES, for_pack
from estimator.errors import InputError
from estimator.logbook import Logbook, MowRecord, lawns, mow, mows

if TYPE_CHECKING:
    from estimator.predictor.lawns.one_more import OneMoreLawn
    from estimator.predictor.track_record import Predicted


@dataclass(frozen=True)
class AfterMow:
    """A mow compared with its prediction, and what the charge left is enough for.

    predicted : the mow as the mows before it predict it, and as it came, with its band from day to day; None
        for the first mow and for one that did not do its whole lawn
    doubts : what is unlikely about it, a sentence each
    more : the other lawns, likeliest first, each with the chance that the charge left finishes it
    """

    record: MowRecord
    predicted: Predicted | None
    doubts: tuple[str, ...]
    more: tuple[OneMoreLawn, ...]
    why: Why

    @property
    def harder(self) -> float | None:
        """Energy used over energy predicted, minus one; None where nothing was predicted.

        0.08 where 270 Wh were used and 250 Wh predicted.
        """
        found = self.predicted
        return None if found is None else found.energy_came_wh / found.energy_wh - 1


def after_mow(logbook: Logbook, number: int) -> AfterMow:
    """What to know about a mow that was just kept.

    Raises InputError for a mow that is not in the logbook.
    """
    from estimator.predictor.lawns.one_more import lawns_that_fit, so_far_of_log

    record, log = mow(logbook, number), log_of_mow(logbook, number)
    known = mows(logbook)
    before = [each.id for each in known]
    predicted = None
    if number in before:
        every = features_of_mows(logbook, known)
        found = {each: every[each] for each in before[: before.index(number) + 1]}
        if found[number].whole and sum(one.whole for one in found.values()) > 1:
            came_wh = with_habit(every, number, every[number]).energy_wh  # as every other answer shows it
            predicted = replace(replay(logbook, found, last=1)[-1], energy_came_wh=came_wh)
    more: tuple[OneMoreLawn, ...] = ()
    cautions: tuple[str, ...] = (BLADES,)
    assumed = ["The prediction knows the mows before this one, with its own lawn and grass."]
    try:
        pack = fit_of_pack(logbook, the_pack(logbook, record.pack))
        more = lawns_that_fit(
            profile_of(logbook, among=known),
            so_far_of_log(log, pack, record.start_charge, record.temperature_c),
            pack,
            [each for each in lawns(logbook) if each.name != record.lawn],
            record.grass,
            temperature_c=record.temperature_c,
        )
        cautions = (for_pack(pack.chemistry)[0], BLADES)
        assumed.append("Each lawn by itself, with the charge that is left and in the grass of this mow.")
    except InputError as error:
        assumed.append(f"What is left for other lawns could not be worked out: {error.problem}.")
    unlikely = (*log.doubts, *doubts_of_mow(logbook, number, log))
    return AfterMow(record, predicted, unlikely, more, Why(_parts(predicted), tuple(assumed), (), cautions))


def _parts(found: Predicted | None) -> tuple[Part, ...]:
    if found is None:
        return ()
    return (
        Part("energy predicted", found.energy_wh, "Wh", f"from {found.earlier} mows before it"),
        Part(
            "from day to day, 9 of 10 between", f"{found.energy_low_wh:.0f} and {found.energy_high_wh:.0f} Wh"
        ),
        Part("energy used", found.energy_came_wh, "Wh"),
        Part("minutes predicted", found.minutes, "min", f"{found.minutes_came:.0f} min it took"),
    )
