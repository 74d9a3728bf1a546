"""A lawn, pack, machine or meter under another name, with all its mows and its history."""

from __future__ import annotations

import json

import sqlalchemy as sa

from estimator.errors import InputError
from estimator.logbook import tables
from estimator.logbook.handle import Logbook, mappings
from estimator.logbook.records.changes import RENAMED, keep_change
from estimator.logbook.records.derived import forget_summaries
from estimator.logbook.records.descriptions import DESCRIBED, check_name, check_text
from estimator.logbook.records.names import check_twin, kept_name, new_name
from estimator.logbook.upkeep.checksums import canonical, row_sum, verified, with_sum

_NAMING = {
    "lawn": (tables.mows,),
    "pack": (tables.mows,),
    "machine": (tables.mows, tables.events),
    "meter": (),
}


def rename(book: Logbook, kind: str, name: str, new: str) -> str:
    """Give a lawn, pack, machine or meter another name; returns it as it is kept.

    kind : "lawn", "pack", "machine" or "meter"
    Its mows and events name it anew; no figure of a mow has to be worked out again.

    Raises InputError for a name that is not there, and for a new one that is taken or cannot be shown.

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
    old, new, table = kept_name(name), new_name(kind, new), DESCRIBED[kind]
    with book.writing() as connection:
        check_name(connection, kind, old)
        if new == old:
            return new
        others = [each for each in connection.scalars(sa.select(table.c.name)) if each != old]
        if new in others:
            raise InputError(f"{kind} {new!r} is in the logbook already", mend="choose another name")
        check_twin(kind, new, others)
        (row,) = mappings(connection, sa.select(table).where(table.c.name == old))
        before = json.loads(verified(book.where, table, row)["plain"])
        plain = {**before, "name": new} if "name" in before else before
        values = {**row, "name": new, "plain": canonical(plain)}
        connection.execute(sa.insert(table).values(**with_sum(table, values)))
        for naming in _NAMING[kind]:
            for used in mappings(connection, sa.select(naming).where(naming.c[kind] == old)):
                changed = {**verified(book.where, naming, used), kind: new}
                changed["sum"] = row_sum(naming, changed)
                connection.execute(sa.update(naming).where(naming.c.id == used["id"]).values(**changed))
        connection.execute(sa.delete(table).where(table.c.name == old))
        keep_change(connection, f"{kind} {new}", RENAMED, {**before, "name": old}, {**before, "name": new})
        forget_summaries(connection)
    return new
