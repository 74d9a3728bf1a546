"""Which cautions are due: in each logbook a caution is shown in full once, afterwards by its topic."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

from estimator import logbook as kept
from estimator.conversion.cautions import TOPICS
from estimator.errors import LogbookError
from estimator.logbook import Logbook

SHOWN = "cautions shown"
"""The name under which the logbook notes the topics that were shown in full."""


@dataclass(frozen=True)
class DueCautions:
    """Cautions to be shown.

    whole : in full, being new to this logbook or about this answer alone; topics : of those shown before
    """

    whole: tuple[str, ...]
    topics: tuple[str, ...]


def due_cautions(logbook: Logbook, cautions: Sequence[str]) -> DueCautions:
    """The cautions of an answer as they are due in this logbook; what is shown in full is noted there.

    >>> from estimator.conversion.cautions import BLADES
    >>> from estimator.logbook import open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     first, second = (due_cautions(book, [BLADES]) for _ in range(2))
    >>> first.whole == (BLADES,), second
    (True, DueCautions(whole=(), topics=('blades',)))
    """
    topic_of = {text: topic for topic, text in TOPICS.items()}
    before = (kept.noted(logbook, SHOWN) or "").split(", ")
    whole = tuple(text for text in cautions if topic_of.get(text) not in before)
    new = [topic_of[text] for text in whole if text in topic_of]
    if new and logbook.keeps:
        with suppress(LogbookError):  # better to show it in full again than to give no answer
            kept.note(logbook, SHOWN, ", ".join([*filter(None, before), *new]))
    return DueCautions(whole, tuple(topic_of[text] for text in cautions if text not in whole))
