"""A need that holds for the days wanted and for nearly all that is not known yet of machine, lawns and pack.

Days differ, and each is drawn anew; what few mows, a label or a meter leave open is the same on every day
that a pack is used. A plain quantile of the drawn needs mixes the two: a pack of that size is too small for
its days as often as what is not known turns out badly, one time in five after ten mows. A tolerance limit
keeps them apart: a share of the days (its content) with a certainty for what lasts (its confidence), after
ISO 16269-6, here from draws instead of its factors for a single normal sample.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Assured:
    """A need on a day as the others, whatever lasts; on the days wanted as well; and the standard deviations
    of its logarithm, of what lasts and of days."""

    usual_day: float
    need: float
    lasting_std: float
    days_std: float


def assured(need: Array, lasting: Iterable[Array], sure: float) -> Assured:
    """The tolerance limit of drawn needs (n,): content and confidence are both `sure`.

    lasting : causes, (n,) or (n, k) each, that are alike on all days; regression of the logarithm of the need
        on them says what of it lasts, and what is left differs from day to day

    >>> lasts, differs = 0.1 * np.random.default_rng(1).standard_normal((2, 4000))
    >>> limit = assured(np.exp(lasts + differs), [lasts], 0.95)
    >>> bool(0.15 < np.log(limit.usual_day) < 0.18), bool(0.31 < np.log(limit.need) < 0.35)
    (True, True)
    """
    log = np.log(need)
    columns = [np.ones((len(log), 1)), *(np.asarray(one, float).reshape(len(log), -1) for one in lasting)]
    design = np.concatenate(columns, axis=1)
    lasts = design @ np.linalg.lstsq(design, log, rcond=None)[0]
    usual = float(np.quantile(lasts, sure))
    return Assured(
        usual_day=float(np.exp(usual)),
        need=float(np.exp(usual + np.quantile(log - lasts, sure))),
        lasting_std=float(lasts.std()),
        days_std=float((log - lasts).std()),
    )
