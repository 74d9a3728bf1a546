"""Mows are kept whole or not at all, and figures that rest on them follow every edit."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa

from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.figures.pack_chain import fit_of_pack, renew_figures, steps_of_pack
from estimator.answers.figures.pack_fits import FIT, KEEP_EVERY
from estimator.answers.figures.pack_steps import CHAIN_VERSION, KEEP_LAST, STEP
from estimator.answers.keeping import keep as keeping
from estimator.answers.keeping.changing import edit_mow, note_care, remove_mow, restore_mow
from estimator.answers.keeping.keep import Circumstances, add_mow, look_at_mow, spot_file
from estimator.answers.keeping.samples import fill_from_samples
from estimator.answers.mow import story_of_mow
from estimator.descriptions import Grass, Lawn, Pack
from estimator.errors import InputError
from estimator.fitting.load.features import mow_features
from estimator.importer.log import SpotNotes
from estimator.importer.read import read_log
from estimator.logbook import Logbook, derived_of_mows, keep_lawn, keep_pack, mows, open_logbook, pack
from estimator.logbook import log_of as read_again
from estimator.logbook.tables import metadata
from estimator.mow import Mow

FIRST = 6


@pytest.fixture(scope="module")
def short_file(tmp_path_factory: pytest.TempPathFactory, samples: Path) -> Path:
    path = tmp_path_factory.mktemp("short") / "short.sqlite"
    with open_logbook(path) as book:
        fill_from_samples(book, samples, until=FIRST)
    return path


@pytest.fixture
def short(short_file: Path, tmp_path: Path) -> Iterator[Logbook]:
    """A logbook with the first six mows, four of them on the green crate."""
    for part in short_file.parent.glob("short.sqlite*"):
        shutil.copy(part, tmp_path / part.name)
    with open_logbook(tmp_path / "short.sqlite") as book:
        yield book


def content(book: Logbook) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table."""
    with book.reading() as connection:
        return {
            table.name: sorted((tuple(row) for row in connection.execute(sa.select(table))), key=repr)
            for table in metadata.sorted_tables
        }


def said(**more: Any) -> Circumstances:
    return Circumstances(
        **{"lawn": "apple rows", "pack": "green crate", "grass": Grass("damp", 25.0), **more}
    )


def one_file(samples: Path, name: str = "2024-06-08a.csv") -> list[tuple[str, bytes]]:
    return [(name, (samples / name).read_bytes())]


def same_pack(a: Any, b: Any) -> bool:
    return bool(
        np.allclose(a.mean, b.mean, rtol=1e-6, atol=1e-8)
        and np.allclose(a.covariance, b.covariance, rtol=1e-5, atol=1e-9)
    )


def test_kept_figures_are_those_of_the_library(short: Logbook, samples: Path) -> None:
    figures = add_mow(short, one_file(samples), said(start_charge=1.0))
    log = read_log(samples / "2024-06-08a.csv")
    expected = mow_features(Mow(log, Lawn("apple rows", area_m2=420), Grass("damp", 25.0)))
    assert figures.mean_w == pytest.approx(expected.mean_w)
    assert figures.wh_per_m2 == pytest.approx(expected.energy_per_area())
    assert figures.minutes == pytest.approx(expected.motor_s / 60)
    assert figures.mow is not None
    kept = features_of_mows(short)[figures.mow]
    assert kept.energy_wh == pytest.approx(expected.energy_wh)
    assert kept.moisture == "damp"


def test_looking_keeps_nothing(short: Logbook, samples: Path) -> None:
    before = content(short)
    looked = look_at_mow(short, one_file(samples), said())
    assert looked.figures.mow is None
    assert looked.figures.ah > 0
    assert len(looked.log.readings) > 100
    assert content(short) == before


def test_looking_and_adding_say_the_same(short: Logbook, samples: Path) -> None:
    looked = look_at_mow(short, one_file(samples), said(start_charge=1.0)).figures
    added = add_mow(short, one_file(samples), said(start_charge=1.0))
    assert added.ah == looked.ah
    assert added.pack_now.capacity_ah == pytest.approx(looked.pack_now.capacity_ah, rel=1e-7)


