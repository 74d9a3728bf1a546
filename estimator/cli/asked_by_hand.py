"""The questions asked on a terminal about a mow that nobody logged; a slip makes one of them asked again."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

import typer

from estimator.amounts import AMOUNTS, check_amount, from_percent
from estimator.answers.keeping.changing import check_day
from estimator.answers.keeping.keep import Circumstances
from estimator.answers.keeping.typed import described_names
from estimator.cli.named_files import as_option
from estimator.descriptions import MOISTURE_SIGNS, Grass
from estimator.errors import InputError
from estimator.importer.by_hand.spot_order import check_spot, has_amps, tells_current, tells_minutes
from estimator.importer.log import SpotNotes
from estimator.logbook import Logbook
from estimator.written import measured
from estimator.written_days import moment
from estimator.written_names import MOISTURE_NAMES, known_word


@dataclass(frozen=True)
class Said:
    """What is known of a mow so far."""

    mow: Circumstances
    spot: SpotNotes

    def of_mow(self, **new: object) -> Said:
        """The same, with something else said of the mow."""
        return replace(self, mow=replace(self.mow, **new))  # type: ignore[arg-type]


@dataclass(frozen=True)
class Question:
    """One question: what it is about in one word, its text, and what takes its answer, which is never blank.

    needed : True where a blank is not accepted
    """

    about: str
    words: str
    take: Callable[[Said, str], Said]
    needed: bool = False


READINGS = {
    "minutes": ("minutes", "Minutes of mowing"),
    "typical_a": ("typical", "Amps while cutting as usual"),
    "idle_a": ("idle", "Amps with the blades turning free"),
    "highest_a": ("highest", "Highest amps seen (MAX hold)"),
    "mean_a": ("mean", "Mean amps, if the meter shows AVG"),
    "rest_before_v": ("before", "Volts at rest before"),
    "load_v": ("cutting", "Volts while cutting"),
    "rest_after_v": ("after", "Volts at rest after, some minutes later"),
}
"""The readings that are asked for, by their names in `SpotNotes`: the word for each, and its question."""


def asked(said: Said, question: Question, why: str = "") -> Said:
    """Ask one question until its answer can be taken; a blank keeps what was said before."""
    if why:
        typer.echo(f"  {why}")
    while True:
        text: str = typer.prompt(question.words, default="", show_default=False).strip()
        if not text and not question.needed:
            return said
        try:
            return question.take(said, text)
        except InputError as error:
            typer.echo(f"  {error.said(as_option)}")


def asked_for_the_needed(said: Said, questions: Sequence[Question]) -> Said:
    """Ask again, once, for what no mow can do without, and for what says it in another way.

    Raises InputError where all of it is left blank.
    """
    about = {each.about: each for each in questions}
    why = "typical amps are missing (or mean, or volts at rest after)"
    for name in ("typical", "mean", "minutes", "after"):
        if not tells_current(said.spot) and not (name == "minutes" and said.spot.minutes):
            said, why = asked(said, about[name], why), ""
    if tells_current(said.spot) and not tells_minutes(said.spot):
        said = asked(said, about["minutes"], "the minutes of mowing are missing")
        if not tells_minutes(said.spot):  # there may be no watch: offer another way
            said = asked(said, about["after"], "without them, volts at rest after it say how long it took")
    refuse_too_little(said.spot, "")
    return said


def refuse_too_little(spot: SpotNotes, when_over: str = ", --put-back-wh or --socket-wh") -> None:
    """Raise InputError naming the options that are missing, which the importer could not name.

    when_over : what a mow that is over can be known by besides
    """
    if not tells_current(spot):
        ways = f"give --typical-a or --mean-a, or --minutes with --rest-after-v{when_over}"
        raise InputError("no typical amps are given", mend=ways)
    if not tells_minutes(spot):
        raise InputError("the minutes are not given", mend="give --minutes, or --rest-after-v")


def about_what(word: str, questions: Sequence[Question]) -> Question | None:
    """The question that a word is about; None where no question is like it."""
    near = get_close_matches(word.casefold(), [each.about for each in questions], n=1, cutoff=0.5)
    return next((each for each in questions if each.about in near), None)


def in_one_line(said: Said) -> str:
    """Everything that is to be kept, to be looked at before it is kept."""
    mow, spot, grass = said.mow, said.spot, said.mow.grass
    amps = [
        f"{name} {value:g}"
        for name in ("typical", "idle", "highest", "mean")
        if (value := getattr(spot, f"{name}_a")) is not None
    ]
    rests = [f"{volts:g}" for volts in (spot.rest_before_v, spot.rest_after_v) if volts is not None]
    parts = (
        (mow.lawn, True),
        (f"pack {mow.pack}", mow.pack),
        (mow.started and f"{mow.started:%Y-%m-%d %H:%M}", mow.started),
        (f"from {100 * (mow.start_charge or 0):g} %", mow.start_charge is not None),
        (grass.moisture, grass.moisture),
        (f"{grass.growth_mm or 0:.4g} mm off", grass.growth_mm is not None),
        (f"{grass.days_since_cut} days after the last cut", grass.days_since_cut is not None),
        ("minutes unknown" if spot.minutes is None else f"{spot.minutes:g} min", True),
        (f"{', '.join(amps)} A", amps),
        (f"{' to '.join(rests)} V", rests),
        (f"{spot.load_v} V cutting", spot.load_v is not None),
    )
    return re.sub(r"\.0(?= )", "", ", ".join(str(words) for words, is_said in parts if is_said))


def questions_of(book: Logbook) -> tuple[Question, ...]:
    """Every question in order; lawn, pack and machine are asked for only where there are several."""
    which = {kind: described_names(book, kind) for kind in ("lawn", "pack", "machine")}
    signs = ", ".join(f"{each} ({sign})" for each, sign in MOISTURE_SIGNS.items())
    return (
        *(which_one(kind, names, f"Which {kind}") for kind, names in which.items() if len(names) > 1),
        Question("began", "When it began (Enter: it ended just now)", _take_start),
        Question("charge", "Charge at the start in %, 100 straight from the charger", _take_charge),
        Question("grass", f"Grass: {signs}", _take_moisture),
        Question("height", "Height cut off in mm, or such as '9 days' since the last cut", _take_growth),
        *(Question(about, words, _taking(name)) for name, (about, words) in READINGS.items()),
    )


def which_one(kind: str, names: Sequence[str], words: str, needed: bool = True) -> Question:
    """The question for one of several names, to be answered by its number, the name or how it begins."""

    def take(said: Said, text: str) -> Said:
        return said.of_mow(**{kind: named(text, names, kind)})

    listed = ", ".join(f"{number} {name}" for number, name in enumerate(names, start=1))
    return Question(kind, f"{words}: {listed}", take, needed)


def named(text: str, names: Sequence[str], kind: str) -> str:
    """The name that is meant, given by its place in the list, by how it begins, or in full.

    >>> named("2", ("orchard", "verge"), "lawn"), named("or", ("orchard", "verge"), "lawn")
    ('verge', 'orchard')
    >>> named("orchrad", ("orchard", "verge"), "lawn")
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: lawn 'orchrad' is not known; did you mean orchard?
    """
    if text.isdecimal() and 1 <= int(text) <= len(names) and text not in names:
        return names[int(text) - 1]
    begun = [name for name in names if text and name.casefold().startswith(text.casefold())]
    return begun[0] if len(begun) == 1 else known_word(text, dict.fromkeys(names, ()), kind)


def _take_start(said: Said, text: str) -> Said:
    began = moment(text)
    check_day(began, "start of the mow")
    return said.of_mow(started=began)


def _take_charge(said: Said, text: str) -> Said:
    share = from_percent("start_charge", measured(text, "start charge", "%"))
    check_amount("start_charge", share)
    return said.of_mow(start_charge=share)


def _take_moisture(said: Said, text: str) -> Said:
    begun = [each for each in MOISTURE_NAMES if each.startswith(text.casefold())]
    word = begun[0] if len(begun) == 1 else known_word(text, MOISTURE_NAMES, "grass moisture")
    return said.of_mow(grass=replace(said.mow.grass, moisture=word))


def _take_growth(said: Said, text: str) -> Said:
    counted = re.fullmatch(r"(.*\d)\s*(d|w)(?:ays?|eeks?)?", text.casefold())
    if counted is None:
        return said.of_mow(grass=Grass(said.mow.grass.moisture, measured(text, "height cut off", "mm")))
    days = measured(counted[1], "days since the last cut", "") * (7 if counted[2] == "w" else 1)
    return said.of_mow(grass=Grass(said.mow.grass.moisture, None, days))


def _taking(name: str) -> Callable[[Said, str], Said]:
    def take(said: Said, text: str) -> Said:
        value = measured(text, AMOUNTS[name].words, AMOUNTS[name].unit)
        check_amount(name, value)
        spot = replace(said.spot, **{name: value})
        if has_amps(spot):  # amps that contradict each other are refused here, where they are asked again
            check_spot(replace(spot, minutes=spot.minutes or 1.0))
        return replace(said, spot=spot)

    return take
