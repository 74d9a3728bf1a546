# ruff: noqa: E501
"""One list of nonsense: library, command and page refuse each in the same line, in their own units."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pandas as pd
import pytest

import estimator as est
from estimator import cli
from estimator.page.door.forms import Sent
from estimator.page.screens.descriptions import pack_of
from estimator.page.showing.words import sentence

PACK = est.Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
LAWNS = [est.Lawn("a", area_m2=300)]
TIME_S = np.arange(0.0, 600.0, 2.0)
MOWING = pd.DataFrame({"time_s": TIME_S, "current_a": 8.0, "voltage_v": 50.0})
LOG = est.Log(MOWING)
CHARGING = est.Log(MOWING.assign(current_a=-3.0))
CRATE = "pack=green+crate"
Ask = Callable[[], Any]


def pack(**other: Any) -> Ask:
    rated = {"chemistry": "nmc", "series": 13, "capacity_ah": 10.0, "cut_off_v": 39.0, "name": "x"}
    return lambda: est.Pack(**{**rated, **other})


def plan(**other: Any) -> Ask:
    return lambda: est.lawns_per_charge(est.fit_profile([]), PACK, LAWNS, **other)


def size(**other: Any) -> Ask:
    return lambda: est.recommend_capacity(est.fit_profile([]), PACK, LAWNS, **other)


DESCRIBE = "describe pack x --chemistry nmc --series 13 --capacity-ah 10 --cut-off-v 39"


def with_options(words: str) -> list[str]:
    """The words of a command in which a later option takes the place of the same one before it."""
    first, *options = words.split(" --")
    given = dict(each.split(" ", 1) for each in options)
    return [*first.split(), *(word for name, value in given.items() for word in (f"--{name}", value))]


CELLS = ", for 13 nmc cells in series, charged to 54.6 V"

EVERYWHERE: list[tuple[Ask, str, str, str, str]] = [
    # library, its line; command, page, their line
    (lambda: est.minutes_left(LOG, PACK, start_charge=100), "start charge is 100; give a share from 0 to 1, such as 1 for 100 %",
     "plan --start-charge 150", f"/lawns?{CRATE}&start_charge=150", "start charge is 150 %; give 0 to 100 %"),
    (plan(start_charge=-0.1), "start charge is -0.1; give a share from 0 to 1",
     "plan --start-charge -10", f"/lawns?{CRATE}&start_charge=-10", "start charge is -10 %; give 0 to 100 %"),
    (plan(sure=95), "certainty is 95; give a share from 0.5 to 0.999, such as 0.95 for 95 %",
     "plan --sure 120", f"/lawns?{CRATE}&sure=120", "certainty is 120 %; give 50 to 99.9 %"),
    (size(sure=1.0), "certainty is 1; give a share from 0.5 to 0.999",
     "capacity --sure 100", f"/capacity?{CRATE}&sure=100", "certainty is 100 %; give 50 to 99.9 %"),
    (size(capacity_at_end=0.1), "capacity at end of life is 0.1; give a share from 0.2 to 1",
     "capacity --capacity-at-end 10", f"/capacity?{CRATE}&capacity_at_end=10",
     "capacity at end of life is 10 %; give 20 to 100 %"),
    (size(reserve=0.95), "reserve is 0.95; give a share from 0 to 0.9",
     "capacity --reserve 95", f"/capacity?{CRATE}&reserve=95", "reserve is 95 %; give 0 to 90 %"),
    (size(resistance_at_end=0.5), "resistance at end of life is 0.5 times new; give 1 to 5 times new",
     "capacity --resistance-at-end 0.5", f"/capacity?{CRATE}&resistance_at_end=0.5",
     "resistance at end of life is 0.5 times new; give 1 to 5 times new"),
    (size(coldest_c=400), "coldest temperature is 400 °C; give -40 to 70 °C",
     "capacity --coldest-c 400", f"/capacity?{CRATE}&coldest_c=400",
     "coldest temperature is 400 °C; give -40 to 70 °C"),
    (size(sizes_ah=[0.0]), "size of a pack is 0 Ah; give 0.01 to 2000 Ah",
     "capacity --size-ah 0", f"/capacity?{CRATE}&sizes_ah=0", "size of a pack is 0 Ah; give 0.01 to 2000 Ah"),
    (plan(temperature_c=200), "temperature is 200 °C; give -40 to 70 °C",
     "plan --temperature-c 200", f"/lawns?{CRATE}&temperature_c=200", "temperature is 200 °C; give -40 to 70 °C"),
    (lambda: est.Grass(growth_mm=-2), "grass: growth is -2 mm; give 0 to 5000 mm",
     "plan --growth-mm -2", f"/lawns?{CRATE}&growth_mm=-2", "growth is -2 mm; give 0 to 5000 mm"),
    (lambda: est.Grass("soggy"), "grass moisture 'soggy' is not known; choose one of dry, damp, wet",
     "plan --moisture soggy", f"/lawns?{CRATE}&moisture=soggy",
     "grass moisture 'soggy' is not known; choose one of dry, damp, wet"),
]  # fmt: skip

DESCRIBED: list[tuple[Ask, str, dict[str, str], str]] = [
    # library, command, the page's form, the one line of all three
    (pack(cut_off_v=54), f"{DESCRIBE} --cut-off-v 54", {"cut_off_v": "54"},
     f"pack x: cut-off is 54 V; give 24.7 to 48.75 V, such as 39 V{CELLS}"),
    (pack(cut_off_v=10), f"{DESCRIBE} --cut-off-v 10", {"cut_off_v": "10"},
     f"pack x: cut-off is 10 V; give 24.7 to 48.75 V, such as 39 V{CELLS}"),
    (pack(chemistry="lead_acid", series=18, cut_off_v=10.5),
     f"{DESCRIBE} --chemistry lead_acid --series 18 --cut-off-v 10.5",
     {"chemistry": "lead_acid", "series": "18", "cut_off_v": "10.5"},
     "pack x: cut-off is 10.5 V; give 21.6 to 36.72 V, such as 31.5 V, for 18 lead-acid cells in series, charged to 44.1 V"),
    (pack(chemistry="lfp", series=16, cut_off_v=30), f"{DESCRIBE} --chemistry lfp --series 16 --cut-off-v 30",
     {"chemistry": "lfp", "series": "16", "cut_off_v": "30"},
     "pack x: cut-off is 30 V; give 30.4 to 52.64 V, such as 40 V, for 16 lfp cells in series, charged to 58.4 V"),
    (pack(capacity_ah=20_000), f"{DESCRIBE} --capacity-ah 20000", {"capacity_ah": "20000"},
     "capacity is 20000 Ah; give 0.01 to 2000 Ah"),
    (pack(current_limit_a=0), f"{DESCRIBE} --current-limit-a 0", {"current_limit_a": "0"},
     "current limit is 0 A; give 0.01 to 10000 A"),
    (pack(chemistry="nimh"), f"{DESCRIBE} --chemistry nimh", {"chemistry": "nimh"},
     "pack x: chemistry 'nimh' is not known; choose one of nmc, nca, lco, lfp, lithium, lead_acid"),
    (pack(series=0), f"{DESCRIBE} --series 0", {"series": "0"}, "series count is 0; give 1 to 1000"),
    (pack(hold_s=100), f"{DESCRIBE} --hold-s 100", {"hold_s": "100"}, "hold time is 100 s; give 0 to 60 s"),
]  # fmt: skip

LIBRARY: list[tuple[Ask, str]] = [
    (lambda: est.charge_curve(LOG, PACK, start_charge=100), "start charge is 100; give a share from 0 to 1, such as 1 for 100 %"),
    (lambda: est.fit_pack([LOG], PACK, start_charges=[100]), "start charge is 100; give a share from 0 to 1, such as 1 for 100 %"),
    (lambda: est.minutes_left(LOG, PACK, level=90), "level is 90; give a share from 0.5 to 0.999, such as 0.9 for 90 %"),
    (lambda: est.minutes_left(CHARGING, PACK), "log: charges the pack by 0.498 Ah on balance; give the part that mows, or the load to come"),
    (lambda: est.minutes_left(LOG, PACK, load=CHARGING), "log: charges the pack by 0.498 Ah on balance; give the part that mows, or the load to come"),
    (lambda: est.minutes_left(est.Log(MOWING.assign(current_a=0.0)), PACK), "log: draws nothing; give the part that mows, or the load to come"),
    (lambda: est.minutes_left(MOWING, PACK), "log is a DataFrame; give a Log"),
    (lambda: est.minutes_left(LOG, "crate"), "pack is 'crate'; give a Pack"),
    (lambda: est.minutes_left(LOG, PACK, load=400), "load is 400; give a LoadProfile"),
    (lambda: est.Log(MOWING.rename(columns={"current_a": "amps"})), "log: column current_a is missing among time_s, amps, voltage_v; name the columns time_s, current_a, voltage_v, and temperature_c where it was measured"),
    (lambda: est.Log(MOWING.iloc[::-1]), "log: time_s goes back from 598 to 596 at reading 2; sort them"),
    (lambda: est.Log(MOWING.iloc[:1]), "log: holds 1 reading(s); two or more are needed"),
    (lambda: est.Log(MOWING.assign(current_a="8 A")), "log: column current_a holds '8 A'; give numbers"),
    (lambda: est.Log(MOWING.assign(current_a=np.nan)), "log: current_a is nan at reading 1; leave the reading out"),
    (lambda: est.Log([1, 2]), "log: its readings are a list; give a DataFrame with time_s, current_a, voltage_v"),
    (lambda: est.Mow(LOG, lawn="orchard"), "lawn of a mow is 'orchard'; give a Lawn"),
    (lambda: est.Mow(MOWING, lawn=LAWNS[0]), "log of a mow is a DataFrame; give a Log"),
    (lambda: est.Mow(LOG, lawn=LAWNS[0], start_charge=100), "mow on a: start charge is 100; give a share from 0 to 1, such as 1 for 100 %"),
    (lambda: est.Mow(LOG, lawn=LAWNS[0], tags="wet"), "tags of a mow are 'wet'; give a tuple of words"),
    (lambda: est.Lawn("a", area_m2=0), "lawn a: area is 0 m²; give 0.01 to 10000000 m²"),
    (lambda: est.Lawn(" ", area_m2=3), "a lawn has no name; give it one"),
    (lambda: est.fit_profile([LOG]), "mow is a Log; give a Mow"),
    (lambda: est.fit_profile(est.Mow(LOG, LAWNS[0])), "mows are one Mow; give a list of Mow"),
    (lambda: est.fit_pack(LOG, PACK), "logs are one Log; give a list of Log"),
    (lambda: est.fit_pack([LOG], PACK, 1.0), "start charges are one float; give a list of float"),
    (lambda: est.energy_observed(est.Mow(LOG, LAWNS[0])), "mows are one Mow; give a list of MowFeatures"),
    (lambda: est.charge_used(MOWING), "log is a DataFrame; give a Log"),
    (lambda: est.trace_from_log(MOWING), "log is a DataFrame; give a Log"),
    (lambda: est.mow_features(LOG), "mow is a Log; give a Mow"),
    (lambda: est.motor_load(est.trace_from_log(LOG)), "loads are one LoadTrace; give a list of LoadTrace"),
    (lambda: est.feed_cable([LOG], "6 mm2", one_way_m=1.0), "load is a Log; give a LoadTrace"),
    (lambda: est.energy_observed([LOG]), "mow is a Log; give a MowFeatures"),
    (lambda: est.care_advice(["2024-05-01"], [80.0], [0.4]), "day is '2024-05-01'; give a date"),
    (lambda: est.running_cost(250.0, 0.3), "mains_wh is 250.0; give a Band"),
    (lambda: est.current_limits([]), "no mow was given for the limits; give the load of at least one"),
    (plan(grass="wet"), "grass is 'wet'; give a Grass"),
    (pack(capacity_ah="10"), "pack x: capacity is '10'; give a number"),
    (pack(series=13.5), "pack x: series count is 13.5; give a whole number from 1 to 1000"),
    (lambda: est.recommend_capacity(est.fit_profile([]), PACK, [est.Lawn("park", 5e6)], draws=20), "a pack for these lawns: capacity is"),
]  # fmt: skip


def refused(ask: Ask) -> str:
    with pytest.raises(est.InputError) as error:
        ask()
    assert "\n" not in str(error.value)
    return str(error.value)


def command(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert cli._run(words) == 2
    said = capsys.readouterr()
    assert said.out == ""
    found = re.fullmatch(r"mowcharge: (.*)\n", said.err)
    assert found is not None, said.err
    return found[1]


def alert(answer: httpx.Response) -> str:
    assert answer.status_code == 422
    found = re.search(r'role="alert"[^>]*>(.*?)</', answer.text, re.S)
    assert found is not None, answer.text
    return unescape(re.sub(r"<[^>]*>", "", found[1])).replace("\xa0", " ").strip()


def as_sentence(line: str) -> str:
    return f"{line[:1].upper()}{line[1:]}."


@pytest.mark.parametrize(("ask", "line"), LIBRARY)
def test_the_library_refuses_what_it_is_given(ask: Ask, line: str) -> None:
    assert refused(ask).startswith(line)


@pytest.mark.parametrize(("ask", "own", "words", "path", "line"), EVERYWHERE)
def test_the_same_line_everywhere(
    ask: Ask, own: str, words: str, path: str, line: str,
    reader: httpx.Client, orchard_file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", str(orchard_file))
    assert refused(ask) == own
    assert line in command([*words.split(), "--pack", "green crate"], capsys)
    assert as_sentence(line) in alert(reader.get(path)) or line in alert(reader.get(path))


@pytest.mark.parametrize(("ask", "words", "fields", "line"), DESCRIBED)
def test_a_pack_that_cannot_be(
    ask: Ask, words: str, fields: dict[str, str], line: str, tmp_path: Path,
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", str(tmp_path / "own.sqlite"))
    assert line in refused(ask)
    assert line in command(with_options(words), capsys)
    usual = {"chemistry": "nmc", "series": "13", "capacity_ah": "10", "cut_off_v": "39"}
    with pytest.raises(est.InputError) as error:
        pack_of("x", Sent({**usual, **fields}, {}))
    assert line in error.value.said()


def test_a_pack_known_by_the_volts_on_its_label() -> None:
    """Two 12 V blocks of six 2 V cells each; a series count that is also given must agree."""
    label = {"chemistry": "lead_acid", "rated_v": "24", "capacity_ah": "33"}
    assert pack_of("x", Sent(label, {})).series == 12
    with pytest.raises(est.InputError) as error:
        pack_of("x", Sent({**label, "series": "6"}, {}))
    assert sentence(error.value) == (
        "Pack: 24 V of lead-acid is not 6 cells: it can be 12 cells (29.4 V when full); "
        "give “Cells in series”."
    )
    assert pack_of("x", Sent({**label, "series": "12"}, {})).series == 12
