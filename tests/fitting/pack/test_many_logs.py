"""A pack fitted to more logs than are judged together, and to logs that do not say how full they started."""

import numpy as np
import pandas as pd
import pytest
from planted_packs import FINE, planted_log

from estimator.descriptions import Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.open_circuit import open_circuit_v
from estimator.fitting.pack.pack_fit import TOGETHER, fit_pack
from estimator.importer.log import Log

LFP = Pack("lfp", 12, 10.0, 30.0)
NMC = Pack("nmc", 13, 10.0, 39.0)


def steady(start, end, amps=5.0, step_s=30.0):
    """A steady discharge of cells that follow the published curve, 10 Ah, 0.08 ohm."""
    seconds = np.arange(0.0, (start - end) * 10.0 / amps * 3600, step_s)
    volts = 12 * open_circuit_v("lfp", start - seconds * amps / 3600 / 10.0) - 0.08 * amps
    frame = pd.DataFrame({"time_s": seconds, "current_a": amps, "voltage_v": volts})
    return Log(frame[volts >= 29.95], error=FINE)


def test_older_logs_count_one_by_one_before_the_last_are_judged_together():
    logs = [steady(1.0, 0.0)] * (TOGETHER + 1)
    fitted = fit_pack(logs, LFP, [1.0] * len(logs))
    assert fitted.logs == TOGETHER + 1
    assert fitted.capacity_ah == pytest.approx(10.0, rel=0.05)


@pytest.mark.parametrize(("start", "end"), [(1.0, 0.0), (0.75, 0.0), (0.6, 0.45)])
def test_a_log_that_does_not_say_where_it_started_leaves_the_truth_believable(start, end):
    """The published curve rests at the cut-off, 2.5 V a cell, at 1.65 % of its charge: 9.83 Ah are usable."""
    fitted = fit_pack([steady(start, end)], LFP)
    low, high = fitted.capacity_ah * np.exp(np.array([-2, 2]) * np.sqrt(fitted.covariance[0, 0]))
    assert low < 9.83 < high


def test_three_quarters_drawn_to_the_end_are_told_from_a_full_pack_that_gave_less():
    """Packs mostly start full, but a curve that begins and bends where that of a pack three quarters full
    would is strong evidence against it."""
    log = steady(0.75, 0.0)
    assert fit_pack([log], LFP).capacity_ah == pytest.approx(9.83, rel=0.1)
    assert fit_pack([log], LFP, [0.75]).capacity_ah == pytest.approx(9.83, rel=0.1)


@pytest.mark.parametrize("slow_ohm", [0.0, 0.03, 0.1])
def test_what_relaxes_over_minutes_is_found(slow_ohm):
    """A planted pair of 150 s with a quick one of 36 mohm; where there is none, next to nothing is found."""
    logs = [planted_log(np.random.default_rng(k), slow_ohm=slow_ohm)[0] for k in range(1, 7)]
    fitted = fit_pack(logs, NMC, [1.0] * 6)
    found_ohm = float(np.exp(fitted.mean[prior.SLOW] + fitted.mean[prior.QUICK][4]))
    assert found_ohm == pytest.approx(slow_ohm, abs=0.008 + 0.1 * slow_ohm)
