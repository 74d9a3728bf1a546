"""Every answer: from kept figures only, the same as the library's, with plain names and with its why."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import fields
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from estimator.answers import charging_time as charging
from estimator.answers import conversion
from estimator.answers.capacity import CapacityQuestion, capacity_to_buy
from estimator.answers.charge_curve import charge_of_mow
from estimator.answers.describe import all_described
from estimator.answers.figures.load_profile import profile_of
from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.figures.pack_chain import fit_of_pack, steps_of_pack
from estimator.answers.keeping.typed import the_lawn, the_pack_of_a_mow
from estimator.answers.looking_back.compare import CompareQuestion, groups_compared
from estimator.answers.looking_back.pack_life import pack_life
from estimator.answers.looking_back.seasons import seasons_compared
from estimator.answers.looking_back.track_record import RECORD, record_so_far
from estimator.answers.minutes import MinutesQuestion, minutes_of_files
from estimator.answers.mow import story_of_mow
from estimator.answers.plan import PlanQuestion, plan_of_day
from estimator.answers.why import as_plain
from estimator.cli.named_files import as_option
from estimator.descriptions import Grass, Lawn, Machine
from estimator.errors import InputError
from estimator.logbook import (
    Logbook,
    forget_derived,
    keep_lawn,
    keep_machine,
    lawns,
    mows,
    open_logbook,
    pack,
    remove_mow,
)
from estimator.page.showing.decision_fields import labelled
from estimator.predictor.lawns.day import ChargingPause
from estimator.predictor.lawns.lawns_per_charge import lawns_per_charge

CRATE = "green crate"
Ask = Callable[[Logbook], Any]

FROM_FIGURES: dict[str, Ask] = {
    "plan": lambda book: plan_of_day(book, PlanQuestion(grass=Grass("damp", 25.0), pack=CRATE)),
    "capacity": lambda book: capacity_to_buy(
        book, CapacityQuestion(("apple rows",), Grass("damp", 25.0), CRATE)
    ),
    "seasons": lambda book: seasons_compared(book, CRATE),
    "compare": lambda book: groups_compared(book, CompareQuestion(tag="rear roller off")),
    "pack life": lambda book: pack_life(book, ("apple rows",), pack=CRATE),
    "track record": lambda book: record_so_far(book, last=5),
    "cable": lambda book: conversion.cable_of_mows(book, "6 mm2", 1.0, pack=CRATE),
    "limits": lambda book: conversion.limits_of_mows(book, pack=CRATE, fuse_a=30.0),
    "motor": lambda book: conversion.motor_of_mows(book, engine_hp=5.0),
    "charging": lambda book: charging.charging_after(
        book, ["apple rows"], pack=CRATE, charger_w=240.0, pause_minutes=30.0
    ),
    "cost": lambda book: charging.cost_of_mowing(
        book, price_per_kwh=0.3, pack=CRATE, petrol_price_per_l=1.8, petrol_l_per_mow=0.8
    ),
    "care": lambda book: conversion.care_of_machine(book),
}  # fmt: skip


@pytest.fixture(scope="module")
def book(orchard_file: Path) -> Any:
    with open_logbook(orchard_file) as opened:
        yield opened


@pytest.mark.parametrize("name", FROM_FIGURES)
def test_answers_rest_on_kept_figures_only(name: str, book: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("an answer read old readings again")

    if name == "track record":  # reads the latest mows down to the cut-off once, and keeps a row with each
        FROM_FIGURES[name](book)
    monkeypatch.setattr("estimator.logbook.records.readings.bytes_of", refuse)
    answer = FROM_FIGURES[name](book)
    plain = as_plain(answer)
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    assert set(plain) == {field.name for field in fields(answer)}
    assert answer.why.parts
    for sentence in (*answer.why.assumptions, *answer.why.cautions, *answer.why.sources):
        assert sentence.strip() == sentence
        assert sentence
        assert "is safe" not in sentence.casefold()
    if name not in ("track record", "cost"):  # all others lead to a hand on pack, blades or wires
        assert answer.why.cautions


def test_a_plan_is_that_of_the_library(book: Logbook) -> None:
    question = PlanQuestion(("chapel strip", "far meadow"), Grass("wet", 35.0), CRATE, start_charge=0.8)
    answer = plan_of_day(book, question)
    by_name = {lawn.name: lawn for lawn in lawns(book)}
    from estimator.answers.figures.mow_figures import days_since_care_on, latest_day
    from estimator.logbook import machine

    direct = lawns_per_charge(
        profile_of(book),
        fit_of_pack(book, pack(book, CRATE)),
        [by_name["chapel strip"], by_name["far meadow"]],
        Grass("wet", 35.0),
        0.95,
        start_charge=0.8,
        days_since_care=days_since_care_on(book, machine(book, "cylinder mower"), latest_day(mows(book))),
    )
    assert answer.count == direct.count
    assert [lawn.odds for lawn in answer.lawns] == list(direct.odds)
    assert answer.lawns[0].odds >= answer.lawns[1].odds
    known = [each for each in features_of_mows(book).values() if each.lawn == "chapel strip" and each.whole]
    assert answer.lawns[0].mows_known == len(known)


def test_a_spare_pack_and_a_pause_do_not_make_it_worse(book: Logbook) -> None:
    wet = Grass("wet", 45.0)
    alone = plan_of_day(book, PlanQuestion(grass=wet, pack=CRATE, start_charge=0.6))
    spare = plan_of_day(book, PlanQuestion(grass=wet, pack=CRATE, start_charge=0.6, spare="old box"))
    pause = plan_of_day(
        book, PlanQuestion(grass=wet, pack=CRATE, start_charge=0.6, pause=ChargingPause(1, 60.0, 240.0))
    )
    assert alone.expected < spare.expected
    assert alone.expected < pause.expected


def test_capacity_parts_add_up_and_smaller_packs_finish_less(book: Logbook) -> None:
    answer = FROM_FIGURES["capacity"](book)
    assert sum(part.ah for part in answer.parts) == pytest.approx(answer.capacity_ah)
    assert answer.choice is not None
    assert answer.choice.capacity_ah >= answer.capacity_ah - 1e-9
    assert answer.choice.capacity_ah % 2.5 == pytest.approx(0)
    assert [size.odds for size in answer.sizes] == sorted(size.odds for size in answer.sizes)
    assert all(size.typical_new >= size.worst_new >= size.odds - 0.03 for size in answer.sizes)
    assert answer.now_ah == 10.0


def test_minutes_left_half_way_hold_what_came(book: Logbook, samples: Path) -> None:
    path = samples / "2025-09-27a.csv"
    lines = path.read_bytes().splitlines(keepends=True)
    whole = minutes_of_files(book, MinutesQuestion(((path.name, b"".join(lines)),), CRATE))
    half = minutes_of_files(book, MinutesQuestion(((path.name, b"".join(lines[: len(lines) // 2])),), CRATE))
    came = whole.measured_minutes - half.measured_minutes
    assert half.low - 1 <= came <= half.high + 1
    assert half.low < half.minutes < half.high
    assert whole.minutes < 3
    assert half.trace.charge[0] > half.trace.charge[-1] == half.charge
    assert len(half.ends_min) == 100
    assert list(half.ends_min) == sorted(half.ends_min)


def test_going_on_as_on_a_wetter_lawn_changes_the_minutes(book: Logbook, samples: Path) -> None:
    path = samples / "2025-05-17a.csv"
    files = ((path.name, path.read_bytes()),)
    as_so_far = minutes_of_files(book, MinutesQuestion(files, CRATE, start_charge=1.0))
    as_usual = minutes_of_files(book, MinutesQuestion(files, CRATE, start_charge=1.0, lawn="far meadow"))
    assert as_usual.minutes > as_so_far.minutes  # that day was the wettest and longest of the season
    with pytest.raises(InputError, match="did you mean 'far meadow'"):
        minutes_of_files(book, MinutesQuestion(files, CRATE, lawn="far meadows"))


def test_charge_curves_lie_on_the_generators_truth(book: Logbook, samples: Path) -> None:
    misses = {}
    for record in mows(book):
        stem = record.files[0].name.rsplit(".", 1)[0].removesuffix("-amps")
        if stem.endswith("-notes"):
            continue
        truth = pd.read_csv(samples / "truth" / f"{stem}.csv")
        trace = charge_of_mow(book, record.id).trace
        charge = np.interp(truth.time_s, trace.time_s, trace.charge)
        misses[stem] = float(np.sqrt(np.mean((charge - truth.charge) ** 2)))
    assert len(misses) > 25
    assert np.median(list(misses.values())) < 0.03
    assert max(misses.values()) < 0.05, misses


def test_capacity_follows_the_generators_truth(book: Logbook, samples: Path) -> None:
    truth = pd.read_csv(samples / "truth" / "mows.csv").set_index("mow")
    steps = steps_of_pack(book, pack(book, CRATE))
    last = mows(book, pack=CRATE)[-1].files[0].name.removesuffix(".csv")
    true_ah = float(truth.loc[last, "capacity_ah"])
    # no mow of this pack went from a known start to the cut-off: the label's band stands, and holds the truth
    assert abs(steps[-1].capacity_ah - true_ah) < 1.645 * steps[-1].capacity_std_ah < 0.16 * true_ah


def test_seasons_tell_the_planted_changes(book: Logbook) -> None:
    answer = seasons_compared(book, CRATE)
    assert answer.curves is not None
    assert [curve.season for curve in answer.curves.curves] == ["2024", "2025"]
    by_measure = {each.measure: each.changes[0] for each in answer.comparisons}
    assert by_measure["resistance"].change > 0.05
    assert by_measure["resistance"].more_than_noise
    assert by_measure["usable capacity"].change < 0
    told = [sentence for sentence in answer.sentences if "that is more than noise." in sentence]
    assert list(answer.sentences[: len(told)]) == told
    levels = next(each.groups for each in answer.comparisons if each.measure == "usable capacity")
    assert levels[0].low < levels[1].high, "the seasons' bands overlap"
    (of_capacity,) = [sentence for sentence in told if sentence.startswith("Usable capacity")]
    assert re.search(r"noise\. Only how much both hold is less sure: by \d+ % up or down, alike", of_capacity)
    assert not any("Only how much" in sentence for sentence in answer.sentences if sentence != of_capacity)


@pytest.mark.parametrize("name", [CRATE, "old box"])
def test_seasons_claim_of_capacity_only_what_is_true(book: Logbook, samples: Path, name: str) -> None:
    """The generator knows each pack's capacity on each day; both packs lost some from 2024 to 2025."""
    truth = pd.read_csv(samples / "truth" / "mows.csv").set_index("mow")["capacity_ah"]
    sheet = pd.read_csv(samples / "mows.csv")
    sheet = sheet[sheet["pack"] == name].set_index("mow")
    of_year = truth[sheet.index].groupby(sheet["started"].str[:4]).mean()
    answer = seasons_compared(book, name)
    claims = [each for each in answer.comparisons if each.measure == "usable capacity"]
    of_year *= answer.pack_now.usable_share  # the truth is that of a slow discharge
    # no mow of the old box goes from a known charge to its cut-off or far towards it: nothing is claimed
    assert len(claims) == (1 if name == CRATE else 0)
    for group in [group for claim in claims for group in claim.groups]:
        assert group.low < of_year[group.group] < group.high
    for change in [change for claim in claims for change in claim.changes]:
        assert change.low < of_year[change.later] / of_year[change.earlier] - 1 < change.high


