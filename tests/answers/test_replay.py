"""The replay keeps a row with each mow: where nothing new bears on it, it is not predicted again."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from estimator.answers.figures.mow_figures import FEATURES, FEATURES_VERSION, features_of_mows
from estimator.answers.figures.replay import PREDICTED, replay
from estimator.answers.keeping.changing import edit_mow
from estimator.answers.looking_back.track_record import record_so_far
from estimator.descriptions import Grass, Lawn
from estimator.errors import InputError
from estimator.logbook import Logbook, add_mow, derived_of, forget_derived, keep_lawn, mow, mows, remove_mow
from estimator.logbook.records.derived import keep_derived
from estimator.predictor import track_record as library


@pytest.fixture
def orchard(orchard: Logbook) -> Logbook:
    """The orchard's logbook as if its mows had never been replayed."""
    forget_derived(orchard, kind=PREDICTED)
    return orchard


@pytest.fixture
def predicted(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many mows were known to each prediction."""
    known: list[int] = []
    predict = library.predict

    def counted(profile: Any, earlier: Any, *more: Any) -> Any:
        known.append(len(earlier))
        return predict(profile, earlier, *more)

    monkeypatch.setattr(library, "predict", counted)
    return known


def add_one(book: Logbook, started: datetime) -> int:
    """A mow with the figures of the first: what a replay sees of it."""
    like = mows(book)[0]
    figures = {FEATURES: (FEATURES_VERSION, derived_of(book, like.id, FEATURES, FEATURES_VERSION))}
    data = f"invented, {started}".encode()
    return add_mow(
        book, [("a.csv", data)], lawn=like.lawn, grass=like.grass, started=started, tags=like.tags,
        derived=figures,
    ).id  # fmt: skip


def from_the_beginning(book: Logbook) -> tuple[library.Predicted, ...]:
    forget_derived(book, kind=PREDICTED)
    return replay(book, features_of_mows(book))


def whole(book: Logbook) -> list[int]:
    return [number for number, one in features_of_mows(book).items() if one.whole]


def test_rows_are_kept(orchard: Logbook, predicted: list[int]) -> None:
    first = record_so_far(orchard)
    assert predicted == list(range(1, len(whole(orchard))))
    predicted.clear()
    assert record_so_far(orchard) == first
    assert record_so_far(orchard, last=3).predicted == first.predicted[-3:]
    assert predicted == []


def test_one_more_mow_costs_one_row(orchard: Logbook, predicted: list[int]) -> None:
    before = record_so_far(orchard)
    predicted.clear()
    add_one(orchard, datetime(2031, 5, 1, 9))
    after = record_so_far(orchard)
    assert predicted == [len(before.predicted) + 1]
    assert after.predicted[:-1] == before.predicted
    again = from_the_beginning(orchard)
    assert again == after.predicted
    summed = library.sum_up(again, 0.90)
    assert (summed.held, summed.miss) == (after.held, after.miss)


def wetter(book: Logbook, number: int) -> None:
    edit_mow(book, number, grass=Grass("wet", 60.0))


def other_energy(book: Logbook, number: int) -> None:
    figures = derived_of(book, number, FEATURES, FEATURES_VERSION)
    keep_derived(book, number, FEATURES, FEATURES_VERSION, {**figures, "energy_wh": 123.0})


@pytest.mark.parametrize(
    ("edit", "place"),
    [
        (wetter, 0),
        (wetter, 20),
        (wetter, -1),
        (remove_mow, 0),
        (remove_mow, 9),
        (remove_mow, -1),
        (other_energy, 9),
    ],
)
def test_an_edit_costs_the_rows_from_there(
    orchard: Logbook, predicted: list[int], edit: Any, place: int
) -> None:
    before = record_so_far(orchard)
    place %= len(whole(orchard))
    predicted.clear()
    edit(orchard, whole(orchard)[place])
    after = replay(orchard, features_of_mows(orchard))
    assert predicted == list(range(max(place, 1), len(whole(orchard))))
    assert after[: max(place - 1, 0)] == before.predicted[: max(place - 1, 0)]
    assert from_the_beginning(orchard) == after


def test_a_mow_put_in_between_costs_the_rows_from_there(orchard: Logbook, predicted: list[int]) -> None:
    record_so_far(orchard)
    predicted.clear()
    fifth = mow(orchard, whole(orchard)[4]).started
    assert fifth is not None
    number = add_one(orchard, fifth)
    after = record_so_far(orchard)
    place = whole(orchard).index(number)
    assert predicted == list(range(place, len(whole(orchard))))
    assert from_the_beginning(orchard) == after.predicted


def test_a_lawn_measured_anew_costs_the_rows_after_it_was_mown(
    orchard: Logbook, predicted: list[int]
) -> None:
    first = record_so_far(orchard)
    predicted.clear()
    keep_lawn(orchard, Lawn("apple rows", area_m2=500))
    assert record_so_far(orchard) != first
    mown = next(
        place for place, number in enumerate(whole(orchard)) if mow(orchard, number).lawn == "apple rows"
    )
    assert predicted == list(range(max(mown, 1), len(whole(orchard))))


def test_another_question_leaves_the_kept_rows_alone(orchard: Logbook, predicted: list[int]) -> None:
    first = record_so_far(orchard)
    assert record_so_far(orchard, level=0.5).held < first.held
    record_so_far(orchard, machine="cylinder mower", last=4)
    predicted.clear()
    assert record_so_far(orchard) == first
    assert predicted == []


def test_what_is_only_read_is_told_the_same(orchard: Logbook, predicted: list[int]) -> None:
    only_read = replay(replace(orchard, read_only=True), features_of_mows(orchard))
    predicted.clear()
    assert replay(orchard, features_of_mows(orchard)) == only_read
    assert len(predicted) == len(only_read)


def test_who_gives_up_waiting_keeps_what_was_worked_out(
    orchard: Logbook, predicted: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("estimator.answers.figures.replay.KEPT_AT_ONCE", 5)
    counted = library.predict

    def impatient(profile: Any, earlier: Any, *more: Any) -> Any:
        if len(earlier) == 18:
            raise KeyboardInterrupt
        return counted(profile, earlier, *more)

    monkeypatch.setattr(library, "predict", impatient)
    with pytest.raises(KeyboardInterrupt):
        record_so_far(orchard)
    monkeypatch.setattr(library, "predict", counted)
    predicted.clear()
    record_so_far(orchard)
    assert predicted[0] == 16


def test_mows_do_not_share_their_luck(orchard: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    """Mows draw different first numbers; one mow draws the same number whenever it is predicted."""
    drawn: list[float] = []
    predict = library.predict

    def drawing(*said: Any) -> Any:
        state = said[-1].bit_generator.state
        drawn.append(said[-1].random())
        said[-1].bit_generator.state = state
        return predict(*said)

    monkeypatch.setattr(library, "predict", drawing)
    record = replay(orchard, features_of_mows(orchard))
    assert len(set(drawn)) == len(record)
    all_drawn, drawn[:] = drawn[:], []
    forget_derived(orchard, kind=PREDICTED)
    replay(orchard, features_of_mows(orchard), last=2)
    assert drawn == all_drawn[-2:]


def test_a_level_that_is_none(orchard: Logbook) -> None:
    with pytest.raises(InputError, match=r"level is 90; give a chance between 0 and 1, such as 0.9"):
        record_so_far(orchard, level=90)
