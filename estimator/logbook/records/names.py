"""Names of lawns, packs, machines and meters: how they are kept, and which are too alike."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from estimator.descriptions import TAGS_THAT_MEAN
from estimator.errors import InputError

LONGEST = 100
"""The longest name that a table on a phone still shows [characters]."""
_JOINER = "\u200d"  # joins the parts of a composed emoji
_UNSEEN = ("Cc", "Cf", "Cs", "Zl", "Zp")


def kept_name(name: str) -> str:
    """A name as it is kept: with composed characters, single blanks, and no blanks around it.

    >>> kept_name(" cafe\u0301  garden ") == "caf\u00e9 garden"
    True
    """
    return re.sub(" +", " ", unicodedata.normalize("NFC", name)).strip(" ")


def kept_tag(tag: str) -> str:
    """A tag as it is kept: one that answers act on is known whatever its capitals.

    >>> kept_tag("Ran  out"), kept_tag("New cable")
    ('ran out', 'New cable')
    """
    kept = kept_name(tag)
    return kept.casefold() if kept.casefold() in TAGS_THAT_MEAN else kept


def new_name(kind: str, name: str) -> str:
    """The name of something new, as it is kept; InputError for a name that no list could show.

    >>> new_name("lawn", "a" * 101)
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: lawn 'aaaaaaaaaaaaaaaaaaaa'... has 101 characters; use up to 100
    """
    kept = kept_name(name)
    if not kept:
        raise InputError(f"a {kind} has no name", mend="give it one")
    if len(kept) > LONGEST:
        raise InputError(f"{kind} {kept[:20]!r}... has {len(kept)} characters", mend=f"use up to {LONGEST}")
    if any(unicodedata.category(c) in _UNSEEN and c != _JOINER for c in kept):
        raise InputError(f"{kind} {kept!a} holds a character that is not seen", mend="write its name again")
    return kept


def check_twin(kind: str, name: str, names: Iterable[str]) -> None:
    """Raise InputError where a new name differs from a kept one only in capitals: mows would be divided."""
    twin = next((known for known in names if known.casefold() == name.casefold()), None)
    if twin is not None and twin != name:
        raise InputError(
            f"{kind} {name!r} differs from {twin!r} in capitals only", mend=f"write {twin!r}, or another name"
        )