def test_pushing_took_less_energy_and_more_time(book: Logbook) -> None:
    answer = groups_compared(book, CompareQuestion(tag="rear roller off"))
    assert answer.mows == (30, 4)
    energy, pace = answer.comparisons[0].changes[0], answer.comparisons[1].changes[0]
    assert energy.change < 0
    assert energy.more_than_noise
    assert pace.change < 0
    assert re.fullmatch(
        r"Energy per area changed by -\d+ % \(-\d+ % to -\d+ %\) with 'rear roller off', "
        r"after allowing for grass, lawn and temperature; that is more than noise\.",
        energy.sentence,
    )
    idle = answer.comparisons[2].changes[0]
    assert f"about {idle.more_mows} more mows with 'rear roller off' could tell" in idle.sentence


def test_before_and_after_a_day(book: Logbook) -> None:
    answer = groups_compared(book, CompareQuestion(changed_on=date(2025, 6, 20), since=date(2025, 1, 1)))
    assert (answer.earlier, answer.later) == ("before 2025-06-20", "from 2025-06-20 on")
    for comparison in answer.comparisons:
        assert ") from 2025-06-20 on, after allowing for " in comparison.changes[0].sentence
    assert sum(answer.mows) == sum(mow.started is not None and mow.started.year == 2025 for mow in mows(book))


