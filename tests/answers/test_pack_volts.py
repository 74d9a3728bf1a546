"""A log is refused for a pack that cannot have its volts, and so is a cut-off that the pack cannot reach."""

from __future__ import annotations

import pandas as pd
import pytest

from estimator.contradictions import check_log_of_pack
from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.importer.log import Log


def log(high_v: float, low_v: float) -> Log:
    volts = [high_v - (high_v - low_v) * k / 99 for k in range(100)]
    readings = pd.DataFrame({"time_s": range(100), "current_a": 10.0, "voltage_v": volts})
    return Log(readings.astype(float), name="mow.csv")


NMC = Pack("nmc", 13, 10.0, 39.0, name="crate")


@pytest.mark.parametrize(
    ("high_v", "low_v", "pack"),
    [(54.6, 39.0, NMC), (56.0, 41.0, NMC), (39.0, 30.0, NMC), (26.5, 21.0, Pack("lead_acid", 12, 20.0, 21.0)),
     (54.8, 48.0, Pack("lfp", 16, 10.0, 40.0)), (4.2, 2.6, Pack("nmc", 1, 3.0, 2.8))],
)  # fmt: skip
def test_volts_that_a_pack_can_have_pass(high_v, low_v, pack) -> None:
    check_log_of_pack(log(high_v, low_v), pack)


@pytest.mark.parametrize(
    ("high_v", "low_v", "pack"),
    [(54.0, 46.0, Pack("nmc", 10, 10.0, 30.0)), (12.1, 12.0, NMC), (4.1, 3.4, NMC),
     (41.0, 33.0, Pack("lfp", 8, 10.0, 20.0)), (54.0, 46.0, Pack("lead_acid", 12, 20.0, 21.0))],
)  # fmt: skip
def test_volts_of_another_pack_are_refused(high_v, low_v, pack) -> None:
    with pytest.raises(InputError, match=r"mow.csv: volts of .* are not those of .*; name another pack"):
        check_log_of_pack(log(high_v, low_v), pack)


@pytest.mark.parametrize(("series", "cut_off_v"), [(13, 390.0), (13, 3.0), (10, 46.0)])
def test_a_cut_off_beyond_the_cells_is_refused(series, cut_off_v) -> None:
    with pytest.raises(
        InputError, match=r"cut-off is .* V; give .* V, such as .* V, for 1[03] nmc cells in series"
    ):
        Pack("nmc", series, 10.0, cut_off_v)
