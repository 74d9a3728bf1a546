"""Lawns, packs, machines and meters: described once, edited with their history."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from difflib import get_close_matches
from typing import Any

import sqlalchemy as sa

from estimator.descriptions import Lawn, Machine, Pack
from estimator.errors import InputError, NotFound
from estimator.logbook import tables
from estimator.logbook.handle import Logbook
from estimator.logbook.records import derived
from estimator.logbook.records.changes import keep_change, now_utc
from estimator.logbook.records.names import check_twin, kept_name, new_name
from estimator.logbook.upkeep.checksums import canonical, verified_rows, with_sum
from estimator.written_names import known_word

DESCRIBED = {"lawn": tables.lawns, "pack": tables.packs, "machine": tables.machines, "meter": tables.meters}
"""The table of each kind of thing that is described."""


def table_of(kind: str, kinds: Sequence[str] = tuple(DESCRIBED)) -> sa.Table:
    """The table of a kind; InputError for a word that is not one of the kinds."""
    return DESCRIBED[known_word(kind, dict.fromkeys(kinds, ()), "what is described:")]


def keep_lawn(book: Logbook, lawn: Lawn) -> None:
    """Keep a new lawn, or the new description of one that is there."""
    _keep(book, "lawn", lawn.name, asdict(lawn))


def lawns(book: Logbook) -> tuple[Lawn, ...]:
    """All lawns by name."""
    return tuple(Lawn(**plain) for plain in _all(book, "lawn").values())


def lawn(book: Logbook, name: str) -> Lawn:
    """The lawn of that name; InputError with the nearest name where there is none.

    >>> from estimator.logbook import open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchard", area_m2=420))
    ...     lawn(book, "orchrad")
    Traceback (most recent call last):
    ...
    estimator.errors.NotFound: lawn 'orchrad' is not in the logbook; did you mean 'orchard'?
    """
    return Lawn(**_one(book, "lawn", name))


def keep_pack(book: Logbook, pack: Pack) -> None:
    """Keep a new pack, or the new description of one that is there."""
    plain = asdict(pack)
    if not pack.capacity_guessed:  # as packs were kept before there were guesses: nothing of them has changed
        del plain["capacity_guessed"]
    _keep(book, "pack", pack.name, plain)


def packs(book: Logbook) -> tuple[Pack, ...]:
    """All packs by name."""
    return tuple(Pack(**plain) for plain in _all(book, "pack").values())


def pack(book: Logbook, name: str) -> Pack:
    """The pack of that name; InputError with the nearest name where there is none."""
    return Pack(**_one(book, "pack", name))


def keep_machine(book: Logbook, machine: Machine) -> None:
    """Keep a new machine, or the new description of one that is there."""
    plain = {**asdict(machine), "blade_care": [day.isoformat() for day in machine.blade_care]}
    _keep(book, "machine", machine.name, plain)


def machines(book: Logbook) -> tuple[Machine, ...]:
    """All machines by name."""
    return tuple(_machine(plain) for plain in _all(book, "machine").values())


def machine(book: Logbook, name: str) -> Machine:
    """The machine of that name; InputError with the nearest name where there is none."""
    return _machine(_one(book, "machine", name))


def _machine(plain: Mapping[str, Any]) -> Machine:
    days = tuple(date.fromisoformat(day) for day in plain.get("blade_care", ()))
    return Machine(**{**plain, "blade_care": days})


def keep_meter(book: Logbook, name: str, plain: Mapping[str, Any]) -> None:
    """Keep what is known of a meter (accuracy, decisions on its files) as a plain JSON document."""
    _keep(book, "meter", name, dict(plain))


def meters(book: Logbook) -> dict[str, dict[str, Any]]:
    """All meters' documents by name."""
    return _all(book, "meter")


def meter(book: Logbook, name: str) -> dict[str, Any]:
    """The document of the meter of that name; InputError with the nearest name where there is none."""
    return _one(book, "meter", name)


def check_name(connection: sa.Connection, kind: str, name: str) -> None:
    """Raise InputError with the nearest name unless a lawn, pack, machine or meter of that name is kept."""
    table = DESCRIBED[kind]
    names = connection.scalars(sa.select(table.c.name).order_by(table.c.name)).all()
    if kept_name(name) in names:
        return
    near = get_close_matches(name.casefold(), [known.casefold() for known in names], n=1)
    if near:
        mend = f"did you mean {next(known for known in names if known.casefold() == near[0])!r}?"
    elif names:
        mend = f"there {'is' if len(names) == 1 else 'are'} {', '.join(names)}"
        mend = mend if len(names) <= 8 else f"there are {len(names)} others"
    else:
        mend = f"describe the {kind} first"
    raise NotFound(kind, name, mend=mend)


def check_text(what: str, text: str) -> None:
    """Raise InputError for what no database keeps: NUL, and half of a surrogate pair."""
    if "\0" in text:
        raise InputError(f"{what} hold a NUL character", mend="leave it out")
    try:
        text.encode()
    except UnicodeEncodeError:
        raise InputError(f"{what} hold half a character", mend="write them again") from None


def _keep(book: Logbook, kind: str, name: str, plain: Mapping[str, Any]) -> None:
    check_text(f"the words of {kind} {name!a}", name)
    name = new_name(kind, name)
    if "name" in plain:
        plain = {**plain, "name": name}
    table = DESCRIBED[kind]
    try:
        text = canonical(plain)
        text.encode()
    except (TypeError, ValueError) as error:
        raise InputError(f"{kind} {name!r} cannot be kept as JSON ({error})") from error
    with book.writing() as connection:
        before = connection.scalar(sa.select(table.c.plain).where(table.c.name == name))
        if before == text:
            return
        values = with_sum(table, {"name": name, "plain": text, "since": now_utc()})
        if before is None:
            check_twin(kind, name, connection.scalars(sa.select(table.c.name)))
            connection.execute(sa.insert(table).values(**values))
            keep_change(connection, f"{kind} {name}", "described", None, plain)
            return
        connection.execute(sa.update(table).where(table.c.name == name).values(**values))
        keep_change(connection, f"{kind} {name}", "changed", json.loads(before), plain)
        if kind == "pack":  # figures of a mow's readings rest on its pack, not on lawn or machine
            mows = tables.mows
            used = connection.scalars(sa.select(mows.c.id).where(mows.c.pack == name)).all()
            derived.forget_summaries(connection, used)
        elif kind != "meter":
            derived.forget_summaries(connection)


def _all(book: Logbook, kind: str) -> dict[str, dict[str, Any]]:
    table = DESCRIBED[kind]
    with book.reading() as connection:
        rows = verified_rows(book.where, connection, sa.select(table))
    return {row["name"]: json.loads(row["plain"]) for row in sorted(rows, key=lambda row: str(row["name"]))}


def _one(book: Logbook, kind: str, name: str) -> dict[str, Any]:
    with book.reading() as connection:
        return plain_of(book.where, connection, kind, name)


def plain_of(where: str, connection: sa.Connection, kind: str, name: str) -> dict[str, Any]:
    """What is kept of a lawn, pack, machine or meter; raises InputError as `check_name` does."""
    table = DESCRIBED[kind]
    check_name(connection, kind, name)
    chosen = sa.select(table).where(table.c.name == kept_name(name))
    plain: dict[str, Any] = json.loads(verified_rows(where, connection, chosen)[0]["plain"])
    return plain
