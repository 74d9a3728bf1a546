"""Why a worn lead-acid pack must be emptied once to be known: half a charge and a long rest move nothing."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Pack
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.pack_fit import fit_pack
from estimator.importer.log import Log

TRUE_AH, LABEL = 22.5, Pack("lead_acid", 12, 30.0, 21.0)


def emptied(share: float, rest_s: int) -> Log:
    """A planted pack of three quarters of its label, mown with 8 A from full, then left at rest: volts fall
    by 0.19 V a cell to the end, and recover within ten minutes."""
    mown_s = int(3600 * share * TRUE_AH / 8.0)
    amps = np.concatenate([np.zeros(30), np.full(mown_s, 8.0), np.zeros(rest_s)])
    charge = 1 - np.cumsum(amps) / 3600 / TRUE_AH
    lag = np.zeros(len(amps))
    for k in range(1, len(amps)):
        lag[k] = lag[k - 1] + (0.4 * amps[k] / 8.0 - lag[k - 1]) / 200.0
    volts = 12 * (1.94 + 0.19 * charge) - 0.05 * amps - lag
    time_s = np.arange(len(amps), dtype=float)
    return Log(pd.DataFrame({"time_s": time_s, "current_a": amps, "voltage_v": volts}).iloc[::5])


@pytest.mark.parametrize("share", [0.5, 0.75])
def test_half_a_charge_and_a_rest_leave_the_capacity_to_the_label(share: float) -> None:
    before, after = as_fitted(LABEL), fit_pack([emptied(share, 2700)], LABEL, [1.0])
    assert after.capacity_ah == pytest.approx(before.capacity_ah, rel=0.03)
    assert after.capacity_std_ah > 0.9 * before.capacity_std_ah
