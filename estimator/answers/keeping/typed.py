"""Which lawn, pack, machine or tag is meant, even where the user does not say."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from difflib import get_close_matches
from typing import TypeVar

from estimator.descriptions import TAGS_THAT_MEAN, Lawn, Machine, Pack
from estimator.errors import InputError
from estimator.logbook import Logbook, mows
from estimator.logbook.records import descriptions as kept
from estimator.logbook.records.names import kept_tag
from estimator.mends import Give
from estimator.written import measured

_CARE = re.compile(
    r"sharpen|\blapp(ed|ing)|\b(new|changed|replaced|ground)\b.*\bblade|\bblades?\b.*\b(new|changed|replaced|ground)\b"
)

Described = TypeVar("Described", Lawn, Pack, Machine)


def the_pack(logbook: Logbook, name: str | None = None) -> Pack:
    """The pack of that name, or the only one that ever mowed: others may be described only for comparison.

    Raises InputError where several packs mowed, or where there are several and none did.
    """
    described = kept.packs(logbook)
    if name is None and len(described) > 1:
        mown = {each.pack for each in mows(logbook)}
        used = tuple(each for each in described if each.name in mown)
        described = used if len(used) == 1 else described
    return kept.pack(logbook, name) if name is not None else _the_only(described, "pack")


def the_pack_of_a_mow(logbook: Logbook, name: str | None = None) -> Pack:
    """As `the_pack`, for a mow to be kept: packs that never mowed count too, as it may be their first mow."""
    which = "{} may have done this mow: name the one that did with "
    return kept.pack(logbook, name) if name is not None else _the_only(kept.packs(logbook), "pack", which)


def the_lawn(logbook: Logbook, name: str | None = None) -> Lawn:
    """The lawn of that name, or the only one; InputError where there are several or none."""
    if name is not None:
        return kept.lawn(logbook, name)
    return _the_only(kept.lawns(logbook), "lawn")


def the_machine(logbook: Logbook, name: str | None = None) -> Machine | None:
    """The machine of that name, or the only one; None where none is described."""
    if name is not None:
        return kept.machine(logbook, name)
    machines = kept.machines(logbook)
    return _the_only(machines, "machine") if machines else None


def machine_in_use(logbook: Logbook, name: str | None = None) -> Machine | None:
    """As `the_machine`; where several are described and none is named, the one of the latest mow."""
    if name is None and len(kept.machines(logbook)) > 1:
        done = [mow for mow in mows(logbook) if mow.machine is not None]
        latest = max(done, key=lambda mow: (mow.started or datetime.max, mow.id), default=None)
        name = latest.machine if latest else None
    return the_machine(logbook, name)


def the_lawns(logbook: Logbook, names: Sequence[str] = ()) -> tuple[Lawn, ...]:
    """The lawns of those names in that order, or all; InputError for an unknown name or an empty logbook."""
    if names:
        return tuple(kept.lawn(logbook, name) for name in names)
    lawns = kept.lawns(logbook)
    if not lawns:
        raise InputError("no lawn is described yet", mend="describe one with its name and area")
    return lawns


def the_tags(words: Sequence[str]) -> tuple[str, ...]:
    """Tags as they are kept; InputError for one that is nearly a tag that answers act on."""
    tags = tuple(kept_tag(word) for word in words)
    for tag in tags:
        near = get_close_matches(tag.casefold(), TAGS_THAT_MEAN, n=1, cutoff=0.8)
        if near and tag != near[0]:
            raise InputError(f"tag {tag!r} means nothing", mend=f"write {near[0]!r}, or a word less like it")
    return tags


def care_noted(tags: Sequence[str]) -> tuple[str, ...]:
    """A sentence for tags that speak of blade care, which answers take from its days alone.

    >>> care_noted(["wet corner", "new blades"]), care_noted(["new battery", "blade stopped"])
    (("Tag 'new blades' does not count as blade care: note the day with `describe care`.",), ())
    """
    said = [tag for tag in tags if _CARE.search(tag.casefold())][:1]
    return tuple(
        f"Tag {tag!r} does not count as blade care: note the day with `describe care`." for tag in said
    )


def described_names(logbook: Logbook, kind: str) -> tuple[str, ...]:
    """Names of all lawns, packs, machines or meters; `kind` is one of these words in the singular."""
    if kind == "meter":
        return tuple(kept.meters(logbook))
    if kind == "lawn":
        return tuple(each.name for each in kept.lawns(logbook))
    if kind == "pack":
        return tuple(each.name for each in kept.packs(logbook))
    return tuple(each.name for each in kept.machines(logbook))


def _the_only(found: Sequence[Described], kind: str, mend: str = "name one of {} with ") -> Described:
    if not found:
        raise InputError(f"no {kind} is described yet", mend=f"describe the {kind} first")
    if len(found) > 1:
        names = ", ".join(each.name for each in found)
        raise InputError(f"no {kind} is named", mend=(mend.format(names), Give(kind)))
    return found[0]


_GUESS = re.compile(r"^\s*(about|around|approx\w*\.?|roughly|circa|ca\.?|~|≈)\s*|\s*\?+\s*$", re.I)


def guessed_ah(text: str, what: str = "capacity") -> tuple[float, bool]:
    """A capacity [Ah] as people write it, and whether they guess it.

    >>> guessed_ah("12,5 Ah"), guessed_ah("about 12"), guessed_ah("~12"), guessed_ah("12 Ah?")
    ((12.5, False), (12.0, True), (12.0, True), (12.0, True))
    """
    number = _GUESS.sub("", text)
    if not number.strip():
        raise InputError(f"{what} is missing", mend="give a number")
    return measured(number, what, "Ah"), number != text
