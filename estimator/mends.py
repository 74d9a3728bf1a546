"""What mends an error or overrules a decision: words mixed with things to give, worded by each door."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Give:
    """What a mend asks for: each door words it as its own option, field or argument.

    name : as the library's functions call it; value : what to give, in capitals where only the user knows it,
    None where the name says enough; quantity : for `columns`, whose column it is

    >>> str(Give("day_first", False)), str(Give("columns", "3[mA]", "current")), str(Give("started"))
    ('day_first=False', "columns={'current': '3[mA]'}", 'started')
    """

    name: str
    value: str | float | bool | None = None
    quantity: str = ""

    @classmethod
    def column(cls, quantity: str, value: str) -> Give:
        """The column of a quantity: its title or number, with the unit in brackets where it must be said."""
        return cls("columns", value, quantity)

    @property
    def plain_value(self) -> str:
        """The value as people write it: yes or no, 0.5, or the words themselves."""
        if isinstance(self.value, bool):
            return "yes" if self.value else "no"
        return f"{self.value:g}" if isinstance(self.value, float) else str(self.value)

    def __str__(self) -> str:
        value = {self.quantity: self.value} if self.quantity else self.value
        return self.name if self.value is None else f"{self.name}={value}"


Mend = tuple[str | Give, ...]
"""Words mixed with things to give, in order."""
Door = Callable[[Give], str]
"""How the command line, a page or the interface words a thing to give."""


class Note(str):
    """A sentence on what was decided, with the mend that overrules it; as a str it has the library's words.

    >>> note = Note("taken as day first", (Give("day_first", False), " overrules it"))
    >>> note, note.worded(lambda give: "the box")
    ('taken as day first; day_first=False overrules it.', 'taken as day first; the box overrules it.')
    """

    words: str
    mend: Mend

    def __new__(cls, words: str, mend: Mend) -> Note:
        """`words` end without a full stop, and the mend follows them."""
        self = super().__new__(cls, f"{words}; {worded(mend)}.")
        self.words, self.mend = words, mend
        return self

    def __getnewargs__(self) -> tuple[str, Mend]:  # type: ignore[override]
        """What a copy is made of, in this process or another."""
        return self.words, self.mend

    def worded(self, door: Door) -> str:
        """The sentence in the words of a door."""
        return f"{self.words}; {worded(self.mend, door)}."


def worded(mend: str | Mend, door: Door = str) -> str:
    """A mend in the words of a door.

    >>> worded(("say it with ", Give("started")), lambda give: f"the field {give.name}")
    'say it with the field started'
    """
    return mend if isinstance(mend, str) else "".join(p if isinstance(p, str) else door(p) for p in mend)


def of_file(name: str, notes: Sequence[str]) -> tuple[str, ...]:
    """Notes that name the one of several files they are about."""
    return tuple(Note(f"{name}: {n.words}", n.mend) if isinstance(n, Note) else f"{name}: {n}" for n in notes)


def worded_for(notes: Sequence[str], door: Door) -> tuple[str, ...]:
    """Notes in the words of a door."""
    return tuple(note.worded(door) if isinstance(note, Note) else note for note in notes)


def settled(text: str) -> str:
    """A note on what is already kept, without its mend: how it could have been read no longer matters.

    >>> settled(Note("taken as day first", (Give("day_first", False), " overrules it")))
    'taken as day first.'
    """
    return f"{text.words}." if isinstance(text, Note) else text
