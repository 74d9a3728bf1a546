"""Names of chemistries, moistures and mowers as people write them (common practice)."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from difflib import get_close_matches

from estimator.errors import InputError

CHEMISTRY_NAMES = {
    "nmc": ("ncm", "li nmc", "lithium nmc", "linimncoo2", "nickel manganese cobalt"),
    "nca": ("linicoalo2", "nickel cobalt aluminium"),
    "lco": ("lipo", "lithium polymer", "licoo2", "lithium cobalt"),
    "lfp": ("lifepo4", "life", "lithium iron phosphate", "iron phosphate", "lithium iron"),
    "lithium": ("liion", "lithium ion", "li ion", "18650", "21700"),
    "lead_acid": (
        "lead",
        "agm",
        "gel",
        "sla",
        "vrla",
        "pb",
        "flooded",
        "flooded lead",
        "flooded lead acid",
        "wet cell",
        "car battery",
    ),
}
MOISTURE_NAMES = {
    "dry": ("bone dry", "dusty"),
    "damp": ("moist", "dewy", "dew", "half dry", "half wet", "a bit wet", "slightly wet", "wettish"),
    "wet": ("soaked", "soaking", "dripping", "rain", "rainy", "sodden"),
}
MOWER_NAMES = {
    "cylinder": ("reel", "reel mower", "cylinder mower", "barrel"),
    "rotary": ("rotary mower", "rotor", "blade"),
    "flail": ("flail mower", "hammer", "hammers", "knives"),
}
_HEDGES = re.compile(
    r"\b(a bit|a little|slightly|rather|quite|very|fairly|mostly|almost|somewhat|kind of)\b|\b ish\b|ish\b"
)


def known_word(word: str, names: Mapping[str, Sequence[str]], what: str) -> str:
    """The word that is kept for what a person wrote.

    names : the words that are kept, each with its other names; what : for the error, such as "chemistry"

    Raises InputError, naming the nearest word, for one that is not understood.

    >>> known_word("LiFePO4", CHEMISTRY_NAMES, "chemistry"), known_word("damp-ish", MOISTURE_NAMES, "grass")
    ('lfp', 'damp')
    >>> known_word("rotery", MOWER_NAMES, "kind")
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: kind 'rotery' is not known; did you mean rotary?
    """
    if isinstance(word, str) and word in names:
        return word  # the quick way: an answer reads hundreds of descriptions from a logbook, all kept words
    meant = {_bare(name): kept for kept, others in names.items() for name in (kept, *others)}
    for tried in (_bare(word), _bare(_HEDGES.sub(" ", _bare(word, " ")))) if isinstance(word, str) else ():
        if tried in meant:
            return meant[tried]
    near = get_close_matches(_bare(word), meant, n=1, cutoff=0.7) if isinstance(word, str) else ()
    said = repr(word) if len(str(word)) <= 40 else f"{str(word)[:40]!r}..."
    raise InputError(
        f"{what} {said} is not known",
        mend=f"did you mean {meant[near[0]]}?" if near else f"choose one of {', '.join(names)}",
    )


def _bare(word: str, joint: str = "") -> str:
    """A word without capitals and accents, its parts joined by one mark or by nothing."""
    plain = unicodedata.normalize("NFKD", str(word)).casefold()
    return re.sub(r"[\W_]+", joint, "".join(each for each in plain if not unicodedata.combining(each)))
