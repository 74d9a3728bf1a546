"""How several peaks of a fit are mixed, and when a pack is taken for one of another family."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Pack
from estimator.fitting.pack import joint_fit
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted
from estimator.fitting.pack.joint_fit import LogFit, fit_log, fit_logs, of_its_family
from estimator.fitting.pack.log_model import N_JOINT, START, ZERO_A
from estimator.fitting.pack.log_share import N_PACK
from estimator.fitting.pack.pack_fit import fit_of_log
from estimator.fitting.pack.start_charge import End, Start
from estimator.importer.log import Log

PACK = Pack("nmc", 15, 10.0, 45.0)
NMC = as_fitted(PACK)
FULL = Start(1.0, 0.006, True)


@pytest.fixture(scope="module")
def known() -> LogFit:
    frame = pd.DataFrame({"time_s": [0.0, 300.0, 600.0], "current_a": 9.0, "voltage_v": [60.0, 59.0, 58.0]})
    return fit_of_log(Log(frame, longest_step_s=900.0), PACK, 1.0).found


def peaks(monkeypatch, known, *found: tuple[float, float, float], full=False) -> LogFit:
    """The mixture of peaks (start charge found, log evidence, share of its try), by one fit of each."""
    tries = tuple(
        Start(1.0 if k == 0 else 0.5, 0.1, False, share=share) for k, (_, _, share) in enumerate(found)
    )
    results = iter(found)

    def fit_logs(*_):
        start, evidence, _ = next(results)
        mean, pack_mean = np.zeros(N_JOINT), np.full(N_PACK, start)
        mean[START] = start
        return [
            replace(
                known, mean=mean, pack_mean=pack_mean, log_evidence=evidence,
                covariance=np.eye(N_JOINT), pack_covariance=np.eye(N_PACK),
            )
        ]  # fmt: skip

    monkeypatch.setattr(joint_fit, "fit_logs", fit_logs)
    return fit_log(NMC, known.trace, replace(tries[0], tries=tries, full=full))


def test_peaks_are_mixed_by_evidence_and_by_how_likely_they_were_before(monkeypatch, known):
    """0.9 with half the prior, 0.3 with half and three times the evidence: chances 1 : 3, mean 0.45, so 0.3
    is nearest; the other, 0.6 away, widens its variance by a quarter of 0.36."""
    mixed = peaks(monkeypatch, known, (0.9, 1.0, 0.5), (0.3, 1.0 + np.log(3), 0.5))
    assert mixed.mean[START] == 0.3
    assert mixed.covariance[START, START] == pytest.approx(1 + 0.25 * 0.36)
    assert mixed.pack_covariance[0, 1] == pytest.approx(0.25 * 0.36)
    likely_before = peaks(monkeypatch, known, (0.9, 1.0, 0.9), (0.3, 1.0 + np.log(3), 0.1))
    assert likely_before.mean[START] == 0.9
    assert likely_before.covariance[START, START] == pytest.approx(1 + 0.25 * 0.36)


def test_a_peak_that_is_found_again_counts_once(monkeypatch, known):
    """Within a hundredth of charge it is the same: 1 : 1 and not 2 : 1."""
    mixed = peaks(
        monkeypatch, known, (0.90, 1.0, 0.5), (0.895, 1.0, 0.5), (0.30, 1.0, 0.5), (0.28, 0.0, 1e-9)
    )
    assert mixed.mean[START] in (0.9, 0.3)
    assert mixed.covariance[START, START] == pytest.approx(1 + 0.5 * 0.36)
    apart = peaks(monkeypatch, known, (0.90, 1.0, 0.5), (0.885, 1.0, 0.5), (0.30, 1.0, 0.5))
    assert apart.mean[START] == 0.885, "two of three are near it"


@pytest.mark.parametrize(("against", "stands"), [(7.9, True), (8.1, False)])
def test_a_full_start_stands_unless_the_evidence_against_it_is_strong(monkeypatch, known, against, stands):
    """Eight of log evidence: a cold pack gives less, which looks like a later start by 2.3 at most."""
    found = (1.0, 0.0, 0.5), (0.4, against, 0.5)
    assert peaks(monkeypatch, known, *found, full=True).mean[START] == (1.0 if stands else 0.4)
    assert peaks(monkeypatch, known, *found, full=False).mean[START] == 0.4


def test_one_possibility_is_taken_as_it_is(monkeypatch, known):
    alone = peaks(monkeypatch, known, (0.7, 5.0, 1.0))
    assert alone.mean[START] == 0.7 and np.array_equal(alone.covariance, np.eye(N_JOINT))


def test_heat_is_the_current_times_the_volts_that_lack(known):
    """(9 − 1) A times 2 V between open circuit and modelled volts: 16 W."""
    mean = known.mean.copy()
    mean[ZERO_A] = 1.0
    lacking = replace(known, mean=mean, emf_v=known.trace.voltage_v - known.residual_v + 2.0)
    assert lacking.heat_w == pytest.approx(16.0)


def test_an_end_that_is_off_counts_against_its_fit_with_half_of_its_square(known):
    """An end known to a half of the charge moves nothing; one and a half beside it are three deviations."""
    place = len(known.trace.time_s) - 1
    end = End(place, float(known.charge[place]), 0.5)

    def evidence(end: End) -> float:
        return fit_logs(NMC, [known.trace], [Start(1.0, 0.006, True, end=end)])[0].log_evidence

    nearer, beside, farther = (evidence(replace(end, charge=end.charge - by)) for by in (0.0, 1.5, 2.5))
    assert (nearer - beside, nearer - farther) == pytest.approx((9 / 2, 25 / 2), rel=0.02)


def test_what_scatters_more_than_stated_counts_against_a_fit_by_its_number_of_readings(known):
    """Readings twice as far off as stated: half of their number times ln 4, and no more by their squares."""
    trace = known.trace
    volts = trace.voltage_v + 15 * 0.2 * np.array([1.0, -1.0, 1.0])
    loud, louder = (
        fit_logs(NMC, [replace(trace, voltage_v=trace.voltage_v + k * (volts - trace.voltage_v))], [FULL])[0]
        for k in (1.0, 2.0)
    )
    readings = 3.0  # as many as there are
    assert loud.log_evidence - louder.log_evidence == pytest.approx(readings / 2 * np.log(4), rel=0.3)


def off_by(pack: FittedPack, volts: float, evidence: float, std: float = 0.5) -> SimpleNamespace:
    """A fit whose readings lie `volts` [V a cell] beside their model: 0.04 V is too far."""
    return LogFit(
        fitted=pack, trace=None, mean=np.zeros(N_JOINT), covariance=np.zeros((N_JOINT, N_JOINT)), charge=None,
        surface=None, emf_v=None, state=None, state_jacobian=None, residual_v=np.full(3, 15 * volts),
        pack_mean=pack.mean, pack_covariance=std**2 * pack.covariance, log_evidence=evidence, ended=False,
    )  # fmt: skip


def judged(pack: FittedPack, **volts_and_evidence: tuple[float, float]) -> tuple[list[LogFit], list[str]]:
    """What is taken of fits of each family, and which families were tried."""
    tried = []

    def fit(known: FittedPack) -> list[LogFit]:
        tried.append(known.chemistry)
        return [off_by(known, *volts_and_evidence[known.chemistry])]

    return of_its_family(pack, fit), tried


@pytest.mark.parametrize(
    ("nmc", "lfp", "lithium", "taken"),
    [
        ((0.005, 0.0), (0.0, 500.0), (0.0, 500.0), "nmc"),  # not doubted: no other is tried
        ((0.020, 0.0), (0.02, 21.0), (0.02, 19.0), "lfp"),
        ((0.020, 0.0), (0.02, 19.0), (0.02, 19.0), "nmc"),  # not surely another
        ((0.020, 0.0), (0.025, 99.0), (0.02, 19.0), "nmc"),  # as doubtful itself: over 0.6 of 0.04 V
        ((0.020, 0.0), (0.02, 30.0), (0.02, 40.0), "lithium"),
        ((0.060, 0.0), (0.02, 50.0), (0.02, 40.0), "lfp"),
    ],
)
def test_a_pack_is_taken_for_another_family_where_that_explains_its_volts_far_better(
    nmc, lfp, lithium, taken
):
    found, tried = judged(NMC, nmc=nmc, lfp=lfp, lithium=lithium)
    assert found[0].fitted.chemistry == taken
    assert tried == (["nmc"] if nmc[0] < 0.006 else ["nmc", "lfp", "lithium"])
    assert found[0].fitted.rated is NMC.rated
    if taken == "nmc":
        assert found[0].pack_covariance == pytest.approx(0.25 * NMC.covariance)


def test_volts_of_no_family_are_trusted_the_less_the_farther_off_they_are():
    """Twice too far: half of what the logs taught is taken back."""
    found, _ = judged(NMC, nmc=(0.08, 0.0), lfp=(0.09, 0.0), lithium=(0.08, 0.0))
    assert found[0].pack_covariance == pytest.approx((0.25 + 0.5 * 0.75) * NMC.covariance)
    assert found[0].covariance[:N_PACK, :N_PACK] == pytest.approx(0.5 * 0.75 * NMC.covariance)
    assert not found[0].covariance[N_PACK:].any()


def test_families_whose_cut_off_could_not_be_are_not_tried():
    """3.3 V a cell is more than an LFP cell has at half charge; lead-acid is of one family."""
    high = as_fitted(Pack("nmc", 15, 10.0, 3.4 * 15))
    assert judged(high, nmc=(0.08, 0.0), lithium=(0.08, 0.0))[1] == ["nmc", "lithium"]
    acid = as_fitted(Pack("lead_acid", 15, 10.0, 1.75 * 15))
    assert judged(acid, lead_acid=(0.08, 0.0))[1] == ["lead_acid"]


def test_another_family_is_as_old_as_the_pack():
    old = replace(NMC, rated=replace(PACK, first_year=2017))
    dated = replace(old, last_day=pd.Timestamp("2025-07-01").date(), logs=1)
    found, _ = judged(dated, nmc=(0.08, 0.0), lfp=(0.01, 50.0), lithium=(0.08, 0.0))
    assert found[0].fitted.chemistry == "lfp"
    assert found[0].fitted.capacity_ah == pytest.approx(10 * np.exp(-0.2), rel=1e-3)
