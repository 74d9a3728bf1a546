"""The library as somebody meets it who never saw the command line: flat names, short results, pictures."""

from __future__ import annotations

import inspect
import json
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest
from matplotlib.axes import Axes

import estimator as est
from estimator.results import brief, same

FUNCTIONS = [name for name in est.__all__ if inspect.isfunction(getattr(est, name))]
NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
TIME_S = np.arange(0.0, 900.0, 1.0)
AMPS = 6.0 + 3.0 * (TIME_S % 40 < 20)


def a_log(ohm: float = 0.1) -> est.Log:
    """A quarter of an hour on an invented straight-line pack."""
    volts = 54.0 - np.cumsum(AMPS) / 3600 - ohm * AMPS
    return est.Log(pd.DataFrame({"time_s": TIME_S, "current_a": AMPS, "voltage_v": volts}))


@pytest.fixture(scope="module")
def results() -> dict[str, Any]:
    """One of every kind of result."""
    pack = est.Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, current_limit_a=25.0)
    log, lawns = a_log(), [est.Lawn("strip", area_m2=200), est.Lawn("meadow", area_m2=900)]
    fitted = est.fit_pack([log], pack, start_charges=[1.0])
    mow = est.Mow(log, lawn=lawns[0], grass=est.Grass("damp", 25), start_charge=1.0)
    profile, loads = est.fit_profile([mow]), [est.trace_from_log(log)]
    curves = [est.discharge_curve(a_log(ohm), 1.0, 25.0) for ohm in (0.10, 0.11, 0.12, 0.13)]
    days = [date(year, month, 1) for year in (2024, 2025) for month in (5, 6)]
    seen = est.relative_capacity(curves, days, 13, 10.0)
    points = [*seen] or est.energy_observed([])
    charger = est.Charger(watts=200)
    refilled = est.refill(fitted, 2.0, charger)
    return {
        "log": log,
        "used": est.charge_used(log),
        "pack": fitted,
        "mow": mow,
        "features": est.mow_features(mow),
        "profile": profile,
        "curve": est.charge_curve(log, fitted, start_charge=1.0),
        "minutes": est.minutes_left(log, fitted, start_charge=1.0, draws=200),
        "plan": est.lawns_per_charge(profile, fitted, lawns, draws=100),
        "capacity": est.recommend_capacity(profile, fitted, lawns, draws=100),
        "discharge": curves[0],
        "seasons": est.season_curves(curves, days, 13),
        "comparison": est.compare_groups(est.CAPACITY, points, [str(each.day.year) for each in points])
        if points
        else None,
        "load": loads[0],
        "cable": est.feed_cable(loads, "6 mm2", 1.0),
        "limits": est.current_limits(loads, [est.Limit("fuse", 30.0)]),
        "motor": est.motor_load(loads, rated_w=1200.0),
        "refill": refilled,
        "break": est.break_gives(fitted, 2.0, charger, 30.0),
        "cost": est.running_cost(refilled.mains_wh, 0.3),
        "care": est.care_advice(days, [60.0, 61.0, 62.0, 64.0], [0.2, 0.2, 0.21, 0.2]),
        "by hand": est.spot_charge(est.SpotNotes(typical_a=5.0, minutes=20.0), pack),
    }


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    yield
    plt.close("all")


def test_dir_shows_the_public_names_only() -> None:
    assert dir(est) == sorted(est.__all__)
    assert all(getattr(est, name) is not None for name in est.__all__)


def test_the_notebooks_need_nothing_else() -> None:
    for path in NOTEBOOKS.glob("*.ipynb"):
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        code = "".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "code")
        assert not re.findall(r"(?:from|import) estimator\.", code)
        assert set(re.findall(r"\best\.(\w+)", code)) <= set(est.__all__)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_public_function_says_all_about_itself(name: str) -> None:
    function = getattr(est, name)
    words = inspect.getdoc(function) or ""
    parts = re.split(r"^(Parameters|Returns|Raises)\n-+\n", words, flags=re.M)
    assert parts[1::2] == ["Parameters", "Returns", "Raises"]
    described = re.findall(r"^(\*{0,2}\w+) :", parts[2], re.M)
    parameters = inspect.signature(function).parameters
    assert [each.strip("*") for each in described] == list(parameters)
    assert ">>>" in words
    for parameter in parameters.values():
        if parameter.default is not parameter.empty:
            line = re.search(rf"^{parameter.name} :.*", parts[2], re.M)
            assert line is not None
            assert "default" in line[0] or parameter.default is None, line[0]


def test_every_result_fits_three_lines_and_has_a_table(results: dict[str, Any]) -> None:
    lengths = {name: len(repr(each)) for name, each in results.items() if name != "curve"}
    for name, each in results.items():
        if name != "curve":
            assert repr(each).count("\n") <= 2, repr(each)
            assert max(map(len, repr(each).splitlines())) <= 104
            assert "<table>" in each._repr_html_()
    assert max(lengths.values()) <= 312


def test_results_are_compared_by_value(results: dict[str, Any]) -> None:
    assert results["log"] == a_log()
    assert results["log"] != a_log(0.2)
    pack = results["pack"]
    assert est.fit_pack([a_log()], pack.rated, start_charges=[1.0]) == pack
    assert results["profile"] == est.fit_profile([results["mow"]])
    assert results["minutes"] != results["plan"]
    with pytest.raises(TypeError, match="unhashable"):
        hash(pack)


@pytest.mark.parametrize(
    ("name", "x_label"),
    [
        ("curve", "time [min]"),
        ("minutes", "minutes left [min]"),
        ("plan", "odds of finishing [%]"),
        ("capacity", "capacity [Ah]"),
        ("seasons", "charge drawn from full [Ah]"),
    ],
)
def test_a_result_is_drawn(results: dict[str, Any], name: str, x_label: str) -> None:
    axes = est.plot(results[name])
    assert isinstance(axes, Axes)
    assert axes.get_xlabel() == x_label
    assert axes.has_data()
    given = plt.figure().add_subplot()
    assert est.plot(results[name], given) is given


def test_a_log_is_drawn_on_two_axes(results: dict[str, Any]) -> None:
    assert [each.get_ylabel() for each in est.plot(results["log"])] == ["current [A]", "voltage [V]"]


def test_what_has_no_picture_is_said() -> None:
    with pytest.raises(est.InputError, match="a float has no picture; give a log"):
        est.plot(3.0)


def test_briefly() -> None:
    assert brief(np.zeros((3, 4))) == "array 3x4"
    assert brief(()) == "none"
    assert brief(["a" * 30] * 9) == "9 sentences"
    assert not same(np.zeros(2), np.zeros(3))
    assert same(np.array([np.nan]), np.array([np.nan]))
