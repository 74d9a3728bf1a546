"""Descriptions and events, with their history; derived figures by version."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from estimator.descriptions import Lawn, Machine, Pack
from estimator.errors import InputError, LogbookError
from estimator.logbook import (
    Event,
    Logbook,
    add_mow,
    derived_of,
    derived_of_mows,
    events_of,
    forget_derived,
    history,
    keep_derived,
    keep_event,
    keep_lawn,
    keep_machine,
    keep_meter,
    keep_pack,
    lawn,
    lawns,
    machine,
    meter,
    meters,
    open_logbook,
    pack,
    packs,
    remove_event,
    remove_mow,
)


def test_descriptions_come_back_as_they_were_kept(book: Logbook, place: str) -> None:
    mower = Machine("cylinder mower", 0.43, 1.1, 600, (date(2024, 4, 1), date(2025, 4, 5)))
    strong = Pack(
        "nmc", 13, 12.5, 39.0, current_limit_a=40, resistance_ohm=0.09, hold_s=0.5, string_ah=2.5, name="ü"
    )
    keep_machine(book, mower)
    keep_pack(book, strong)
    keep_meter(book, "clamp", {"current_gain": 0.02, "columns": ["t", "I"]})
    with open_logbook(place) as again:
        assert machine(again, "cylinder mower") == mower
        assert pack(again, "ü") == strong
        assert [kept.name for kept in packs(again)] == ["new one", "old one", "ü"]
        assert lawns(again) == (Lawn("green", 260), Lawn("orchard", 420))
        assert (
            meter(again, "clamp") == meters(again)["clamp"] == {"current_gain": 0.02, "columns": ["t", "I"]}
        )


def test_a_guess_is_kept_and_a_label_is_kept_as_it_always_was(book: Logbook, place: str) -> None:
    """What is written of a labelled pack is what earlier versions wrote: nothing of it has changed."""
    crate = Pack("nmc", 13, 12.0, 39.0, name="crate", capacity_guessed=True)
    keep_pack(book, crate)
    with open_logbook(place) as again:
        assert pack(again, "crate") == crate
    keep_pack(book, replace(crate, capacity_guessed=False))
    assert pack(book, "crate").capacity_guessed is False
    before, after = history(book, "pack crate")[-1].before, history(book, "pack crate")[-1].after
    assert before is not None and before["capacity_guessed"] is True
    assert after is not None and "capacity_guessed" not in after


def test_a_description_is_edited_with_its_history(book: Logbook) -> None:
    keep_lawn(book, Lawn("orchard", 435))
    keep_lawn(book, Lawn("orchard", 435))
    assert lawn(book, "orchard").area_m2 == 435
    described, changed = history(book, "lawn orchard")
    assert (described.what, described.before, described.after) == (
        "described",
        None,
        {"name": "orchard", "area_m2": 420},
    )
    assert (changed.what, changed.before, changed.after) == (
        "changed", {"name": "orchard", "area_m2": 420}, {"name": "orchard", "area_m2": 435},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("ask", "line"),
    [
        (lambda book: lawn(book, "gren"), "lawn 'gren' is not in the logbook; did you mean 'green'?"),
        (lambda book: pack(book, "zzz"), "pack 'zzz' is not in the logbook; there are new one, old one"),
        (lambda book: meter(book, "clamp"), "meter 'clamp' is not in the logbook; describe the meter first"),
        (lambda book: keep_meter(book, " ", {}), "a meter has no name; give it one"),
        (
            lambda book: keep_event(book, "May day", "care"),
            "date 'May day' cannot be read; write it as 2025-05-01 or 2025-05-01T09:30, or as 12 Sep 2026, "
            "yesterday or 9:30",
        ),
        (lambda book: remove_event(book, 5), "event 5 is not in the logbook; list the events"),
        (
            lambda book: keep_lawn(book, Lawn("a\0b", 5)),
            "the words of lawn 'a\\x00b' hold a NUL character; leave it out",
        ),
        (
            lambda book: keep_lawn(book, Lawn("\ud800", 5)),
            "the words of lawn '\\ud800' hold half a character; write them again",
        ),
        (
            lambda book: keep_meter(book, "m", {"a": float("nan")}),
            "meter 'm' cannot be kept as JSON (Out of range float values are not JSON compliant)",
        ),
    ],
)
def test_what_is_not_there_or_cannot_be_kept_is_one_line(book: Logbook, ask: object, line: str) -> None:
    with pytest.raises(InputError) as caught:
        ask(book)  # type: ignore[operator]
    assert str(caught.value).replace("compliant: nan", "compliant") == line, "Python 3.13 says the value too"


def test_a_changed_description_forgets_the_figures_that_rest_on_it(book: Logbook) -> None:
    said: dict[str, str] = {"lawn": "orchard", "machine": "cylinder mower"}
    one = add_mow(book, [("a", b"1")], **said, pack="new one", derived={"features": (1, 1)}).id  # type: ignore[arg-type]
    two = add_mow(book, [("b", b"2")], **said, pack="old one", derived={"features": (1, 2)}).id  # type: ignore[arg-type]
    changed = Pack(chemistry="nmc", series=13, capacity_ah=11.0, cut_off_v=39.0, name="new one")

    def kept_after(change: Callable[[], None]) -> tuple[dict[int, Any], Any]:
        keep_derived(book, "all lawns", "profile", 1, 3)
        change()
        return derived_of_mows(book, "features", 1), derived_of(book, "all lawns", "profile", 1)

    assert kept_after(lambda: keep_lawn(book, Lawn("orchard", 420))) == ({one: 1, two: 2}, 3)
    assert kept_after(lambda: keep_lawn(book, Lawn("orchard", 421))) == ({one: 1, two: 2}, None)
    machine_changed = Machine("cylinder mower", cutting_width_m=0.5)
    assert kept_after(lambda: keep_machine(book, machine_changed)) == ({one: 1, two: 2}, None)
    assert kept_after(lambda: keep_meter(book, "clamp", {"current_gain": 0.02})) == ({one: 1, two: 2}, 3)
    assert kept_after(lambda: keep_pack(book, changed)) == ({two: 2}, None)


def test_figures_are_kept_by_version(book: Logbook) -> None:
    one = add_mow(
        book, [("a", b"1")], lawn="orchard", derived={"features": ("a1", {"b": [1.5, None, "ü"]})}
    ).id
    two = add_mow(book, [("b", b"2")], lawn="orchard").id
    assert derived_of(book, one, "features", "a1") == {"b": [1.5, None, "ü"]}
    assert derived_of(book, one, "features", "a2") is None
    keep_derived(book, two, "features", "a1", 7)
    assert derived_of_mows(book, "features", "a1") == {one: {"b": [1.5, None, "ü"]}, two: 7}
    assert derived_of_mows(book, "features", "a1", [two]) == {two: 7}
    keep_derived(book, two, "features", "a2", 8)
    assert derived_of(book, two, "features", "a1") is None
    remove_mow(book, one)
    assert derived_of_mows(book, "features", "a1") == {}
    assert list(derived_of_mows(book, "features", "a1", [one])) == [one]
    forget_derived(book, one)
    assert derived_of_mows(book, "features", "a1", [one]) == {}
    forget_derived(book, kind="features")
    assert derived_of(book, two, "features", "a2") is None


def test_damaged_figures_are_said_in_one_line(book: Logbook) -> None:
    import sqlalchemy as sa

    from estimator.logbook.tables import derived

    keep_derived(book, "pack new one", "fit", 1, [1, 2])
    with book.writing() as connection:
        connection.execute(sa.update(derived).values(packed=b"x\x9cnothing"))
    with pytest.raises(LogbookError, match=r"the kept figures of pack new one are damaged; work them out"):
        derived_of(book, "pack new one", "fit", 1)


def test_events_are_kept_by_date_and_machine(book: Logbook) -> None:
    keep_machine(book, Machine("other"))
    late = keep_event(book, date(2025, 5, 1), "blade care", "sharpened", "cylinder mower")
    early = keep_event(book, "2024-05-01", "new cable", "4 mm²")
    other = keep_event(book, "2024-06-01", "blade care", machine="other")
    assert [event.id for event in events_of(book)] == [early, other, late]
    assert events_of(book, kind="blade care") == (
        Event(other, date(2024, 6, 1), "blade care", "", "other"),
        Event(late, date(2025, 5, 1), "blade care", "sharpened", "cylinder mower"),
    )
    remove_event(book, late)
    assert [event.id for event in events_of(book)] == [early, other]
    with pytest.raises(InputError, match=r"^machine 'othr' is not in the logbook; did you mean 'other'\?$"):
        keep_event(book, "2024-06-01", "blade care", machine="othr")


def test_an_error_undoes_the_whole_transaction(book: Logbook) -> None:
    with pytest.raises(InputError), book.writing():
        keep_lawn(book, Lawn("paddock", 900))
        add_mow(book, [("a", b"1")], lawn="paddock")
        lawn(book, "paddok")
    assert [kept.name for kept in lawns(book)] == ["green", "orchard"]
