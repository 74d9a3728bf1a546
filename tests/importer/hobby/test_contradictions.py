"""Recordings that contradict a pack, the calendar or themselves are stopped, settled or kept aside."""

from __future__ import annotations

from pathlib import Path

import pytest
from hobby_contradictions import LAWN, PACK, Contradiction, contradictions
from hobby_mow import figures

import estimator as est
from estimator.answers.keeping.keep import Circumstances, add_mow
from estimator.descriptions import DOUBTFUL
from estimator.logbook import edit_mow, keep_lawn, keep_pack, mow, mows, open_logbook

NOT_STOPPED = {
    "pace_no_mower_has": "a log of a minute is kept for any lawn",
    "date_habit": "a meter's habit is known by its described meter alone",
}
"""Contradictions that are not yet found, and what comes of them."""


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


@pytest.mark.parametrize("name", [name for name in NAMES if name not in NOT_STOPPED])
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
