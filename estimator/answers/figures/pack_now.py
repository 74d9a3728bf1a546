"""What a pack holds now: the one figure that every answer shows, and what stands behind it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.answers.why import Part, within
from estimator.descriptions import RAN_OUT
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted, curve_apart, open_circuit_table

WEAK = 0.08
"""Where a battery stops the motor with more of its charge left than this, it is worn or one of its cells is
weak (common practice)."""


@dataclass(frozen=True)
class PackNow:
    """What a pack holds now, from all its mows.

    usable_ah, usable_std_ah [Ah] : what it gives from full when mowing; this is what people see
    capacity_ah, capacity_std_ah [Ah] : what a slow discharge at 25 °C gives
    known_from : what the figures come from, in words
    """

    usable_ah: float
    usable_std_ah: float
    capacity_ah: float
    capacity_std_ah: float
    known_from: str

    @property
    def usable_share(self) -> float:
        """The share of a slow discharge that mowing can use, 0..1."""
        return self.usable_ah / self.capacity_ah

    @property
    def said(self) -> str:
        """The usable capacity in words."""
        return f"{self.usable_ah:.1f} Ah when mowing, {within(self.usable_std_ah, 'Ah')}, {self.known_from}"

    def parts(self) -> tuple[Part, Part]:
        """Both capacities among the parts of an answer."""
        return (
            Part(
                "pack",
                self.usable_ah,
                "Ah",
                f"from full when mowing, {within(self.usable_std_ah, 'Ah')}, {self.known_from}",
            ),
            Part("in a slow discharge", self.capacity_ah, "Ah", "at 25 °C"),
        )


def pack_doubts(fitted: FittedPack) -> tuple[str, ...]:
    """A sentence where the volts of a pack are not those of the family that its description names, and one
    where it stops the motor with charge left.
    """
    from estimator.fitting.pack.joint_fit import FAR_OFF
    from estimator.fitting.pack.open_circuit import GRID

    told = fitted.rated.chemistry
    half_v = float(np.interp(0.5, GRID, open_circuit_table(fitted, fitted.mean)))
    head = f"The volts of {fitted.name} are not those of {told.replace('_', '-')}: "
    at_half = f"{half_v:.1f} V a cell at half charge with {fitted.series} in series"
    if fitted.chemistry != told:
        what = "another kind of lithium-ion" if fitted.chemistry == "lithium" else fitted.chemistry
        return (f"{head}{at_half}. Is it {what}? Every answer takes it for that.",)
    if fitted.stops_at > WEAK:
        return (
            f"{fitted.name} stopped the motor with {round(100 * fitted.stops_at)} % of what label and volts "
            "promise unused: it is worn, or one of its cells is empty before the others. Have them measured "
            "and balanced by somebody trained in it. If a peak, heat or a plug stopped it, take the tag "
            f"{RAN_OUT!r} off: every answer counts on what it gave until then.",
        )
    if told != "lead_acid" and curve_apart(as_fitted(fitted.rated), fitted.mean) > FAR_OFF:
        return (f"{head}{at_half}. Check its cells in series and its chemistry.",)
    return ()


def by_a_guess(fitted: FittedPack) -> tuple[str, ...]:
    """A sentence where an answer rests on a guessed capacity that no mow has shown yet."""
    if not fitted.capacity_guessed or not fitted.by_its_label:
        return ()
    return (
        f"That {fitted.name} holds {fitted.rated.capacity_ah:g} Ah is a guess, which may be off by a third "
        "and more: the first mow from full to the cut-off shows what it holds.",
    )


def pack_now(fitted: FittedPack) -> PackNow:
    """What a fitted pack holds."""
    logs = f"from {fitted.logs} log{'' if fitted.logs == 1 else 's'}"
    label = f"by a guess of {fitted.rated.capacity_ah:g} Ah" if fitted.capacity_guessed else "by its label"
    label += "" if fitted.rated.first_year is None else " and age"
    if fitted.logs and fitted.pace.gave is None:
        # mows may have reached the cut-off, but none shows from which charge
        label += ", as no log goes from full to the cut-off"
    if fitted.stops_at > WEAK:
        logs += ", until it stops the motor itself"
    return PackNow(
        fitted.usable_ah,
        fitted.usable_std_ah,
        fitted.capacity_ah,
        fitted.capacity_std_ah,
        label if fitted.by_its_label else logs if fitted.logs else "from hand readings",
    )
