"""Whether a log can be of the pack that it is said to be of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from estimator.descriptions import FULL_CELL_V, Pack
from estimator.errors import InputError

if TYPE_CHECKING:
    from estimator.importer.log import Log


def check_pack_volts(log: Log, pack: Pack) -> None:
    """Raise InputError where the volts of a log lie outside what the pack can have.

    Learnt into the pack's history, such a log would spoil every later answer. The limits are wide: 5 % over
    full for the voltmeter, 45 % of full below (common practice).

    >>> import pandas as pd
    >>> from estimator.importer.log import Log
    >>> readings = pd.DataFrame({"time_s": [0.0, 1.0], "current_a": [9.0, 9.0], "voltage_v": [52.0, 51.9]})
    >>> small = Pack("nmc", 10, 10.0, 30.0, name="small")
    >>> check_pack_volts(Log(readings, name="mow.csv"), small)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: mow.csv: volts of 51.9 to 52.0 are not those of small (10 nmc cells ...
    """
    full_v = FULL_CELL_V[pack.chemistry] * pack.series
    low_v, usual_v, high_v = log.readings["voltage_v"].quantile([0.02, 0.5, 0.98])
    if high_v <= 1.05 * full_v and usual_v >= 0.45 * full_v:
        return
    raise InputError(
        f"volts of {low_v:.1f} to {high_v:.1f} are not those of {pack.name} ({pack.series} {pack.chemistry} "
        f"cells in series, full at {full_v:.1f} V)",
        file=log.name,
        mend="name another pack, or check the column of volts",
    )
