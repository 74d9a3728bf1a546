"""A pack described with the wrong family is taken for what its volts show, and this is said."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from planted_packs import FINE, planted_log

from estimator.answers.figures.pack_now import pack_doubts
from estimator.descriptions import USUAL_CUT_OFF_V, Pack
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted, curve_apart
from estimator.fitting.pack.joint_fit import FAR_OFF, far_off
from estimator.fitting.pack.pack_fit import fit_of_log, fit_pack, update_fit
from estimator.fitting.pack.prior import CURVE
from estimator.importer.log import Log
from estimator.predictor.minutes import minutes_left

AT = [0.0, 0.03, 0.1, 0.2, 0.35, 0.6, 0.75, 0.95, 0.985, 1.0]
PLATEAUS_V = [2.5, 2.9, 3.17, 3.22, 3.265, 3.285, 3.32, 3.33, 3.35, 3.45]
"""Two plateaus of iron phosphate against graphite, rested, as data sheets show them (from memory)."""
CALLED_NMC = Pack("nmc", 15, 10.0, 37.5, name="crate")


def iron_phosphate(deep=0.7, start=1.0, capacity_ah=9.4):
    """A log at 6 to 12 A with 0.09 ohm, down by `deep` of the charge."""
    rng = np.random.default_rng(3)
    amps = np.repeat(rng.uniform(6, 12, 400), 20)
    charge = start - np.cumsum(amps) / 3600 / capacity_ah
    amps, charge = amps[charge > start - deep], charge[charge > start - deep]
    frame = {"time_s": np.arange(len(amps), dtype=float), "current_a": amps}
    return Log(
        pd.DataFrame(frame | {"voltage_v": 15 * np.interp(charge, AT, PLATEAUS_V) - 0.09 * amps}), error=FINE
    )


@pytest.mark.parametrize("deep", [0.3, 0.6, 0.9])
@pytest.mark.parametrize("called", ["nmc", "nca", "lco", "lithium"])
def test_iron_phosphate_under_another_name_is_fitted_as_what_it_is(called, deep):
    rated = replace(CALLED_NMC, chemistry=called)
    fitted, right = (
        fit_pack([iron_phosphate(deep)], each, start_charges=[1.0])
        for each in (rated, replace(rated, chemistry="lfp"))
    )
    assert (fitted.chemistry, fitted.rated.chemistry) == ("lfp", called)
    assert fitted.capacity_ah == pytest.approx(right.capacity_ah)
    assert fitted.capacity_std_ah == pytest.approx(right.capacity_std_ah)
    assert pack_doubts(fitted) == (
        f"The volts of crate are not those of {called}: 3.3 V a cell at half charge with 15 in series. "
        "Is it lfp? Every answer takes it for that.",
    )
    assert pack_doubts(right) == ()


def test_one_log_after_another_finds_it_too_and_keeps_it():
    log = iron_phosphate()
    one = update_fit(CALLED_NMC, log, 1.0)
    kept = FittedPack.from_plain(one.as_plain())
    assert (kept.chemistry, kept.rated) == ("lfp", CALLED_NMC)
    again = update_fit(kept, log, 1.0)
    assert (again.chemistry, again.logs, again.rated) == ("lfp", 2, CALLED_NMC)


def test_minutes_are_those_of_the_right_name():
    log = iron_phosphate(0.5)
    said, right = (
        minutes_left(log, each, 1.0, draws=200) for each in (CALLED_NMC, replace(CALLED_NMC, chemistry="lfp"))
    )
    assert said.minutes == pytest.approx(right.minutes)


def test_a_wrong_count_of_cells_widens_what_is_believed_and_is_said():
    log, _ = planted_log(np.random.default_rng(5))
    miscounted = Pack("nmc", 15, 10.5, 45.0, name="crate")
    fitted = fit_pack([log], miscounted, start_charges=[1.0])
    assert fitted.chemistry == "nmc"
    assert fitted.capacity_std_ah > 0.5 * as_fitted(miscounted).capacity_std_ah
    assert "Check its cells in series" in pack_doubts(fitted)[0]
    assert fit_of_log(log, replace(miscounted, series=13, cut_off_v=39.0), 1.0).after.chemistry == "nmc"


@pytest.mark.parametrize(("chemistry", "doubted"), [("nmc", True), ("lfp", True), ("lead_acid", False)])
def test_only_a_lithium_curve_far_from_what_was_believed_is_doubted(chemistry, doubted):
    """Lead-acid is one family: what its volts tell is charge, not kind."""
    told = as_fitted(Pack(chemistry, 12, 10.0, 12 * USUAL_CUT_OFF_V[chemistry]))
    assert pack_doubts(told) == ()
    mean = told.mean.copy()
    mean[CURVE] += 0.3
    assert bool(pack_doubts(replace(told, mean=mean))) == doubted


def test_volts_are_too_far_off_by_their_curve_or_by_what_no_curve_explains():
    """By readings that lie 80 mV a cell beside their model, twice what is too far, in the worst log."""
    told = as_fitted(CALLED_NMC)
    near, far = (
        SimpleNamespace(fitted=told, pack_mean=told.mean, residual_v=15 * volts * np.array([1.0, -1.0, 9.0]))
        for volts in (0.01, 0.08)
    )
    assert far_off([near]) == pytest.approx(0.25) and far_off([far, near]) == pytest.approx(2.0)
    mean = told.mean.copy()
    mean[CURVE] += 0.3
    bent = SimpleNamespace(fitted=told, pack_mean=mean, residual_v=np.zeros(3))
    assert far_off([near, bent]) == pytest.approx(curve_apart(told, mean) / FAR_OFF) and far_off([bent]) > 1
