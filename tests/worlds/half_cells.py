"""Half-cell curves of this world: published fits, slightly bent, as tables over stoichiometry.

Everything in this folder is an invented world for judging the estimator; it knows none of its models. It uses
these families, which a prior to be judged here should better not use:

positive, called nmc   Verbrugge et al. 2017 (NMC 622, sum of sites), Mao et al. 2015 (commercial NMC),
                       Smith and Wang 2006 (layered oxide), Appiah et al. 2016 (NMC 622, thick electrode)
positive, called lfp   Safari and Delacourt 2011, Srinivasan and Newman 2004
negative               Verbrugge et al. 2017 and Safari and Delacourt 2011 (graphite), Smith and Wang 2006 and
                       Ramadass et al. 2004 (carbon), the first two also blended with up to 12 % of silicon
                       (Verbrugge et al. 2015), both at the same potential

Sources: Verbrugge et al. 2017, J. Electrochem. Soc. 164, E3243, table 1, doi 10.1149/2.0341708jes. Mao,
Farkhondeh, Pritzker, Fowler and Chen 2015, J. Electrochem. Soc. 162 (as quoted in public code, where the
factor of the exponential lost its minus sign). Smith and Wang 2006, J. Power Sources 160, 662. Appiah et
al. 2016, J. Power Sources 319, 147 (the paper from memory, the formula as quoted in public code). Safari
and Delacourt 2011, J. Electrochem. Soc. 158, A562. Srinivasan and Newman 2004, J. Electrochem. Soc. 151,
A1517. Ramadass et al. 2004, J. Electrochem. Soc. 151, A196. Verbrugge, Baker and Xiao 2015, J. Electrochem.
Soc. 163, A262.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

GRID = np.linspace(-0.02, 1.02, 2081)
"""Stoichiometries of the tables; beyond 0.0005 and 0.9995 the tables fall or rise steeply."""
THERMAL_V = 8.314462618 * 298.15 / 96485.33212
_EDGE = 0.0005
_STEEP_V = 80.0  # volts per unit of stoichiometry beyond the ends, where nothing can go in or out

_NMC622 = ((3.62274, 0.13442, 0.96710), (3.72645, 0.32460, 1.39712), (3.90575, 0.21118, 3.50500),
           (4.22955, 0.32980, 5.52757))  # fmt: skip
_GRAPHITE = ((0.08843, 0.43336, 0.08611), (0.12799, 0.23963, 0.08009), (0.14331, 0.15018, 0.72469),
             (0.16984, 0.05462, 2.53277), (0.21446, 0.06744, 0.09470),
             (0.36325, 0.05476, 5.97354))  # fmt: skip


def _of_sites(
    sites: tuple[tuple[float, float, float], ...], low_v: float, high_v: float
) -> Callable[[Array], Array]:
    """Potential over stoichiometry, from x(U) = sum of X / (1 + exp((U − U0) / (w RT/F)))."""
    volts = np.linspace(high_v, low_v, 20001)
    x = sum(
        share / (1 + np.exp(np.clip((volts - u0) / (w * THERMAL_V), -600, 600))) for u0, share, w in sites
    )
    return lambda sto: np.interp(sto, x, volts)


def _mao(y: Array) -> Array:
    return (
        6.51176 - 8 * y + 7.1086 * y**2 - 1.55 * y**3 - 0.459 * y**6
        - 5.00034e-8 * np.exp(135.089 * y**2 - 118.089)
    )  # fmt: skip


def _appiah(y: Array) -> Array:
    return (
        7.9760 - 5.5419 * y + 5.2824 * y**1.07 - 4.0446 * y**0.0766
        - 1.0556e-4 * np.exp(124.7407 * y - 114.2593)
    )  # fmt: skip


def _smith_wang_positive(y: Array) -> Array:
    return (
        85.681 * y**6 - 357.70 * y**5 + 613.89 * y**4 - 555.65 * y**3 + 281.06 * y**2 - 76.648 * y
        - 0.30987 * np.exp(5.657 * y**115) + 13.1983
    )  # fmt: skip


def _smith_wang_negative(x: Array) -> Array:
    return (
        8.00229 + 5.0647 * x - 12.578 * x**0.5 - 8.6322e-4 / x + 2.1765e-5 * x**1.5
        - 0.46016 * np.exp(15 * (0.06 - x)) - 0.55364 * np.exp(-2.4326 * (x - 0.92))
    )  # fmt: skip


def _safari_positive(y: Array) -> Array:
    free = 1 - y
    return (
        3.4323 - 0.8428 * np.exp(-80.2493 * free**1.3198) - 3.2474e-6 * np.exp(20.2645 * free**3.8003)
        + 3.2482e-6 * np.exp(20.2646 * free**3.7995)
    )  # fmt: skip


def _safari_negative(x: Array) -> Array:
    return (
        0.6379 + 0.5416 * np.exp(-305.5309 * x) - 0.044 * np.tanh((x - 0.1958) / 0.1088)
        - 0.1978 * np.tanh((x - 1.0571) / 0.0854) - 0.6875 * np.tanh((x + 0.0117) / 0.0529)
        - 0.0175 * np.tanh((x - 0.5692) / 0.0875)
    )  # fmt: skip


def _srinivasan(y: Array) -> Array:
    return (
        3.114559 + 4.438792 * np.arctan(-71.7352 * y + 70.85337)
        - 4.240252 * np.arctan(-68.5605 * y + 67.730082)
    )  # fmt: skip


def _ramadass_negative(x: Array) -> Array:
    return (
        0.7222 + 0.1387 * x + 0.029 * x**0.5 - 0.0172 / x + 0.0019 / x**1.5
        + 0.2808 * np.exp(0.9 - 15 * x) - 0.7984 * np.exp(0.4465 * x - 0.4108)
    )  # fmt: skip


def _silicon(x: Array) -> Array:
    into = np.polyval([-96.63, 372.6, -587.6, 489.9, -232.8, 62.99, -9.286, 0.8633], x)
    out = np.polyval([-51.02, 161.3, -205.7, 140.2, -58.76, 16.87, -3.792, 0.9937], x)
    return (into + out) / 2 + 5e-5 * (1 / x + 1 / (x - 1))


CURVES: dict[str, tuple[Callable[[Array], Array], float, float]] = {
    "verbrugge nmc": (_of_sites(_NMC622, 2.5, 5.5), 0.02, 0.999),
    "mao nmc": (_mao, 0.25, 0.985),
    "appiah nmc": (_appiah, 0.15, 0.975),
    "smith-wang oxide": (_smith_wang_positive, 0.27, 0.985),
    "safari lfp": (_safari_positive, 0.002, 0.995),
    "srinivasan lfp": (_srinivasan, 0.02, 0.985),
    "verbrugge graphite": (_of_sites(_GRAPHITE, -0.02, 2.0), 0.004, 0.99),
    "safari graphite": (_safari_negative, 0.002, 0.98),
    "smith-wang carbon": (_smith_wang_negative, 0.012, 0.95),
    "ramadass carbon": (_ramadass_negative, 0.012, 0.97),
    "silicon": (_silicon, 0.02, 0.98),
}
"""Each fit, with the range of stoichiometry over which it is trusted."""
NMC_POSITIVES = ("verbrugge nmc", "mao nmc", "appiah nmc", "smith-wang oxide")
LFP_POSITIVES = ("safari lfp", "srinivasan lfp")
NEGATIVES = ("verbrugge graphite", "safari graphite", "smith-wang carbon", "ramadass carbon")


def table(name: str) -> Array:
    """Potential [V against lithium] over `GRID`; beyond a fit's range it goes on as a logarithm (Nernst)."""
    curve, low, high = CURVES[name]
    sto = np.clip(GRID, _EDGE, 1 - _EDGE)
    volts = curve(np.clip(sto, low, high))
    volts = volts + 2 * THERMAL_V * np.log(np.maximum(low / sto, 1))
    volts = volts - 2 * THERMAL_V * np.log(np.maximum((1 - high) / (1 - sto), 1))
    return _falling(volts - _STEEP_V * (GRID - sto))


