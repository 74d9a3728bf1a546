"""Care: planted trends are found, noise is left alone, and every suggestion carries its evidence."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from estimator.conversion.care import care_advice
from estimator.conversion.cautions import BLADES
from estimator.errors import InputError

START = date(2026, 4, 6)


def weeks(n: int) -> list[date]:
    return [START + timedelta(days=7 * each) for each in range(n)]


def planted(n: int, rise: float, noise: float, start: float, seed: int) -> list[float]:
    rng = np.random.default_rng(seed)
    return (start * (1 + rise) ** np.linspace(0, 1, n) * np.exp(rng.normal(0, noise, n))).tolist()


def test_rising_energy_suggests_the_edges() -> None:
    n = 12
    advice = care_advice(
        weeks(n), planted(n, 0.0, 0.02, 160, 1), planted(n, 0.30, 0.04, 0.14, 2), kind="reel"
    )
    assert [each.look_at for each in advice.suggestions] == [
        "the cutting edges: lapping the reel and setting it to the bed knife"
    ]
    assert advice.energy is not None and advice.energy.low < 0.30 < advice.energy.high
    assert advice.suggestions[0].evidence == advice.energy.sentence
    assert "over 12 mows in 77 days" in advice.energy.sentence
    assert advice.verdict.startswith("Perhaps worth a look: the cutting edges")


def test_rising_idle_power_suggests_bearings_and_setting() -> None:
    n = 8
    kinds = {"cylinder": "bed knife", "rotary": "balance of the blade", "flail": "rotor", None: "packed"}
    for kind, word in kinds.items():
        advice = care_advice(weeks(n), planted(n, 0.25, 0.02, 160, 3), [None] * n, kind=kind)
        assert len(advice.suggestions) == 1
        assert "bearings" in advice.suggestions[0].look_at and word in advice.suggestions[0].look_at
        assert advice.energy is None


@pytest.mark.parametrize(
    ("kind", "said", "never"),
    [
        ("rotary", "sharpening it, and balancing it afterwards", ("reel", "lap", "bed knife", "knives")),
        ("flail", "the knives: worn ones turned or changed in opposite pairs", ("reel", "lap", "blade")),
        ("cylinder", "lapping the reel and setting it to the bed knife", ("balanc", "rotor")),
        (None, "the cutting edges", ("reel", "lap", "bed knife", "knives", "rotor", "blade")),
    ],
)
def test_advice_is_for_the_kind_of_machine(kind: str | None, said: str, never: tuple[str, ...]) -> None:
    n = 12
    rising = planted(n, 0.30, 0.02, 160, 1), planted(n, 0.30, 0.02, 0.14, 2)
    advice = care_advice(weeks(n), *rising, kind=kind)
    told = " ".join(each.look_at for each in advice.suggestions)
    assert len(advice.suggestions) == 2 and said in told
    assert not [word for word in never if word in told]
    assert (
        advice.assumptions[-1] == "how the machine cuts is not described, so that its parts cannot be named"
    ) is (kind is None)


def test_only_mows_since_the_last_care_count() -> None:
    """A rise up to the sharpening and a new start after it: nothing to suggest."""
    days = weeks(16)
    energy = [*planted(8, 0.4, 0.01, 0.14, 4), *planted(8, 0.0, 0.01, 0.14, 5)]
    cared = care_advice(days, [None] * 16, energy, blade_care=[days[7]])
    assert cared.since == days[7] and cared.suggestions == ()
    assert cared.energy is not None and cared.energy.mows == 8
    before = care_advice(days[:8], [None] * 8, energy[:8], blade_care=[days[7] + timedelta(days=1)])
    assert before.since is None and len(before.suggestions) == 1


def test_the_latest_of_several_cares_counts_and_an_idle_of_nothing_does_not() -> None:
    days = weeks(16)
    energy = [*planted(8, 0.4, 0.01, 0.14, 4), *planted(8, 0.0, 0.01, 0.14, 5)]
    idle = [0.0, *planted(15, 0.0, 0.01, 160, 6)]
    cared = care_advice(days, idle, energy, blade_care=[days[7], days[1]])
    assert cared.since == days[7] and cared.suggestions == ()
    since_ever = care_advice(days, idle, energy).idle
    assert since_ever is not None and since_ever.mows == 15


def test_band_of_the_trend_agrees_with_statsmodels() -> None:
    """Residuals by statsmodels; the usual scatter of 0.03 from day to day and 0.10 besides counts
    as 1/(2 × 0.6²) further ones."""
    n = 10
    energy = planted(n, 0.2, 0.05, 0.14, 6)
    trend = care_advice(weeks(n), [None] * n, energy).energy
    x = np.linspace(0, 1, n)
    fit = sm.OLS(np.log(energy), sm.add_constant(x)).fit()
    counts = 1 / (2 * 0.6**2)
    freedom = fit.df_resid + counts
    pooled = (fit.ssr + counts * (0.03**2 + 0.10**2)) / freedom
    half = stats.t.ppf(0.95, freedom) * fit.bse[1] * np.sqrt(pooled / fit.mse_resid)
    low, high = np.expm1(fit.params[1] + np.array([-half, half]))
    assert trend is not None
    assert (trend.low, trend.change, trend.high) == pytest.approx(
        (low, np.expm1(fit.params[1]), high), rel=1e-9
    )


def test_mows_that_agree_exactly_do_not_prove_that_nothing_changed() -> None:
    """Chance makes real mows agree so well: the band keeps the usual scatter of such mows."""
    advice = care_advice(weeks(5), [160.0] * 5, [0.14] * 5)
    for trend, least in ((advice.idle, 0.05), (advice.energy, 0.10)):
        assert trend is not None and not trend.real and abs(trend.change) < 1e-9
        assert trend.low < -least and trend.high > least


def test_bands_of_few_mows_hold_where_the_scatter_is_the_usual() -> None:
    """Spreads about 0.104 within a factor of exp(0.6), as comparisons have them before any mow."""
    rng = np.random.default_rng(5)
    held = 0
    for seed, noise in enumerate(0.104 * np.exp(0.6 * rng.standard_normal(400))):
        trend = care_advice(weeks(4), [None] * 4, planted(4, 0.10, float(noise), 0.14, seed)).energy
        assert trend is not None
        held += trend.low <= 0.10 <= trend.high
    assert 0.85 * 400 <= held <= 0.97 * 400


@pytest.mark.parametrize("noise", [0.03, 0.10])
def test_without_a_change_few_are_sent_to_the_workshop(noise: float) -> None:
    """Each trend is wrong upwards one time in twenty; both together at most one time in ten."""
    told = sum(
        bool(
            care_advice(
                weeks(9), planted(9, 0, noise, 160, s), planted(9, 0, noise, 0.14, s + 10_000)
            ).suggestions
        )
        for s in range(1000)
    )
    assert told <= 0.115 * 1000


def test_a_real_change_is_found() -> None:
    found = sum(
        bool(care_advice(weeks(10), [None] * 10, planted(10, 0.25, 0.06, 0.14, seed)).suggestions)
        for seed in range(300)
    )
    assert found >= 0.9 * 300


def test_a_small_rise_is_not_worth_a_look() -> None:
    n = 12
    advice = care_advice(weeks(n), planted(n, 0.045, 0.001, 160, 8), planted(n, 0.045, 0.001, 0.14, 9))
    assert advice.idle is not None and advice.idle.real
    assert advice.suggestions == ()
    assert advice.verdict.startswith("Nothing in the mows so far needs a look")


def test_a_rise_that_costs_a_minute_or_two_is_worth_a_look() -> None:
    """A rise of 5 % takes a minute and a half from half an hour of mowing; the 4.5 % above take less."""
    n = 24  # so many that the usual scatter, which the band begins with, is outweighed
    advice = care_advice(weeks(n), [None] * n, planted(n, 0.055, 0.001, 0.14, 9))
    assert [each.look_at.split(":")[0] for each in advice.suggestions] == ["the cutting edges"]


def test_too_few_mows_say_so() -> None:
    advice = care_advice(weeks(3), [160.0] * 3, [0.14] * 3)
    assert advice.idle is None and advice.energy is None
    assert advice.verdict == "Too few whole mows so far: a trend needs 4 of them, on 3 days."


def test_a_last_care_is_spoken_of_where_one_is_noted() -> None:
    days, flat = weeks(16), planted(16, 0.0, 0.01, 160, 8)
    cared = care_advice(days, flat, [None] * 16, blade_care=[days[7]])
    assert cared.verdict.startswith("Nothing in the mows since the last blade care needs a look")
    cared = care_advice(days, flat, [None] * 16, blade_care=[days[13]])
    assert (
        cared.verdict == "Too few whole mows since the last blade care: a trend needs 4 of them, on 3 days."
    )


def test_the_battery_comes_off_first() -> None:
    assert care_advice([], [], []).cautions == (BLADES,)
    assert BLADES.startswith("Take the battery off before you touch the blades")


@pytest.mark.parametrize(
    ("options", "line"),
    [
        (
            {"days": weeks(2), "idle_w": [1.0], "wh_per_m2": [0.1, 0.1]},
            "2 dates came with 1 idle powers and 2 energies; give one of each a mow, None where unknown",
        ),
        (
            {"days": [], "idle_w": [], "wh_per_m2": [], "kind": "scythe"},
            "kind of mower 'scythe' is not known; choose one of cylinder, rotary, flail",
        ),
    ],
)
def test_wrong_care_figures_are_refused(options: dict, line: str) -> None:
    with pytest.raises(InputError) as error:
        care_advice(**options)
    assert str(error.value) == line


def test_an_idle_that_stayed_as_it_was_has_no_sign() -> None:
    found = care_advice(weeks(10), [120.0] * 10, [0.2] * 10)
    assert found.idle is not None
    assert "changed by 0 % (-4 % to +4 %) over 10 mows" in found.idle.sentence  # 1.82 × 0.022
