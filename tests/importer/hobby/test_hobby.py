"""Files in forms that hobbyists make, written without knowing the importer: read as a careful person would.

A file is read right where charge, energy, highest current and median volts under load are within 3 % of the
invented truth, counting no step longer than the log itself counts. Worst is a file that is read wrong.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
from hobby_mow import Figures, HobbyFile, figures

import estimator as est

EXPECTED = {
    "millis_units.csv": "right",
    "terminal_arrow.txt": "right",
    "key_value.log": "right",
    "json_lines.jsonl": "right",
    "interval_comment.csv": "right",
    "no_titles.txt": "right with options",
    "no_titles_units.txt": "right",
    "no_time.csv": "right with options",
    "ragged_events.csv": "right",
    "glitches.tsv": "right",
    "sheet_german.csv": "right",
    "sheet_french.csv": "right",
    "sheet_spanish.csv": "right",
    "sheet_dutch.txt": "right",
    "sheet_swiss.csv": "right",
    "serial_days.csv": "right",
    "twelve_hour.csv.gz": "right",
    "two_sheets.xlsx": "right with options",
    "totals_below.xls": "right",
    "epoch_us.csv": "right",
    "midnight.csv": "right",
    "minutes_wrap.txt": "right",
    "steps_back.csv": "right",
    "stacked.csv": "refused",
    "minutes_by_counter.csv": "right",
    "step_and_total.csv": "right",
    "tick_wrap.csv": "right",
    "meter_preamble.txt": "right",
    "tester_states.csv": "right",
    "radio_link.csv": "right",
    "counter_unit.csv": "right",
    "solar_box.csv": "right",
    "phone_cells.csv": "right",
    "cells_only.csv": "right",
    "raw_and_calibrated.csv": "right",
    "scope_trace.csv": "right",
    "gauge_unsigned.csv": "right",
    "zero_error.csv": "right",
    "two_currents.csv": "right with options",
    "motor_and_battery.csv": "right",
    "set_and_measured.csv": "right",
    "home_history.csv": "right",
    "pivot.csv": "right",
    "mixed_rate.csv": "right with options",
    "charger.csv": "refused",
    "volts_only.csv": "refused",
    "mains.csv": "refused",
    "cycles.csv": "refused",
    "harvest.csv": "refused",
    "idle_pack.csv": "refused",
    "split_document.json": "right",
    "printed_document.json": "right",
    "on_its_side.csv": "right",
    "one_name_after_the_other.csv": "right",
    "topics.log": "right",
    "elements.xml": "right",
    "ruled.txt": "right",
    "barred.md": "right",
    "year_at_the_end.csv": "right",
    "julian.csv": "right",
    "nanoseconds.csv": "right",
    "ways_apart.csv": "right",
    "hundredths.csv": "right with options",
    "times_the_capacity.csv": "refused",
    "counts.csv": "refused",
    "extremes_of_each_second.csv": "right",
}
"""What a careful reader achieves; `right with options` where the file by itself says too little."""


def _read(file: HobbyFile, options: dict[str, Any]) -> tuple[str, str]:
    """right, refused, wrong or crash, and the line that says so."""
    try:
        log = est.read_log(file.path, **options)
    except est.MowchargeError as error:
        return "refused", str(error)
    except Exception as error:
        return "crash", f"{type(error).__name__}: {error}"
    columns = (log.readings[name].to_numpy(float) for name in ("time_s", "current_a", "voltage_v"))
    got = figures(*columns, log.longest_step_s)
    if file.truth is None:
        # A log without any discharge claims nothing: that is as good as a refusal.
        return ("refused" if got.discharge_ah < 0.01 else "wrong"), _compared(got, Figures(0, 0, 0, 0))
    near = [abs(getattr(got, x) / getattr(file.truth, x) - 1) <= 0.03 for x in Figures.__dataclass_fields__]
    return ("right" if all(near) else "wrong"), _compared(got, file.truth)


def _compared(got: Figures, truth: Figures) -> str:
    return ", ".join(
        f"{name} {getattr(got, name):.4g} of {getattr(truth, name):.4g}"
        for name in Figures.__dataclass_fields__
    )


def outcome(file: HobbyFile) -> tuple[str, str]:
    """The result for the file alone or, where that is refused, with its options."""
    said, line = _read(file, {})
    if said != "refused" or not file.options:
        return said, line
    said, again = _read(file, file.options)
    return ("right with options" if said == "right" else said), f"{line} || with {file.options}: {again}"


@pytest.fixture(scope="module")
def outcomes(written: dict[str, HobbyFile]) -> dict[str, tuple[str, str]]:
    return {name: outcome(file) for name, file in written.items()}


def test_the_table_names_every_file_and_agrees_with_its_truth(written: dict[str, HobbyFile]) -> None:
    assert written.keys() == EXPECTED.keys()
    for name, file in written.items():
        reached = "refused" if file.truth is None else "right with options" if file.options else "right"
        assert EXPECTED[name] == reached, name


@pytest.mark.parametrize("name", EXPECTED)
def test_read_as_a_careful_reader_would(
    name: str, written: dict[str, HobbyFile], outcomes: dict[str, tuple[str, str]]
) -> None:
    said, line = outcomes[name]
    # Reading a file right without the options that a person would need is no worse.
    wanted = {EXPECTED[name], "right"} if EXPECTED[name] == "right with options" else {EXPECTED[name]}
    assert said in wanted, f"{name} ({written[name].why}): {line}"


def test_none_is_read_wrong(outcomes: dict[str, tuple[str, str]], capsys: pytest.CaptureFixture[str]) -> None:
    counts = Counter(said for said, _ in outcomes.values())
    for name, (said, line) in outcomes.items():
        print(f"{said:18s} {name:24s} {line}")  # shown by -rP, and where the test fails
    with capsys.disabled():
        print(
            f"\n{len(outcomes)} hobby files: " + ", ".join(f"{n} {said}" for said, n in counts.most_common())
        )
    bad = {name: line for name, (said, line) in outcomes.items() if said in ("wrong", "crash")}
    assert not bad, "\n".join(f"{name}: {line}" for name, line in bad.items())