@pytest.mark.parametrize(
    ("question", "line"),
    [
        (CompareQuestion(), "what to compare is not given; give a tag or the day of a change, not both"),
        (
            CompareQuestion(tag="new cable"),
            "no mow with 'new cable'; tags of these mows: 'blades sharpened', "
            "'rear roller off', 'stopped short'",
        ),
        (
            CompareQuestion(tag="rear roller of"),
            "no mow with 'rear roller of'; did you mean 'rear roller off'?",
        ),
        (
            CompareQuestion(changed_on=date(2030, 1, 1)),
            "no mow from 2030-01-01 on; there are mows from 2024-04-13 to 2025-10-11",
        ),
    ],
)
def test_comparisons_that_cannot_be(book: Logbook, question: CompareQuestion, line: str) -> None:
    with pytest.raises(InputError) as caught:
        groups_compared(book, question)
    assert str(caught.value).startswith(line)


def test_the_track_record_beats_same_as_last_time(book: Logbook) -> None:
    answer = record_so_far(book)
    assert answer.mows == len(answer.predicted)
    assert answer.held_low <= answer.held <= answer.held_high
    assert answer.miss < 0.7 * answer.last_time_miss
    assert f"{answer.mows} mows" in answer.sentence


def test_answers_cite_the_record_once_it_was_taken(orchard: Logbook) -> None:
    ask = PlanQuestion(("chapel strip",), pack=CRATE)
    forget_derived(orchard, RECORD)
    assert "track record" not in plan_of_day(orchard, ask).why.parts[0].name
    record = record_so_far(orchard)
    cited = plan_of_day(orchard, ask).why.parts[0]
    assert cited.name == "track record when last replayed"
    assert cited.value == record.sentence


