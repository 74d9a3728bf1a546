"""Hand readings from a form, and the errors where too few are filled in."""

from __future__ import annotations

from dataclasses import fields

from estimator.errors import InputError
from estimator.importer.by_hand.spot_order import tells_current, tells_minutes
from estimator.importer.log import SpotNotes
from estimator.mends import worded
from estimator.page.door.forms import Sent, amounts_of
from estimator.page.showing.decision_fields import labelled
from estimator.page.showing.words import sentence

SPOT_WORDS = {
    "typical_a": ("Amps, typical", "what the clamp shows most of the time"),
    "minutes": ("Minutes of mowing", "by the watch"),
    "idle_a": ("Amps, blades turning free", "not cutting"),
    "highest_a": ("Amps, highest", "the MAX hold of the clamp"),
    "load_v": ("Volts while mowing", "typical"),
    "rest_before_v": ("Volts at rest, before", "ten minutes after the last load"),
    "rest_after_v": ("Volts at rest, after", "ten minutes after mowing"),
}
"""Label and hint of the hand readings that most people have; those that are always needed come first."""
RARER_WORDS = {
    "rested_minutes": ("Minutes at rest", "from the end of mowing to those volts"),
    "mean_a": ("Amps, mean", "if the clamp shows AVG"),
    "gauge_before": ("Charge gauge before, %", "if the pack has one"),
    "gauge_after": ("Charge gauge after, %", "if the pack has one"),
    "put_back_ah": ("Ah put back", "by the charger until full, at the pack"),
    "put_back_wh": ("Wh put back", "by the charger until full, at the pack"),
    "socket_wh": ("Wh from the socket", "by a plug-in meter until full"),
}
"""Label and hint of those that are folded away; what the charger shows comes when the mow is over."""


def spot_of(sent: Sent) -> SpotNotes:
    """Hand readings from a form."""
    return SpotNotes(**amounts_of(sent, *(each.name for each in fields(SpotNotes))))


def needed_readings(sent: Sent) -> SpotNotes:
    """Hand readings from a form that are enough for a mow whose pack is described.

    Raises InputError in the words of the form; the importer would speak of a file and its columns.
    """
    spot = spot_of(sent)
    if not tells_current(spot):
        raise InputError(
            "typical amps are missing",
            mend="fill them in, or the mean, or volts at rest after with the minutes",
        )
    if not tells_minutes(spot):
        raise InputError("the minutes of mowing are missing", mend="fill them in, or volts at rest after")
    return spot


def volts_missing() -> InputError:
    """The error where no volts are filled in and no described pack has usual volts to stand in for them."""
    return InputError(
        "volts are missing",
        mend="fill in those at rest before or after, or while mowing, or describe the pack first: "
        "its usual volts then stand in",
    )


def without_file(error: InputError) -> str:
    """The error as a sentence without the name of the file that a form does not have."""
    return sentence(f"{error.problem}; {worded(error.mend, labelled)}" if error.mend else error.problem)
