"""A lawn, pack, machine or meter under another name, merged into another, or deleted."""

from __future__ import annotations

import sqlalchemy as sa

from estimator.errors import InputError
from estimator.logbook import tables
from estimator.logbook.handle import Logbook
from estimator.logbook.records.changes import MERGED, RENAMED, keep_change, update_summed
from estimator.logbook.records.derived import forget_summaries
from estimator.logbook.records.descriptions import check_text, plain_of, table_of
from estimator.logbook.records.names import check_twin, kept_name, new_name
from estimator.logbook.upkeep.checksums import canonical, verified_rows, with_sum

_NAMING = {
    "lawn": (tables.mows,),
    "pack": (tables.mows,),
    "machine": (tables.mows, tables.events),
    "meter": (),
}


def rename(book: Logbook, kind: str, name: str, new: str) -> str:
    """Give a lawn, pack, machine or meter another name; returns the new name as it is kept.

    kind : "lawn", "pack", "machine" or "meter"
    Its mows and events follow; no figure of a mow has to be worked out again.

    Raises InputError for a name that is not there, and for a new name that is taken or cannot be shown.

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import add_mow, history, keep_lawn, mow, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchrad", area_m2=420))
    ...     _ = add_mow(book, [("mow.csv", b"1")], lawn="orchrad")
    ...     rename(book, "lawn", "orchrad", "orchard")
    ...     mow(book, 1).lawn, [change.what for change in history(book, "lawn orchard")]
    'orchard'
    ('orchard', ['described', 'renamed'])
    """
    check_text(f"the words of {kind} {new!a}", new)
    old, new, table = kept_name(name), new_name(kind, new), table_of(kind)
    with book.writing() as connection:
        before = plain_of(book.where, connection, kind, old)
        if new == old:
            return new
        others = [each for each in connection.scalars(sa.select(table.c.name)) if each != old]
        if new in others:
            raise InputError(f"{kind} {new!r} is in the logbook already", mend="choose another name")
        check_twin(kind, new, others)
        plain = {**before, "name": new} if "name" in before else before
        since = connection.scalar(sa.select(table.c.since).where(table.c.name == old))
        values = {"name": new, "plain": canonical(plain), "since": since}
        connection.execute(sa.insert(table).values(**with_sum(table, values)))
        _name_anew(book.where, connection, kind, old, new)
        connection.execute(sa.delete(table).where(table.c.name == old))
        keep_change(connection, f"{kind} {new}", RENAMED, {**before, "name": old}, {**before, "name": new})
        forget_summaries(connection)
    return new


def merge(book: Logbook, kind: str, name: str, into: str) -> int:
    """Move the mows of a lawn, pack or machine to another one and delete it; returns how many mows moved.

    Figures of mows that rest on their pack are dropped, to be worked out again.

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import add_mow, keep_lawn, lawns, mow, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     for each in ("orchard", "orchard old"):
    ...         keep_lawn(book, Lawn(each, area_m2=420))
    ...     _ = add_mow(book, [("mow.csv", b"1")], lawn="orchard old")
    ...     merge(book, "lawn", "orchard old", "orchard"), mow(book, 1).lawn, len(lawns(book))
    (1, 'orchard', 1)
    """
    old, new, table = kept_name(name), kept_name(into), table_of(kind, ("lawn", "pack", "machine"))
    with book.writing() as connection:
        before, kept = (plain_of(book.where, connection, kind, each) for each in (old, new))
        if old == new:
            raise InputError(f"{kind} {old!r} cannot be merged into itself", mend="name two")
        moved = _name_anew(book.where, connection, kind, old, new)
        connection.execute(sa.delete(table).where(table.c.name == old))
        keep_change(connection, f"{kind} {new}", MERGED, {**before, "name": old}, {**kept, "name": new})
        forget_summaries(connection, moved if kind == "pack" else ())
    return len(moved)


def delete(book: Logbook, kind: str, name: str) -> None:
    """Delete a lawn, pack, machine or meter that nothing refers to; its description stays in the history.

    Raises InputError where a mow (even a removed one) or an event refers to it.

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import add_mow, keep_lawn, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("verge", area_m2=420))
    ...     _ = add_mow(book, [("mow.csv", b"1")], lawn="verge")
    ...     delete(book, "lawn", "verge")
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: lawn 'verge' is used by mow 1; merge it into another one, or edit that first
    """
    gone, table = kept_name(name), table_of(kind)
    with book.writing() as connection:
        before = plain_of(book.where, connection, kind, gone)
        for naming in _NAMING[kind]:
            of = connection.scalars(sa.select(naming.c.id).where(naming.c[kind] == gone)).all()
            if of:
                what = "mow" if naming is tables.mows else "event"
                said = f"{what} {of[0]}" if len(of) == 1 else f"{len(of)} {what}s"
                raise InputError(
                    f"{kind} {gone!r} is used by {said}",
                    mend=f"merge it into another one, or edit {'that' if len(of) == 1 else 'those'} first",
                )
        connection.execute(sa.delete(table).where(table.c.name == gone))
        keep_change(connection, f"{kind} {gone}", "deleted", before)
        forget_summaries(connection)


def _name_anew(where: str, connection: sa.Connection, kind: str, old: str, new: str) -> list[int]:
    """Make everything that refers to the old name refer to the new one; returns the numbers of its mows."""
    moved: list[int] = []
    for naming in _NAMING[kind]:
        for used in verified_rows(where, connection, sa.select(naming).where(naming.c[kind] == old)):
            update_summed(connection, naming, {**used, kind: new})
            moved += [used["id"]] if naming is tables.mows else []
    return moved