def test_the_mows_are_listed_once_for_a_capacity(book: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    question = CapacityQuestion(("apple rows",), Grass("damp", 25.0), CRATE)
    before = capacity_to_buy(book, question)
    listed: list[int] = []

    def counted(*where: Any, **which: Any) -> Any:
        found = mows(*where, **which)
        listed.append(len(found))
        return found

    figures = ("load_profile", "mow_figures", "pack_chain", "pack_steps")
    for module in ("capacity", "conversion", *(f"figures.{each}" for each in figures)):
        monkeypatch.setattr(f"estimator.answers.{module}.mows", counted)
    assert capacity_to_buy(book, question) == before
    assert before.motor is not None
    assert [count for count in listed if count] == [len(mows(book))]


def test_a_thicker_cable_loses_less_and_a_limit_is_compared(book: Logbook) -> None:
    found = conversion.cable_of_mows(book, "6 mm2", 1.0, pack=CRATE, limit_a=10.0).figures
    losses = {each.size: each.loss_wh.value for each in (found.fitted, *found.others)}
    assert losses["10 mm²"] < losses["6 mm²"] < losses["4 mm²"]
    assert (
        found.fitted.loss_share.value < 0.01
    )  # common practice: a metre of 6 mm² loses well under 1 % at 5 A
    assert "above the limit of 10 A" in found.verdict


def test_a_pack_s_own_limit_is_held_against_the_highest_second(book: Logbook) -> None:
    found = conversion.limits_of_mows(book, pack=CRATE, controller_a=40.0).figures
    highest = next(peak for peak in found.peaks if peak.seconds == 1.0).measured_a.value
    assert {check.limit.name: check.peak.measured_a.value for check in found.checks} == {
        "battery management": highest,
        "controller": highest,
    }
    told = conversion.limits_of_mows(book, pack=CRATE, management_a=25.0, management_s=30.0).figures
    assert told.checks[0].peak.measured_a.value < highest


def test_lawns_that_ask_for_more_than_the_pack_holds(book: Logbook, orchard: Logbook) -> None:
    keep_lawn(orchard, Lawn("park", area_m2=20_000))
    with pytest.raises(
        InputError, match=r"the lawns take about .* Ah; green crate holds .* Ah; name fewer lawns"
    ):
        charging.charging_after(orchard, ["park"], pack=CRATE, charger_w=240.0)
    once = charging.cost_of_mowing(book, ["far meadow"], price_per_kwh=1.0, pack=CRATE).figures
    many = charging.cost_of_mowing(orchard, ["park"], price_per_kwh=1.0, pack=CRATE).figures
    assert many.electricity.per_mow.value > 10 * once.electricity.per_mow.value


def test_a_pack_that_is_only_described_makes_no_question_want_a_pack(orchard: Logbook) -> None:
    for record in mows(orchard, pack="old box"):
        remove_mow(orchard, record.id)
    assert plan_of_day(orchard, PlanQuestion()).pack == CRATE
    line = "no pack is named; green crate, old box may have done this mow: name the one that did with {}"
    with pytest.raises(InputError, match=line.format("pack")) as refused:
        the_pack_of_a_mow(orchard)
    assert refused.value.said(as_option) == line.format("--pack")


def test_which_pack_and_machine_are_meant(orchard: Logbook) -> None:
    with pytest.raises(InputError, match="no pack is named; name one of green crate, old box"):
        plan_of_day(orchard, PlanQuestion())
    assert conversion.motor_of_mows(orchard).figures.loading is not None
    keep_machine(orchard, Machine("second mower"))
    line = "no machine is named; name one of cylinder mower, second mower with {}"
    with pytest.raises(InputError, match=line.format("machine")) as refused:
        conversion.motor_of_mows(orchard)
    assert refused.value.said(as_option) == line.format("--machine")
    assert refused.value.said(labelled) == line.format("“Machine”")
    planned = plan_of_day(orchard, PlanQuestion(pack=CRATE))
    assert "With cylinder mower, the machine of the latest mow." in planned.notes
    named = plan_of_day(orchard, PlanQuestion(pack=CRATE, machine="cylinder mower"))
    assert (planned.lawns, named.notes) == (named.lawns, ())
    with pytest.raises(InputError, match=r"no lawn is named; name one of .* with lawn"):
        the_lawn(orchard)
    with pytest.raises(InputError, match="there are no mows with second mower; add one first"):
        conversion.motor_of_mows(orchard, machine="second mower", rated_w=1000.0)


def test_an_empty_logbook_says_what_to_do(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "new.sqlite") as empty:
        assert all_described(empty).lawns == ()
        for ask in FROM_FIGURES.values():
            with pytest.raises(InputError) as caught:
                ask(empty)
            assert caught.value.mend


def test_the_story_of_a_mow(book: Logbook) -> None:
    story = story_of_mow(book, 1)
    assert story.record.lawn == "apple rows"
    assert story.energy_wh == pytest.approx(features_of_mows(book)[1].energy_wh)
    assert [change.what for change in story.history] == ["added"]


def test_care_noted_on_a_day_counts_without_reading_anything(orchard: Logbook) -> None:
    from estimator.answers.keeping.changing import note_care

    note_care(orchard, "2024-07-01", "reel lapped")
    features = features_of_mows(orchard)
    after = next(each for each in features.values() if each.day == "2024-07-20")
    assert after.days_since_care == 19.0
    assert date(2024, 7, 1) in all_described(orchard).machines[0].blade_care


def test_a_pack_wears_by_its_price_over_the_discharges_it_lasts(book: Logbook) -> None:
    """A 10 Ah pack costs 400 and lasts 1,000 discharges: 2.5 Ah wear off 400/1000 · 2.5/10."""

    def wear_of(**given: float) -> Any:
        found = charging.cost_of_mowing(
            book, ["far meadow"], price_per_kwh=0.3, pack=CRATE, pack_price=400.0, **given
        )
        assert found.figures.wear is not None
        return found.figures.wear.per_mow

    used_ah = charging.charging_after(book, ["far meadow"], pack=CRATE, charger_w=240.0).figures.used_ah
    assert wear_of(cycles=1000.0).value == pytest.approx(400 / 1000 * used_ah / 10)
    assert wear_of(cycles=500.0).value == pytest.approx(2 * wear_of(cycles=1000.0).value)
    own = wear_of()
    assert 0 < own.low < own.value < own.high
    for wrong, line in (
        ({"pack_price": -1.0}, "the price of the pack is -1.0; give a number from zero up"),
        ({"pack_price": 1.0, "cycles": 0.0}, "the pack lasts 0 discharges; give a number from 1 up"),
    ):
        with pytest.raises(InputError, match=re.escape(line)):
            charging.cost_of_mowing(book, ["far meadow"], price_per_kwh=0.3, pack=CRATE, **wrong)
