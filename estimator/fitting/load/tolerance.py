"""A bound from the mows alone, without a model: the one-sided tolerance limit of a normal distribution."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import nctdtrit, ndtri

FEWEST = 3


@dataclass(frozen=True)
class ToleranceBound:
    """At least `share` of mows need less than `bound`, with `confidence`; from `count` mows."""

    bound: float
    share: float
    confidence: float
    count: int


def one_sided_factor(n: int, share: float, confidence: float) -> float:
    """Factor k so that mean + k·s covers at least `share` of a normal population with `confidence`.

    k = t'(confidence; n − 1, z(share)·√n) / √n with the non-central t distribution: ISO 16269-6, mean and
    standard deviation unknown.

    >>> round(one_sided_factor(10, 0.95, 0.95), 3)
    2.911
    """
    root = math.sqrt(n)
    return float(nctdtrit(n - 1, ndtri(share) * root, confidence)) / root


def upper_bound(
    values: Sequence[float], share: float = 0.90, confidence: float = 0.95
) -> ToleranceBound | None:
    """Upper tolerance bound of positive values, taken as log-normal; None for fewer than three.

    >>> bound = upper_bound([0.2, 0.25, 0.3, 0.22, 0.28])
    >>> bound.bound > 0.3
    True
    """
    if len(values) < FEWEST:
        return None
    logs = np.log(np.asarray(values, float))
    bound = math.exp(logs.mean() + one_sided_factor(len(values), share, confidence) * logs.std(ddof=1))
    return ToleranceBound(bound, share, confidence, len(values))
