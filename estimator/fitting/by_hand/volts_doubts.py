"""Hand-read volts that can hardly be right, whatever else was read: then nothing is learnt from any volts."""

from __future__ import annotations

from estimator.descriptions import FULL_CELL_V, Pack
from estimator.importer.by_hand.spot_order import WORDS
from estimator.importer.log import SpotNotes

OVER_FULL = 1.02
"""Volts this many times full are more than the error of a panel voltmeter (common practice)."""
RISE = 0.003
"""A rise of the rest volts by more than this share is more than the last digit and the recovery from an
earlier load (common practice)."""


def volts_doubts(spot: SpotNotes, pack: Pack) -> tuple[str, ...]:
    """A sentence for every unlikely voltage; where one is unlikely, the pack learns nothing from any of them.

    >>> crate = Pack(chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39, name="crate")
    >>> volts_doubts(SpotNotes(rest_before_v=52, rest_after_v=53.5), crate)
    ('Volts at rest rise from 52 to 53.5 while mowing: check them.',)
    """
    said = []
    full_v = FULL_CELL_V[pack.chemistry] * pack.series
    for name in ("rest_before_v", "load_v", "rest_after_v"):
        volts = getattr(spot, name)
        if volts is None:
            continue
        head = f"{WORDS[name].capitalize()} are {volts:g}"
        if volts > OVER_FULL * full_v:
            said.append(
                f"{head}, but {pack.series} {pack.chemistry} cells in series are full at {full_v:.1f} V: "
                f"check them."
            )
        elif volts < pack.cut_off_v:
            said.append(
                f"{head}, below the cut-off of {pack.cut_off_v:g} V at which {pack.name} stops: check them."
            )
    before, after, load = spot.rest_before_v, spot.rest_after_v, spot.load_v
    if before is not None and after is not None and after > (1 + RISE) * before:
        said.append(f"Volts at rest rise from {before:g} to {after:g} while mowing: check them.")
    if before is not None and load is not None and load > (1 + RISE) * before:
        said.append(f"Volts while cutting are {load:g}, above those at rest before ({before:g}): check them.")
    return tuple(said)