@pytest.mark.parametrize(
    ("spoil", "line"),
    [
        (lambda s: ([("empty.csv", b"")], said()), "empty.csv: is empty"),
        (lambda s: (one_file(s), said(lawn="apple row")), "lawn 'apple row' is not in the logbook; did you mean 'apple rows'?"),  # noqa: E501
        (lambda s: (one_file(s), said(pack="green")), "pack 'green' is not in the logbook"),
        (lambda s: (one_file(s), said(decisions={"zero": 1.0})), "decision 'zero' is not known; did you mean 'zero_a'?"),  # noqa: E501
        (lambda s: (one_file(s), said(meters=("clamp",))), "meter 'clamp' is not in the logbook"),
        (lambda s: (one_file(s, "2024-04-13a.csv"), said()), "2024-04-13a.csv: is already in the logbook as mow 1"),  # noqa: E501
        (lambda s: (one_file(s), said(start_charge=1.4)), "mow on apple rows: start charge is 1.4; give a share"),  # noqa: E501
    ],
)  # fmt: skip
def test_bad_input_is_one_line_and_changes_nothing(
    short: Logbook, samples: Path, spoil: Callable[[Path], tuple[Any, Circumstances]], line: str
) -> None:
    before = content(short)
    files, circumstances = spoil(samples)
    with pytest.raises(InputError) as caught:
        add_mow(short, files, circumstances)
    assert str(caught.value).startswith(line)
    assert "\n" not in str(caught.value)
    assert content(short) == before


def test_every_broken_sample_is_refused_and_changes_nothing(short: Logbook, samples: Path) -> None:
    before = content(short)
    broken = sorted((samples / "broken").iterdir())
    assert len(broken) >= 8
    for path in broken:
        with pytest.raises(InputError, match=path.name):
            add_mow(short, [(path.name, path.read_bytes())], said())
    assert content(short) == before


