"""One-sided tolerance factors against printed tables, and the bound's promise on simulated mows."""

import numpy as np
import pytest

from estimator.fitting.load.tolerance import one_sided_factor, upper_bound


@pytest.mark.parametrize(
    ("n", "share", "confidence", "printed"),
    [
        (5, 0.95, 0.95, 4.203),
        (10, 0.95, 0.95, 2.911),
        (20, 0.95, 0.95, 2.396),
        (50, 0.95, 0.95, 2.065),
        (10, 0.90, 0.95, 2.355),
    ],
)
def test_printed_factors(n, share, confidence, printed):
    """ISO 16269-6, one-sided interval, mean and deviation unknown (printed values from memory)."""
    assert one_sided_factor(n, share, confidence) == pytest.approx(printed, abs=5e-4)


def test_handbook_example():
    """NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3: 43 items, 90 %, 99 % (value from memory)."""
    assert one_sided_factor(43, 0.90, 0.99) == pytest.approx(1.8740, abs=5e-5)


def test_bound_covers_as_promised():
    rng = np.random.default_rng(1)
    held = []
    for _ in range(600):
        bound = upper_bound(np.exp(rng.normal(-1.2, 0.3, 8)), share=0.90, confidence=0.95)
        held.append(bound.bound >= np.exp(-1.2 + 0.3 * 1.2815516))
    assert np.mean(held) == pytest.approx(0.95, abs=0.03)


def test_too_few_mows_claim_nothing():
    assert upper_bound([0.2, 0.3]) is None
    three = upper_bound([0.2, 0.3, 0.4])
    assert three is not None and three.count == 3
