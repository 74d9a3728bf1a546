"""What a contradiction is, and the pack and the lawn that recordings contradict.

Everything is invented, for one pack and one lawn of the orchard: `PACK` and `LAWN`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, Literal

import numpy as np
from hobby_mow import Figures, TrueMow, put

import estimator as est

PACK = est.Pack("nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, current_limit_a=25.0, name="green crate")
LAWN = est.Lawn("apple rows", area_m2=420)


@dataclass(frozen=True)
class Contradiction:
    """A recording, what was chosen for it, and the expected result.

    expected : "settled" as `truth`, with a note; "refused" with a line that holds `words` and a mend; or kept
        "aside": it may be looked at, with a warning that holds `words`, but no answer rests on it
    truth : what a careful reader finds in spite of the contradiction; None where nobody can
    started : the day on which the last of the files starts, where the contradiction is about that
    """

    name: str
    paths: tuple[Path, ...]
    expected: Literal["refused", "settled", "aside"]
    why: str
    words: tuple[str, ...] = ()
    truth: Figures | None = None
    options: dict[str, Any] = field(default_factory=dict)
    started: date | None = None


def table(
    folder: Path,
    name: str,
    mow: TrueMow,
    *,
    titles: str = "time [s],current [A],voltage [V]",
    current: np.ndarray | None = None,
    voltage: np.ndarray | None = None,
    time: np.ndarray | list[str] | None = None,
    more: tuple[np.ndarray, ...] = (),
) -> tuple[Path, ...]:
    """A plain table: the mow as it was, except for what is given."""
    columns = [
        mow.time_s if time is None else time,
        mow.current_a if current is None else current,
        mow.voltage_v if voltage is None else voltage,
        *more,
    ]
    rows = (
        ",".join(cell if isinstance(cell, str) else f"{cell:.2f}" for cell in row)
        for row in zip(*columns, strict=True)
    )
    return (put(folder / f"{name}.csv", [titles, *rows]),)