def _falling(volts: Array) -> Array:
    """Volts that fall everywhere, if only by a trace, so that the curve can be inverted."""
    return np.minimum.accumulate(volts) - 1e-6 * np.arange(len(volts)) / len(volts)


def blended(first: Array, second: Array, share: float) -> Array:
    """Two materials at one potential: filled sites add up at equal volts, a `share` of all in `second`."""
    volts = np.linspace(max(first[0], second[0]), min(first[-1], second[-1]), 6001)
    x = (1 - share) * np.interp(-volts, -first, GRID) + share * np.interp(-volts, -second, GRID)
    return _falling(np.interp(GRID, x, volts))


def bent(volts: Array, rng: np.random.Generator, sigma_v: float) -> Array:
    """A curve of the same family but another maker: with a few smooth bumps of `sigma_v`."""
    bumps = sum(
        rng.normal(0, sigma_v) * np.exp(-0.5 * ((GRID - rng.uniform(0, 1)) / rng.uniform(0.05, 0.2)) ** 2)
        for _ in range(4)
    )
    return _falling(volts + bumps)


def draw_curves(rng: np.random.Generator, chemistry: str) -> tuple[Array, Array, str]:
    """The tables of positive and negative for one make of cell, and their names."""
    lfp = chemistry == "lfp"
    positive = str(rng.choice(LFP_POSITIVES if lfp else NMC_POSITIVES))
    negative = str(rng.choice(NEGATIVES[:2] if lfp else NEGATIVES))
    over_positive, over_negative = table(positive), table(negative)
    name = f"{positive} / {negative}"
    if not lfp and negative in NEGATIVES[:2] and rng.random() < 0.4:
        share = rng.uniform(0.02, 0.12)
        over_negative = blended(over_negative, table("silicon"), share)
        name += f" + {share:.0%} silicon"
    return bent(over_positive, rng, 0.001 if lfp else 0.005), bent(over_negative, rng, 0.002), name
