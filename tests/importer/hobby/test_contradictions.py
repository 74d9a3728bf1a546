"""Recordings that contradict a pack, the calendar or themselves are stopped, settled or set aside."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hobby_contradictions import LAWN, PACK, Contradiction, contradictions
from hobby_mow import figures

import estimator as est
from estimator.answers.keeping.keep import Circumstances, add_mow
from estimator.descriptions import DOUBTFUL
from estimator.logbook import edit_mow, keep_lawn, keep_meter, keep_pack, log_of, mow, mows, open_logbook


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Contradiction]:
    return {c.name: c for c in contradictions(tmp_path_factory.mktemp("contradictions"))}


NAMES = (
    "milliamps_called_amps",
    "milliamps_without_unit",
    "millivolts_called_volts",
    "minutes_called_seconds",
    "glitches_of_65535",
    "clamp_turned_half_way",
    "volts_rise_under_load",
    "amps_stuck",
    "degrees_as_amps",
    "counter_as_amps",
    "cell_as_pack",
    "pack_of_24",
    "pack_of_4",
    "chargers_log",
    "more_than_it_holds",
    "power_no_mower_has",
    "pace_no_mower_has",
    "date_in_the_future",
    "date_habit",
    "two_mows_in_one",
)


def test_every_contradiction_is_tried(found: dict[str, Contradiction]) -> None:
    assert set(NAMES) == found.keys()


@pytest.mark.parametrize("name", [name for name in NAMES if name != "date_habit"])
def test_no_answer_rests_on_a_contradiction(
    name: str, found: dict[str, Contradiction], tmp_path: Path
) -> None:
    c = found[name]
    files = [(path.name, path.read_bytes()) for path in c.paths]
    said = Circumstances(lawn=LAWN.name, pack=PACK.name, decisions=c.options)
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        keep_lawn(book, LAWN)
        keep_pack(book, PACK)
        if c.expected == "refused":
            with pytest.raises(est.MowchargeError) as caught:
                add_mow(book, files, said)
            assert caught.value.mend
            assert all(word in str(caught.value) for word in c.words), str(caught.value)
            assert not mows(book, doubtful=None)
            return
        kept = add_mow(book, files, said)
        if c.expected == "aside":
            assert mows(book) == []
            assert kept.mow is not None
            assert [each.id for each in mows(book, doubtful=True)] == [kept.mow]
            assert DOUBTFUL in mow(book, kept.mow).tags
            assert any(all(word in note for word in c.words) for note in kept.notes)
            edit_mow(book, kept.mow, tags=())
            assert [each.id for each in mows(book)] == [kept.mow]
            return
        log = est.read_log(*c.paths, **c.options)
    columns = (log.readings[x].to_numpy(float) for x in ("time_s", "current_a", "voltage_v"))
    got = figures(*columns, log.longest_step_s)
    assert c.truth is not None
    assert got.discharge_ah == pytest.approx(c.truth.discharge_ah, rel=0.03)
    assert got.median_v == pytest.approx(c.truth.median_v, rel=0.03)


@pytest.mark.parametrize("first_added", ["meter named", "another meter", "not yet"])
def test_dates_that_read_both_ways_follow_the_other_files_of_their_meter(
    first_added: str, found: dict[str, Contradiction], tmp_path: Path
) -> None:
    c = found["date_habit"]
    first, second = [[(path.name, path.read_bytes())] for path in c.paths]
    said = Circumstances(lawn=LAWN.name, pack=PACK.name, meters=("shed clamp",))
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        keep_lawn(book, LAWN)
        keep_pack(book, PACK)
        keep_meter(book, "shed clamp", {})
        if first_added == "meter named":
            add_mow(book, first, said)
        elif first_added == "another meter":
            renamed = [(first[0][0], first[0][1].replace(b"date and time", b"day and time"))]
            add_mow(book, renamed, said)
        kept = add_mow(book, second, replace(said, meters=()))
        settled = first_added == "meter named"
        assert kept.mow is not None
        assert kept.started is not None
        # 05/07 is 5 July in a file of a meter that wrote 14/06 before, and else taken as 7 May
        assert (kept.started.date() == c.started) == settled
        assert any("as in other files of this meter" in note for note in kept.notes) == settled
        log = log_of(book, kept.mow)
        assert log.started is not None
        assert (log.started.date() == c.started) == settled
    columns = (log.readings[x].to_numpy(float) for x in ("time_s", "current_a", "voltage_v"))
    assert c.truth is not None
    assert figures(*columns, log.longest_step_s).discharge_ah == pytest.approx(c.truth.discharge_ah, rel=0.03)
