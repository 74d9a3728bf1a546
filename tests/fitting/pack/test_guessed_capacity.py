"""A guessed capacity: believed within a factor of 1.6, until a mow from full to the cut-off shows it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from planted_packs import part, planted_log

from estimator.answers.figures.pack_now import by_a_guess, pack_now
from estimator.contradictions import check_log_of_pack
from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.fitting.by_hand.hand_circuit import IN_USE_STD, in_use
from estimator.fitting.by_hand.spot_doubts import beyond_label, spot_doubts
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted
from estimator.fitting.pack.pack_fit import fit_pack
from estimator.fitting.seasons.measures import capacity_observed
from estimator.importer.log import Log, SpotNotes
from estimator.predictor.sizing.new_pack import label_of, new_pack
from estimator.predictor.sizing.pack_sizes import built

TRUE_AH = 10.0
LABEL = Pack("nmc", 13, TRUE_AH, 39.0)
GUESS = replace(LABEL, capacity_guessed=True)
OFF = (2 / 3, 3 / 4, 4 / 3, 3 / 2)


def guessed(off: float) -> Pack:
    """The pack of 10 Ah, guessed at `off` times that."""
    return replace(GUESS, capacity_ah=off * TRUE_AH)


@pytest.fixture(scope="module")
def whole() -> Log:
    """A mow from full to the cut-off."""
    return planted_log(np.random.default_rng(3), capacity_ah=TRUE_AH)[0]


def half(whole: Log) -> Log:
    return part(whole, upto_s=0.4 * whole.readings["time_s"].iloc[-1])


def capacity_z(fitted: FittedPack) -> float:
    return float(np.log(TRUE_AH / fitted.capacity_ah) * fitted.capacity_ah / fitted.capacity_std_ah)


def test_nine_guesses_in_ten_lie_within_a_factor_of_1_6():
    """1.645 standard deviations hold nine tenths of a normal distribution."""
    fitted = as_fitted(GUESS)
    assert np.exp(1.645 * fitted.capacity_std_ah / fitted.capacity_ah) == pytest.approx(1.64, abs=0.03)
    assert as_fitted(LABEL).capacity_std_ah == pytest.approx(prior.LABEL_STD * TRUE_AH, rel=0.01)


def test_resistance_times_capacity_is_known_no_worse_by_a_guess():
    by_ohm_ah = np.zeros(prior.N_PARAMETERS)
    by_ohm_ah[[prior.CAPACITY, prior.OHMIC.start + 4]] = 1.0
    spread = [by_ohm_ah @ prior.prior_covariance(each) @ by_ohm_ah for each in (LABEL, GUESS)]
    assert spread[1] == pytest.approx(spread[0])
    measured = replace(GUESS, resistance_ohm=0.1)
    alone = prior.prior_covariance(measured) - prior.prior_covariance(
        replace(measured, capacity_guessed=False)
    )
    assert np.count_nonzero(alone) == 1, "a resistance that was measured owes nothing to the guess"


def test_age_comes_on_top_of_a_guess():
    old = replace(GUESS, first_year=2015)
    fade, std = prior.capacity_by_label(old, date(2025, 7, 1))
    assert (fade, std) == (pytest.approx(-0.25, abs=0.001), pytest.approx(np.hypot(0.30, 0.15), rel=0.01))


@pytest.mark.parametrize("off", OFF)
def test_a_guess_off_by_a_third_or_a_half_is_within_the_band_where_a_label_is_not(whole: Log, off: float):
    by_guess, by_label = (
        fit_pack([half(whole)], replace(guessed(off), capacity_guessed=each), [1.0]) for each in (True, False)
    )
    assert abs(capacity_z(by_guess)) < 1.645 < abs(capacity_z(by_label))
    assert "by a guess of" in pack_now(by_guess).known_from
    assert "off by a third" in by_a_guess(by_guess)[0]


@pytest.mark.parametrize("off", OFF)
def test_a_mow_from_full_to_the_cut_off_leaves_nothing_of_the_guess(whole: Log, off: float):
    by_label, by_guess = (fit_pack([whole], each, [1.0]) for each in (LABEL, guessed(off)))
    assert by_guess.capacity_ah == pytest.approx(by_label.capacity_ah, rel=0.02)
    assert by_guess.usable_ah == pytest.approx(by_label.usable_ah, rel=0.01)
    assert by_guess.capacity_std_ah == pytest.approx(by_label.capacity_std_ah, rel=0.15)
    assert not by_a_guess(by_guess) and pack_now(by_guess).known_from == "from 1 log"


def test_what_was_drawn_refutes_a_label_but_not_a_guess(whole: Log):
    least = 0.6 * TRUE_AH
    with pytest.raises(InputError, match="were drawn in one go, and pack holds 6 Ah"):
        check_log_of_pack(whole, replace(LABEL, capacity_ah=least))
    check_log_of_pack(whole, guessed(0.6))
    with pytest.raises(InputError, match="and pack holds about 2 Ah, guessed"):
        check_log_of_pack(whole, guessed(0.2))
    notes = SpotNotes(typical_a=9, minutes=100)
    assert spot_doubts(notes, LABEL) and not spot_doubts(notes, GUESS)
    assert beyond_label(notes, LABEL) and not beyond_label(notes, GUESS)


def test_hand_readings_doubt_a_guess_no_less_than_a_log_does():
    """A pack in use is doubted by its wear as well: 0.09 for the label's 0.07."""
    spread = in_use(as_fitted(GUESS)).covariance[prior.CAPACITY, prior.CAPACITY]
    before = as_fitted(GUESS).covariance[prior.CAPACITY, prior.CAPACITY]
    assert spread - before == pytest.approx(IN_USE_STD**2 - prior.LABEL_STD**2, rel=0.05)


def test_news_of_a_mow_counts_from_the_guess_and_not_from_a_label():
    """Precisions subtract: 1/.06² less 1/.3² leaves a mow that shows .0612; less 1/.07² it leaves .1165."""
    days = [date(2025, 5, 1)]
    by_label, by_guess = (
        capacity_observed([9.0], [0.54], days, TRUE_AH, std)[0].log_std
        for std in (prior.LABEL_STD, prior.GUESS_STD)
    )
    assert (by_label, by_guess) == (pytest.approx(0.1165, abs=2e-4), pytest.approx(0.0612, abs=1e-4))


@pytest.mark.parametrize("off", [2 / 3, 3 / 2])
def test_a_pack_to_buy_has_a_label_whatever_was_guessed_of_the_one_in_use(whole: Log, off: float):
    """Its capacity is doubted as any new pack's; its resistance times its Ah is that of the pack in use."""
    draws = {}
    for name, pack in (("label", LABEL), ("guess", guessed(off))):
        fitted = fit_pack([whole], pack, [1.0])
        new = new_pack(fitted, label_of(fitted), 400, np.random.default_rng(1))
        ohm_ah = new.tables[:, 50, 1] * new.capacity_ah
        draws[name] = float(np.std(np.log(new.capacity_ah))), float(np.median(ohm_ah))
        assert built(fitted, 12.0).capacity_guessed is False
    assert draws["guess"][0] == pytest.approx(draws["label"][0], rel=1e-6)
    assert draws["guess"][1] == pytest.approx(draws["label"][1], rel=0.05)
    unseen = [new_pack(each, TRUE_AH, 2000, np.random.default_rng(1)) for each in (LABEL, GUESS)]
    spread = [float(np.std(np.log(each.tables[:, 50, 1] * each.capacity_ah))) for each in unseen]
    assert spread[1] == pytest.approx(spread[0], rel=0.1)
