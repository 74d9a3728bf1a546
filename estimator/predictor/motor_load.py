"""The motor's measured load beside its rating."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.fitting.profile import LoadProfile

HORSEPOWER_W = 745.6999
"""Watts in one horsepower of 550 ft·lbf/s: NIST SP 811 (2008), appendix B.8."""
GOOD_LOAD = (0.6, 0.8)


@dataclass(frozen=True)
class MotorLoad:
    """Electrical power [W] that the mows asked for, beside the motor's rating.

    mean_w : mean of the mows; peak_5s_w, peak_30s_w : their highest over 5 and 30 s; mean_share, peak_share :
    mean and 30 s peak over the rating; fitting_low_w, fitting_high_w : ratings that the 30 s peak would load
    at 80 and 60 % (common practice)
    """

    rated_w: float | None
    mean_w: float
    peak_5s_w: float
    peak_30s_w: float
    mean_share: float | None
    peak_share: float | None
    fitting_low_w: float
    fitting_high_w: float


def motor_load(profile: LoadProfile, rated_w: float | None = None) -> MotorLoad | None:
    """The motor's load over the profile's mows; None where there are none.

    >>> from estimator.fitting.profile import fit_profile
    >>> motor_load(fit_profile([])) is None
    True
    """
    mows = profile.loads
    if not mows:
        return None
    rated = rated_w if rated_w is not None else profile.machine.motor_rated_w
    mean = float(np.mean([one.mean_w for one in mows]))
    highest = max(one.peak_30s_w for one in mows)
    return MotorLoad(
        rated_w=rated,
        mean_w=mean,
        peak_5s_w=max(one.peak_5s_w for one in mows),
        peak_30s_w=highest,
        mean_share=mean / rated if rated else None,
        peak_share=highest / rated if rated else None,
        fitting_low_w=highest / GOOD_LOAD[1],
        fitting_high_w=highest / GOOD_LOAD[0],
    )
