"""Which columns are volts of single cells, and whether they add up to the volts of the pack."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from estimator.importer.arrays import filled
from estimator.importer.table import quantities as q
from estimator.importer.testimony.heard import Heard, Witness

IN_STEPS = (1.0, 1e-3, 1e-2, 1e-1)  # units, or integers that count thousandths, hundredths, tenths

_A_BLOCK_V = 16.0
"""No part of a pack that is one of a series has more volts: a block of lead (common practice)."""


def families_of(heard: Heard, quantity: str = q.VOLTAGE) -> list[list[Witness]]:
    """Groups of columns of volts or amps whose titles differ only in a number, as those of cells do."""
    groups: dict[str, list[Witness]] = {}
    for w in heard.of(quantity):
        bare = "".join(ch for ch in w.title if not ch.isdigit())
        if bare != w.title:
            groups.setdefault(bare, []).append(w)
    return [g for g in groups.values() if len(g) >= 2]


def single_cells(heard: Heard) -> list[Witness]:
    """The largest family of columns with volts of single cells; empty where there is none."""
    return max(filter(_are_cells, families_of(heard)), key=len, default=[])


def _are_cells(family: Sequence[Witness]) -> bool:
    """Whether columns are of single cells: by their titles, or as three or more of the same 1 to 5 V."""
    usual = [float(np.median(filled(w.values))) * (w.scale or 1.0) for w in family]
    if family[0].meaning.doubt >= 2 and (family[0].scale is None or min(usual) < _A_BLOCK_V):
        return True
    return len(family) > 2 and min(usual) > 1 and max(usual) < min(5.0, 1.2 * min(usual))


def scale_by_cells(families: Sequence[Sequence[Witness]], v: Witness) -> float | None:
    """What one count of volts without a unit is, by cells that add up to it or by counts in millions."""
    if v.scale is None:
        if float(np.median(np.abs(filled(v.values)))) > 2e6:
            return 1e-6
        for family in families:
            if len(family) > 2 and v.index not in {w.index for w in family}:
                return next((s for s in IN_STEPS if adds_up(family, v, s)), None)
    return None


def adds_up(family: Sequence[Witness], v: Witness, scale: float) -> bool:
    """Whether the volts of cells add up to those of a column with this scale."""
    usual, one = float(np.median(np.abs(filled(family[0].values)))), family[0].scale
    if one is None:  # the only count that makes cells of them
        one = next((s for s in IN_STEPS if 1.0 < usual * s < 5.0), 1.0)
    total = np.sum([filled(w.values) for w in family], axis=0) * one
    volts = filled(v.values) * scale
    return bool(np.median(np.abs(total - volts)) < 0.02 * np.median(np.abs(volts)) + 1e-9)


def is_part_of(v: Witness, whole: Witness) -> bool:
    """Whether volts are those of another column over a whole number, as of one cell of several in series."""
    both = np.isfinite(v.values) & np.isfinite(whole.values) & (np.abs(v.values) > 0)
    if np.count_nonzero(both) < 0.5 * len(both):
        return False
    ratio = (whole.values[both] * (whole.scale or 1.0)) / (v.values[both] * (v.scale or 1.0))
    usual = float(np.median(ratio))
    whole_number = 1.9 < usual < 40 and abs(usual - round(usual)) < 0.03 * usual**0.5
    return whole_number and bool(np.percentile(np.abs(ratio / usual - 1), 90) < 0.02)
