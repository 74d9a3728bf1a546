"""A pack that is changed, or charged unseen, within a log: what follows says nothing of the first pack."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import estimator as est
from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.keeping.changing import split_mow
from estimator.answers.keeping.keep import Circumstances, add_mow
from estimator.answers.minutes import MinutesQuestion, minutes_of_files
from estimator.descriptions import RAN_OUT, STOPPED_SHORT, Lawn, Pack
from estimator.errors import InputError
from estimator.fitting.pack.log_grid import trace_of
from estimator.logbook import Logbook, edit_mow, keep_lawn, keep_pack, mow, mows, open_logbook

SWAP_S = 1230
"""The first pack works until second 1200 and is taken off; the second is on from here and works from 1240."""


def volts(t: int) -> float:
    at_rest = 48.0 - 3.0 * t / 1200 if t < SWAP_S else 54.4 - 2.0 * (t - SWAP_S) / 1200
    return at_rest - 0.1 * amps(t)


def amps(t: int) -> float:
    return 10.0 + t % 3 if 20 <= t < 1200 or 1240 <= t < 1830 else 0.0


def table(seconds: range) -> bytes:
    rows = (f"{t},{amps(t)},{volts(t):.3f}" for t in seconds)
    return "\n".join(("time_s,amps,volts", *rows)).encode()


BOTH, SECOND = table(range(1850)), table(range(SWAP_S, 1850))


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    made = open_logbook(tmp_path / "logbook.sqlite")
    keep_lawn(made, Lawn("orchard", area_m2=420))
    for name in ("crate", "chest"):
        keep_pack(made, Pack("nmc", series=13, capacity_ah=10, cut_off_v=39, name=name))
    return made


def kept(book: Logbook) -> int:
    number = add_mow(book, [("both.csv", BOTH)], Circumstances("orchard", "crate", start_charge=0.6)).mow
    assert number is not None
    return number


def test_a_log_speaks_of_its_first_pack_up_to_the_leap(tmp_path: Path) -> None:
    (path := tmp_path / "both.csv").write_bytes(BOTH)
    log = est.read_log(path)
    assert log.leaps_s == (SWAP_S,)
    assert any("higher from minute 20 on" in note for note in log.notes)
    trace = trace_of(log)
    assert trace.time_s[-1] == SWAP_S - 1
    assert trace.drawn_ah[-1] == pytest.approx(11 * 1180 / 3600, rel=0.01)


def test_minutes_left_are_those_of_the_pack_that_is_on(book: Logbook, tmp_path: Path) -> None:
    after = minutes_of_files(book, MinutesQuestion((("both.csv", BOTH),), "chest", start_charge=0.6))
    alone = minutes_of_files(book, MinutesQuestion((("second.csv", SECOND),), "chest"))
    assert after.minutes == pytest.approx(alone.minutes, rel=0.02)
    assert after.charge == pytest.approx(alone.charge, abs=0.01)
    paths = []
    for name, content in (("both.csv", BOTH), ("second.csv", SECOND)):
        paths.append(tmp_path / name)
        paths[-1].write_bytes(content)
    pack = Pack("nmc", series=13, capacity_ah=10, cut_off_v=39)
    both, second = (est.minutes_left(est.read_log(path), pack, draws=200).minutes for path in paths)
    assert both == pytest.approx(second, rel=0.02)


def test_parts_of_one_lawn_share_its_area_by_their_time(book: Logbook) -> None:
    kept(book)
    whole = features_of_mows(book)[1]
    second = split_mow(book, 1, 20.0, pack="chest")
    assert (second.lawn, second.pack, second.start_charge) == ("orchard", "chest", 1.0)
    assert second.decisions["part"][0] == SWAP_S, (
        "it begins where the volts leap, not at the minute that was said"
    )
    parts = features_of_mows(book)
    assert [parts[n].area_m2 for n in (1, 2)] == pytest.approx([280, 140], rel=0.01)  # 1180 s and 590 s
    assert sum(parts[n].energy_wh for n in (1, 2)) == pytest.approx(whole.energy_wh, rel=0.001)
    per_m2 = [each.energy_per_area() for each in (whole, parts[1], parts[2])]
    assert per_m2[0] == pytest.approx(np.dot([280 / 420, 140 / 420], per_m2[1:]), rel=0.01)
    assert features_of_mows(book, [mow(book, 2)])[2] == parts[2], "also where only one of them is asked for"


def test_the_last_part_says_whether_the_lawn_was_finished(book: Logbook) -> None:
    kept(book)
    split_mow(book, 1, 20.0, pack="chest")
    edit_mow(book, 1, tags=(RAN_OUT,))
    assert features_of_mows(book)[1].whole, "another pack went on and finished the lawn"
    edit_mow(book, 2, tags=(STOPPED_SHORT,))
    assert not any(each.whole for each in features_of_mows(book).values())


def test_without_a_lawn_or_a_pack_there_is_nothing_to_split(book: Logbook) -> None:
    kept(book)
    with pytest.raises(InputError, match="neither a lawn nor a pack changes there; say which"):
        split_mow(book, 1, 20.0)
    assert len(mows(book)) == 1
