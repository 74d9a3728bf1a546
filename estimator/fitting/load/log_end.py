"""Whether a log ends while the mower was still cutting: then the lawn may not have been finished in it."""

from __future__ import annotations

import math

import numpy as np

from estimator.descriptions import ENDS, RAN_OUT, STOPPED_SHORT
from estimator.fitting.load.features import MowFeatures
from estimator.importer.log import Log

CUTTING_SHARE = 0.5
"""Above this share of the usual current under load the blades are in grass; turning free takes about a third
(common practice)."""
FEWEST_READINGS = 30
"""A log with fewer readings does not show whether it ended while cutting."""


def amps_at_end(log: Log) -> float | None:
    """Current [A] of the last reading if the mower was cutting then, None where the motor was off or idling.

    Also None for hand readings and for logs of few readings, which do not show it.

    >>> import pandas as pd
    >>> amps = np.where(np.arange(100) % 20 < 15, 5.0, 1.5)
    >>> log = Log(pd.DataFrame({"time_s": np.arange(100.0), "current_a": amps, "voltage_v": 50.0}))
    >>> amps_at_end(log) is None, amps_at_end(Log(log.readings.iloc[:-6]))
    (True, 5.0)
    """
    if log.spot is not None or len(log.arrays["time_s"]) < FEWEST_READINGS:
        return None
    amps = log.arrays["current_a"]
    loaded = amps[amps > 0.25 * float(np.quantile(amps, 0.95))]
    if not loaded.size or not math.isfinite(amps[-1]):
        return None
    return float(amps[-1]) if amps[-1] > CUTTING_SHARE * float(np.median(loaded)) else None


def end_doubts(log: Log, features: MowFeatures) -> tuple[str, ...]:
    """A sentence where the log ends while cutting and nothing yet says whether the lawn was done.

    No sentence where the pack was at its cut-off: the mow then counts as stopped short anyway.
    """
    amps = amps_at_end(log)
    if amps is None or features.ended_at_cut_off or ENDS & set(features.tags):
        return ()
    return (
        f"The log ends while cutting, at {amps:.1f} A: tag the mow '{STOPPED_SHORT}' if the lawn was not "
        f"finished, or '{RAN_OUT}' if the battery stopped the motor.",
    )
