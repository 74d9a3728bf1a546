"""Mows: kept whole, listed, edited with a history, removed, restored, purged."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.logbook import (
    Logbook,
    add_mow,
    bytes_of,
    derived_of,
    edit_mow,
    history,
    keep_derived,
    mow,
    mows,
    mows_before,
    open_logbook,
    purge_mow,
    remove_mow,
    restore_mow,
)


def _add(book: Logbook, text: str, **said: object) -> int:
    return add_mow(book, [(f"{text}.csv", text.encode() * 50)], **{"lawn": "orchard", **said}).id  # type: ignore[arg-type]


def test_a_mow_comes_back_as_it_was_kept(book: Logbook, place: str) -> None:
    files = [("amps.csv", b"time,amps\r\n0,\xe4\n" * 30), ("volts.csv", bytes(range(256)))]
    added = add_mow(
        book, files, lawn="orchard", grass=Grass("damp", 25, 6.5), pack="new one", machine="cylinder mower",
        started=datetime(2025, 5, 1, 9, 14, 7), start_charge=1, temperature_c=17.5,
        tags=["wheel off", "blunt", "blunt"], notes="Ärger mit dem Rad",
        decisions={"longest_step_s": 20.0, "columns": {"amps": "I"}},
    )  # fmt: skip
    with open_logbook(place) as again:
        found = mow(again, added.id)
        assert found == added
        assert bytes_of(again, added.id) == files
    assert found.id == 1
    assert found.grass == Grass("damp", 25.0, 6.5)
    assert found.tags == ("wheel off", "blunt")
    assert found.started == datetime(2025, 5, 1, 9, 14, 7)
    assert found.decisions == {"longest_step_s": 20.0, "columns": {"amps": "I"}}
    assert [kept.sha256 for kept in found.files] == [hashlib.sha256(data).hexdigest() for _, data in files]
    assert [kept.size for kept in found.files] == [len(data) for _, data in files]


@pytest.mark.parametrize(
    "moment", ["2025-05-03T09:00:00", "2025-05-06T00:00:00.5", "2024-01-01T00:00:00", "9"]
)
@pytest.mark.parametrize("count", [1, 3, 20])
def test_the_latest_mows_before_a_moment_are_those_of_the_whole_list(
    book: Logbook, moment: str, count: int
) -> None:
    for k in (4, 1, 6, 3, 3, 2, 5):
        tags = ["doubtful"] if k == 2 else ["not doubtful"] if k == 1 else []
        _add(book, f"{k} {len(mows(book, doubtful=None))}", started=datetime(2025, 5, k, 9), tags=tags)
    _add(book, "undated")
    remove_mow(book, 3)
    whole = [each for each in mows(book) if each.started and each.started.isoformat() < moment]
    assert mows_before(book, moment, count) == whole[-count:]


def test_mows_are_listed_by_start_and_chosen(book: Logbook) -> None:
    late = _add(book, "a", started=datetime(2025, 12, 31, 23, 59), pack="new one", tags=["x"])
    unknown = _add(book, "b", machine="cylinder mower")
    early = _add(book, "c", started=datetime(2025, 1, 1), lawn="green")
    last_year = _add(book, "d", started=datetime(2024, 6, 1, 8), pack="old one", tags=["x", "y"])
    assert [mow.id for mow in mows(book)] == [last_year, early, late, unknown]
    assert [mow.id for mow in mows(book, season=2025)] == [early, late]
    assert [mow.id for mow in mows(book, lawn="green")] == [early]
    assert [mow.id for mow in mows(book, pack="old one")] == [last_year]
    assert [mow.id for mow in mows(book, machine="cylinder mower")] == [unknown]
    assert [mow.id for mow in mows(book, tag="x")] == [last_year, late]
    assert [mow.id for mow in mows(book, tag="x", season=2024)] == [last_year]
    assert [mow.id for mow in mows(book, since=date(2025, 1, 1), until=date(2025, 1, 1))] == [early]
    assert [mow.id for mow in mows(book, until=date(2024, 6, 1))] == [last_year]
    assert mows(book, season=2023) == []


@pytest.mark.parametrize(
    ("wrong", "line"),
    [
        ({"lawn": "orchrad"}, "lawn 'orchrad' is not in the logbook; did you mean 'orchard'?"),
        ({"lawn": "Orchard"}, "lawn 'Orchard' is not in the logbook; did you mean 'orchard'?"),
        ({"lawn": "xyz"}, "lawn 'xyz' is not in the logbook; there are green, orchard"),
        ({"pack": "ncw one"}, "pack 'ncw one' is not in the logbook; did you mean 'new one'?"),
        ({"machine": "?"}, "machine '?' is not in the logbook; there is cylinder mower"),
        ({"start_charge": 80}, "start charge is 80; give a share from 0 to 1, such as 0.8 for 80 %"),
        ({"temperature_c": 290.0}, "temperature is 290 °C; give -40 to 70 °C"),
        ({"notes": "a\0b"}, "the notes hold a NUL character; leave it out"),
    ],
)
def test_what_cannot_be_kept_is_said_in_one_line_and_nothing_is_kept(
    book: Logbook, wrong: dict[str, object], line: str
) -> None:
    with pytest.raises(InputError) as caught:
        _add(book, "a", **wrong)
    assert str(caught.value) == line
    assert mows(book) == []
    assert _add(book, "a") >= 1


def test_a_start_is_what_the_clock_on_the_wall_showed_whatever_its_zone(book: Logbook) -> None:
    east, west = timezone(timedelta(hours=2)), timezone(timedelta(hours=-5))
    for zone in (None, UTC, east, west):
        _add(book, f"in {zone}", started=datetime(2025, 5, 1, 9, tzinfo=zone))
    edit_mow(book, 1, started=datetime(2025, 5, 1, 9, tzinfo=east))
    assert {each.started for each in mows(book)} == {datetime(2025, 5, 1, 9)}


def test_an_empty_or_missing_file_is_refused(book: Logbook) -> None:
    with pytest.raises(InputError, match=r"^may\.csv: the file is empty; export it from the meter again$"):
        add_mow(book, [("may.csv", b"")], lawn="orchard")
    with pytest.raises(
        InputError, match=r"^a mow has no file; give one file, or one from each of two meters$"
    ):
        add_mow(book, [], lawn="orchard")
    with pytest.raises(InputError, match=r"^a\.csv: the same file is given twice; give it once$"):
        add_mow(book, [("a.csv", b"1"), ("b.csv", b"1")], lawn="orchard")


def test_the_same_file_is_recognised_also_renamed_and_beside_a_new_one(book: Logbook) -> None:
    add_mow(book, [("may.csv", b"time,amps")], lawn="orchard")
    with pytest.raises(
        InputError, match=r"^may\.csv: is already in the logbook as mow 1; edit mow 1 instead$"
    ):
        add_mow(book, [("may.csv", b"time,amps")], lawn="green")
    with pytest.raises(
        InputError, match=r"^june\.csv: is already in the logbook as mow 1 \(there may\.csv\); edit mow 1"
    ):
        add_mow(book, [("new.csv", b"new"), ("june.csv", b"time,amps")], lawn="green")
    assert len(mows(book)) == 1
    remove_mow(book, 1)
    with pytest.raises(InputError, match=r"mow 1, which was removed; restore mow 1, or purge it first$"):
        add_mow(book, [("may.csv", b"time,amps")], lawn="orchard")
    purge_mow(book, 1)
    assert add_mow(book, [("may.csv", b"time,amps")], lawn="orchard").id > 1


def test_edits_are_kept_with_their_history(book: Logbook) -> None:
    number = _add(book, "a", started=datetime(2025, 5, 1), grass=Grass("dry"))
    edited = edit_mow(
        book,
        number,
        lawn="green",
        grass=Grass("wet", 40),
        pack="old one",
        started=datetime(2025, 5, 2),
        notes="rain",
    )
    assert edited == mow(book, number)
    assert (edited.lawn, edited.grass, edited.pack) == ("green", Grass("wet", 40.0), "old one")
    edit_mow(book, number, lawn="green")
    added, first = history(book, number)
    assert (added.what, first.what) == ("added", "edited")
    assert first.before == {
        "lawn": "orchard", "moisture": "dry", "growth_mm": None, "pack": None,
        "started": "2025-05-01T00:00:00", "notes": "",
    }  # fmt: skip
    assert first.after is not None
    assert first.after["lawn"] == "green"
    with pytest.raises(InputError, match=r"^'files' of a mow cannot be edited; edit lawn, grass, "):
        edit_mow(book, number, files=())
    with pytest.raises(InputError, match=r"did you mean 'orchard'"):
        edit_mow(book, number, lawn="orchad")
    with pytest.raises(InputError, match=r"^a mow has no lawn; name one$"):
        edit_mow(book, number, lawn=None)
    assert edit_mow(book, number, grass=None).grass == Grass()
    with pytest.raises(InputError, match=r"^mow 99 is not in the logbook; the newest is mow 1$"):
        edit_mow(book, 99, lawn="green")


def test_removal_is_reversible_until_purged(book: Logbook) -> None:
    number = _add(book, "a", tags=["x"])
    before = mow(book, number)
    with pytest.raises(InputError, match=r"^mow 1 is in use; remove it first$"):
        purge_mow(book, number)
    remove_mow(book, number)
    assert mows(book) == []
    assert [mow.id for mow in mows(book, removed=True)] == [number]
    with pytest.raises(InputError, match=r"^mow 1 is removed already; restore brings it back$"):
        remove_mow(book, number)
    restore_mow(book, number)
    assert mow(book, number) == before
    assert [change.what for change in history(book, number)] == ["added", "removed", "restored"]
    remove_mow(book, number)
    purge_mow(book, number)
    with pytest.raises(InputError, match=r"^mow 1 is not in the logbook; none is kept yet$"):
        mow(book, number)
    with pytest.raises(InputError, match=r"^mow 1 is not in the logbook"):
        bytes_of(book, number)
    assert [change.what for change in history(book, number)] == ["purged"]
    assert _add(book, "b") == 2


def test_purging_leaves_no_trace_of_the_bytes_in_the_file(tmp_path: object) -> None:
    from pathlib import Path

    path = Path(str(tmp_path)) / "logbook.sqlite"
    from estimator.descriptions import Lawn
    from estimator.logbook import keep_lawn

    secret = hashlib.sha512(b"secret").digest()
    with open_logbook(path) as book:
        keep_lawn(book, Lawn("orchard", area_m2=420))
        number = add_mow(book, [("a.bin", secret)], lawn="orchard", notes="a gate left open").id
    assert secret in path.read_bytes()
    with open_logbook(path) as book:
        remove_mow(book, number)
        purge_mow(book, number)
    assert secret not in path.read_bytes()
    assert b"a gate left open" not in path.read_bytes()


def test_figures_are_forgotten_when_what_they_rest_on_changes(book: Logbook) -> None:
    one = add_mow(
        book, [("a", b"1")], lawn="orchard", pack="new one", derived={"features": (1, {"wh": 70.5})}
    ).id
    two = add_mow(book, [("b", b"2")], lawn="green", derived={"features": (1, {"wh": 30.25})}).id

    def seen() -> tuple[bool, bool, bool]:
        figures = (derived_of(book, one, "features", 1), derived_of(book, two, "features", 1))
        return (
            *(plain is not None for plain in figures),
            derived_of(book, "pack new one", "fit", 1) is not None,
        )

    keep_derived(book, "pack new one", "fit", 1, [1.5])
    assert seen() == (True, True, True)
    edit_mow(book, one, lawn="orchard")
    assert seen() == (True, True, True)
    edit_mow(book, one, notes="windy")
    assert seen() == (True, True, True)
    words = {"tags": ["x"], "lawn": "orchard", "machine": "cylinder mower", "started": datetime(2025, 5, 1)}
    for word in ({name: value} for name, value in {**words, "grass": Grass("wet")}.items()):
        keep_derived(book, "pack new one", "fit", 1, [1.5])
        edit_mow(book, two, **word)
        assert seen() == (True, True, False)
    reading = {
        "pack": "old one",
        "start_charge": 0.5,
        "temperature_c": 3.0,
        "decisions": {"zero_a": 1},
    }
    for edit in ({name: value} for name, value in reading.items()):
        keep_derived(book, two, "features", 1, {"wh": 30.25})
        keep_derived(book, "pack new one", "fit", 1, [1.5])
        edit_mow(book, two, **edit)
        assert seen() == (True, False, False)
    for change in (remove_mow, restore_mow, remove_mow, purge_mow):
        keep_derived(book, "pack new one", "fit", 1, [1.5])
        change(book, two)
        assert seen() == (True, False, False)


_said = st.fixed_dictionaries(
    {
        "start_charge": st.none() | st.floats(0, 1),
        "temperature_c": st.none() | st.floats(-40, 70),
        "tags": st.lists(
            st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=9)
        ),
        "notes": st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")),
        "grass": st.builds(
            Grass,
            st.sampled_from([None, "dry", "damp", "wet"]),
            st.none() | st.floats(0, 900),
            st.none() | st.floats(0, 400),
        ),
        "started": st.none() | st.datetimes(),
        "decisions": st.dictionaries(
            st.text("abc_", min_size=1), st.floats(allow_nan=False, allow_infinity=False)
        ),
    }
)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(said=_said, data=st.binary(min_size=1, max_size=2000))
def test_whatever_is_said_comes_back(book: Logbook, said: dict[str, object], data: bytes) -> None:
    data += len(mows(book)).to_bytes(4, "big")
    added = add_mow(book, [("mow.csv", data)], lawn="orchard", **said)  # type: ignore[arg-type]
    assert mow(book, added.id) == added
    assert added.notes == said["notes"]
    assert added.decisions == said["decisions"]
    assert added.started == said["started"]
    assert bytes_of(book, added.id) == [("mow.csv", data)]
