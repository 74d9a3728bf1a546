"""Damage in one place of kept bytes is mended from their guard, and checked against their SHA-256."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from estimator.errors import LogbookError
from estimator.logbook import Logbook, add_mow, bytes_of, check, mows, open_logbook, salvage
from estimator.logbook.tables import file_bytes
from estimator.logbook.upkeep.parity import BLOCK, guard_of, mended


@given(st.binary(max_size=3 * BLOCK), st.data())
def test_any_damage_within_a_block_is_mended(data: bytes, drawn: st.DataObject) -> None:
    guard = guard_of(data)
    assert mended(data, guard) == data
    if not data:
        return
    block = drawn.draw(st.integers(0, (len(data) - 1) // BLOCK))
    end = min(len(data), (block + 1) * BLOCK)
    other = drawn.draw(st.binary(min_size=end - block * BLOCK, max_size=end - block * BLOCK))
    assert mended(data[: block * BLOCK] + other + data[end:], guard) == data


def test_damage_in_two_blocks_is_not_guessed_at() -> None:
    data = random.Random(1).randbytes(1000)
    damaged = bytes([data[0] ^ 1]) + data[1:-1] + bytes([data[-1] ^ 1])
    assert mended(damaged, guard_of(data)) is None
    assert mended(data[:-300], guard_of(data)) is None
    assert mended(bytes([data[0] ^ 1]) + data[1:], b"\0" * BLOCK) is None


def _flip(book: Logbook, column: str, bits: list[int]) -> None:
    with book.writing() as connection:
        held = bytearray(connection.execute(sa.select(file_bytes.c[column])).scalar_one())
        for bit in bits:
            held[bit // 8] ^= 1 << bit % 8
        connection.execute(sa.update(file_bytes).values({column: bytes(held)}))


@pytest.mark.parametrize(
    "data", [b"time,amps\n" * 900, random.Random(2).randbytes(5000)], ids=["bz2", "plain"]
)
def test_flipped_bits_change_no_answer_and_are_mended_by_a_check(book: Logbook, data: bytes) -> None:
    add_mow(book, [("a.csv", data)], lawn="orchard")
    rng = random.Random(3)
    with book.reading() as connection:
        size = 8 * len(connection.execute(sa.select(file_bytes.c.packed)).scalar_one())
    for _ in range(10):
        _flip(book, "packed", [rng.randrange(size)])
        assert bytes_of(book, 1) == [("a.csv", data)], "what is asked meanwhile is right already"
        found = check(book)
        assert found.mended == ("mow 1: the bytes of a.csv were damaged and are whole again",)
        assert found.problems == ()
        assert check(book).mended == ()
    _flip(book, "guard", [5])
    assert check(book).mended == ("mow 1: what guards the bytes of a.csv was damaged and is whole again",)
    assert check(book).mended == ()


def test_damage_in_two_places_is_told_and_not_guessed_at(book: Logbook) -> None:
    add_mow(book, [("a.csv", random.Random(4).randbytes(5000))], lawn="orchard")
    _flip(book, "packed", [0, 8 * 4000])
    assert check(book).problems == ("mow 1: the bytes of a.csv do not match their checksum",)
    with pytest.raises(LogbookError, match="are damaged; restore a backup, or repair them"):
        bytes_of(book, 1)


def test_salvage_mends_what_it_can(tmp_path: Path, describe_in: Callable[[str], None]) -> None:
    data = random.Random(5).randbytes(5000)
    describe_in(str(tmp_path / "old.sqlite"))
    with open_logbook(tmp_path / "old.sqlite") as book:
        add_mow(book, [("a.csv", data)], lawn="orchard")
        _flip(book, "packed", [17_000])
    assert salvage(tmp_path / "old.sqlite", tmp_path / "new.sqlite").notes == ()
    with open_logbook(tmp_path / "new.sqlite") as book:
        assert bytes_of(book, mows(book)[0].id) == [("a.csv", data)]
        assert check(book).mended == ()