def test_a_crash_in_the_middle_keeps_nothing(
    short: Logbook, samples: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = content(short)

    def fail(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(keeping, "keep_ahead", fail)
    with pytest.raises(KeyboardInterrupt):
        add_mow(short, one_file(samples), said(start_charge=1.0))
    assert content(short) == before


def test_an_older_mow_added_later_gives_the_same_pack(short: Logbook, samples: Path, tmp_path: Path) -> None:
    in_order = fit_of_pack(short, pack(short, "green crate"))
    with open_logbook(tmp_path / "other.sqlite") as other:
        fill_from_samples(other, samples, first=2, until=FIRST)
        fill_from_samples(other, samples, first=1, until=2)
        fill_from_samples(other, samples, first=0, until=1)
        assert same_pack(fit_of_pack(other, pack(other, "green crate")), in_order)


def test_editing_a_past_mow_refits_the_pack_from_there(short: Logbook, samples: Path) -> None:
    crate = pack(short, "green crate")
    before = fit_of_pack(short, crate)
    steps = steps_of_pack(short, crate)
    third = [mow.id for mow in mows(short, pack="green crate")][1]
    edit_mow(short, third, start_charge=0.8)
    after = fit_of_pack(short, crate)
    assert not same_pack(before, after)
    assert steps_of_pack(short, crate)[0] == steps[0]
    edit_mow(short, third, start_charge=1.0)
    assert same_pack(fit_of_pack(short, crate), before)


def test_removing_and_restoring_a_mow(short: Logbook, samples: Path, tmp_path: Path) -> None:
    crate = pack(short, "green crate")
    before = fit_of_pack(short, crate)
    first = mows(short, pack="green crate")[0].id
    remove_mow(short, first)
    without = fit_of_pack(short, crate)
    assert without.logs == before.logs - 1
    assert first not in features_of_mows(short)
    restore_mow(short, first)
    assert same_pack(fit_of_pack(short, crate), before)


def test_a_changed_pack_description_starts_the_fit_anew(short: Logbook) -> None:
    crate = pack(short, "green crate")
    keep_pack(short, Pack("nmc", 13, 12.0, 39.0, name="green crate"))
    again = fit_of_pack(short, pack(short, "green crate"))
    assert again.rated.capacity_ah == 12.0
    assert again.logs == fit_of_pack(short, pack(short, "green crate")).logs
    assert crate.capacity_ah == 10.0


def test_edited_words_need_no_readings(short: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    edit_mow(short, 1, tags=("short blades",))
    monkeypatch.setattr("estimator.answers.figures.mow_figures.log_of", _no_reading)
    monkeypatch.setattr("estimator.answers.figures.pack_chain.log_of", _no_reading)
    keep_lawn(short, Lawn("apple rows", area_m2=420.0))
    assert features_of_mows(short)[1].tags == ("short blades",)
    fit_of_pack(short, pack(short, "green crate"))


def _no_reading(*_: object) -> None:
    raise AssertionError("an old log was read again")


def test_newer_computations_are_worked_out_anew_once(short: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    before = features_of_mows(short)
    read: list[int] = []

    def counted(book: Logbook, number: int) -> Any:
        read.append(number)
        return read_again(book, number)

    monkeypatch.setattr("estimator.answers.figures.mow_figures.FEATURES_VERSION", "next")
    monkeypatch.setattr("estimator.answers.figures.mow_figures.log_of", counted)
    for _ in range(2):
        assert features_of_mows(short) == before
        assert len(read) == FIRST
    assert renew_figures(short) == FIRST
    assert len(read) == 2 * FIRST


def test_whole_fits_are_thinned_out(orchard: Logbook) -> None:
    numbers = [mow.id for mow in mows(orchard, pack="green crate")]
    kept = set(derived_of_mows(orchard, FIT, CHAIN_VERSION, numbers))
    assert kept == {numbers[place] for place in range(0, len(numbers), KEEP_EVERY)} | {*numbers[-KEEP_LAST:]}
    assert len(derived_of_mows(orchard, STEP, CHAIN_VERSION, numbers)) == len(numbers)


def test_hand_readings_are_kept_as_a_file_of_their_own(short: Logbook) -> None:
    spot = SpotNotes(typical_a=5.0, idle_a=1.5, highest_a=15.0, minutes=25.0, load_v=51.0)
    file = spot_file(spot)
    figures = add_mow(short, [file], said(started=datetime(2024, 6, 1, 10, 0), start_charge=1.0))
    assert figures.minutes == pytest.approx(25.0, rel=0.02)
    # the mean is near the typical current, somewhat lower since the logged mows of this lawn took less; the
    # highest current hardly matters
    assert figures.ah == pytest.approx(5.0 * 25 / 60, rel=0.2)
    assert figures.ah < 5.0 * 25 / 60
    assert figures.ah_std > 0.1 * figures.ah
    assert figures.mow is not None
    assert read_again(short, figures.mow).spot == spot
    with pytest.raises(InputError, match="already in the logbook"):
        add_mow(short, [file], said())


def test_a_named_meter_is_recognised_next_time(short: Logbook, samples: Path) -> None:
    from estimator.logbook import keep_meter, meter

    keep_meter(
        short, "precise clamp", {"current_gain": 0.001, "current_zero_a": 0.002, "current_noise_a": 0.001}
    )
    looked = look_at_mow(short, one_file(samples), said())
    named = add_mow(short, one_file(samples), said(meters=("precise clamp",)))
    assert named.ah_std < looked.figures.ah_std / 2
    assert meter(short, "precise clamp")["signature"]
    assert named.mow is not None
    again = read_again(short, named.mow)
    assert again.error.current_gain == pytest.approx(0.001)
    other = look_at_mow(short, one_file(samples, "2024-07-20a.csv"), said())
    assert isinstance(json.dumps(list(other.figures.notes)), str)


def test_figures_of_hand_readings_agree_with_each_other(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "own.sqlite") as logbook:
        keep_lawn(logbook, Lawn("apple rows", 420))
        keep_pack(logbook, Pack("nmc", 13, 10.0, 39.0, name="green crate"))
        said = Circumstances("apple rows", started=datetime(2025, 5, 3, 9))
        notes = SpotNotes(
            idle_a=1.4, typical_a=4.2, highest_a=13, minutes=24, rest_before_v=54.0, rest_after_v=51.9
        )
        kept = add_mow(logbook, [spot_file(notes)], said)
        assert kept.wh_per_m2 == pytest.approx(kept.wh / 420)
        assert kept.mean_w == pytest.approx(kept.wh * 60 / 24, rel=1e-6)
        story = story_of_mow(logbook, 1)
        assert (story.ah, story.ah_std) == pytest.approx((kept.ah, kept.ah_std))


def test_a_mow_kept_in_two_formats_is_told_and_names_the_other(short: Logbook, samples: Path) -> None:
    first = add_mow(short, one_file(samples), said(start_charge=1.0))
    assert first.twins == ()
    again = [("2024-06-08a.txt", (samples / "2024-06-08a.csv").read_bytes().replace(b",", b";"))]
    looked = look_at_mow(short, again, said(start_charge=1.0))
    assert looked.figures.twins == (first.mow,)
    second = add_mow(short, again, said(start_charge=1.0))
    assert second.twins == (first.mow,)
    assert second.why.cautions[0].startswith(f"Mow {first.mow} of this pack began at the same time and drew")
    assert first.mow is not None
    assert second.mow is not None
    assert story_of_mow(short, first.mow).why.cautions[0].startswith(f"Mow {second.mow} of this pack")
    remove_mow(short, second.mow)
    assert len(story_of_mow(short, first.mow).why.cautions) == 1
    assert len(story_of_mow(short, second.mow).why.cautions) == 1


def test_mows_that_only_look_alike_are_no_twins(short: Logbook, samples: Path) -> None:
    began = datetime(2024, 8, 1, 9, 0, 0)
    add_mow(short, one_file(samples), said(started=began))
    other_day = one_file(samples, "2024-07-20a.csv")
    assert look_at_mow(short, other_day, said(started=began)).figures.twins == ()  # another charge
    same = [("again.csv", one_file(samples)[0][1] + b"\n")]
    assert look_at_mow(short, same, said(started=began + timedelta(seconds=4))).figures.twins != ()
    assert look_at_mow(short, same, said(started=began + timedelta(seconds=30))).figures.twins == ()
    keep_pack(short, Pack("nmc", 13, 10.0, 39.0, name="twin crate"))
    assert look_at_mow(short, same, said(pack="twin crate", started=began)).figures.twins == ()


@pytest.mark.parametrize(
    ("started", "line"),
    [
        (
            datetime(9999, 12, 31),
            "start of the mow is 9999-12-31, which is in the future; check the year "
            f"(today is {datetime.now():%Y-%m-%d} by this computer's clock)",
        ),
        (datetime(1, 1, 1), "start of the mow is 0001-01-01, before 1990; check the year"),
        (datetime.now() + timedelta(days=3), "by this computer's clock)"),
    ],
)
def test_a_mow_began_neither_long_ago_nor_to_come(
    short: Logbook, samples: Path, started: datetime, line: str
) -> None:
    before = content(short)
    for attempt in (
        lambda: add_mow(short, one_file(samples), said(started=started)),
        lambda: edit_mow(short, 1, started=started),
    ):
        with pytest.raises(InputError) as caught:
            attempt()
        assert str(caught.value).endswith(line)
    with pytest.raises(InputError, match="day of care is "):
        note_care(short, started.date(), "sharpened")
    assert content(short) == before
    assert edit_mow(short, 1, started=datetime.now() + timedelta(hours=12)).started is not None


def test_a_mow_is_not_moved_to_a_pack_whose_volts_it_cannot_have(short: Logbook) -> None:
    keep_pack(short, Pack("nmc", 7, 10.0, 21.0, name="small box"))
    keep_pack(short, Pack("nmc", 13, 8.0, 39.0, name="other box"))
    before = content(short)
    with pytest.raises(InputError, match=r"volts of .* are not those of small box .*; name another pack"):
        edit_mow(short, 1, pack="small box")
    assert content(short) == before
    assert edit_mow(short, 1, pack="other box").pack == "other box"
