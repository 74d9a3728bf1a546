"""Commands that list, show, edit, remove and restore mows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Annotated, Any

import typer

from estimator.cli.asking import asks, changes
from estimator.cli.options import AirTemperature, GrassSaid, HandReadings, LogbookPath, StartCharge, which
from estimator.descriptions import RAN_OUT, TAGS_THAT_COUNT

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures
    from estimator.logbook import Logbook

Number = Annotated[int, typer.Argument(metavar="MOW", help="The mow's number, as `mowcharge mows` lists it.")]


@asks("looking at the mows", "mow_text:mow_list_text", with_why=False)
def mows(
    lawn: Annotated[str | None, which("lawn", "Only this lawn.")] = None,
    pack: Annotated[str | None, which("pack", "Only this pack.")] = None,
    season: Annotated[int | None, typer.Option("--season", metavar="YEAR", help="Only this year.")] = None,
    tag: Annotated[str | None, typer.Option("--tag", help="Only mows with this tag.")] = None,
    removed: Annotated[bool, typer.Option("--removed", help="List the removed ones instead.")] = False,
    doubtful: Annotated[
        bool | None, typer.Option("--doubtful", help="Only those set aside, on which no answer rests.")
    ] = None,
) -> None:
    """List the mows.

    Example: mowcharge mows --lawn "apple rows" --season 2024
    """


@asks("looking at the mows", "mow_text:story_text", with_why=False)
def show(mow: Number) -> None:
    """Show one mow with its notes, figures and history.

    Example: mowcharge show 3
    """


def edit(
    number: Number,
    lawn: Annotated[str | None, which("lawn", "It was this lawn.")] = None,
    pack: Annotated[str | None, which("pack", "It was this pack.")] = None,
    machine: Annotated[str | None, which("machine", "It was this machine.")] = None,
    *,
    grass: GrassSaid,
    readings: HandReadings,
    blank: Annotated[
        list[str] | None,
        typer.Option(
            "--blank", metavar="WHAT", help="Take it back: started, tags, growth-mm, or what else was given."
        ),
    ] = None,
    start_charge: StartCharge = None,
    temperature_c: AirTemperature = None,
    started: Annotated[str | None, typer.Option("--started", metavar="WHEN", help="When it began.")] = None,
    tag: Annotated[
        list[str] | None,
        typer.Option(
            "--tag",
            help="Its tags, in place of those it has; `--blank tags` takes all off. "
            f"Some count: {TAGS_THAT_COUNT}.",
        ),
    ] = None,
    logbook: LogbookPath = None,
) -> None:
    """Change what was said about a mow, or correct its hand readings.

    Example: mowcharge edit 30 --moisture dry --growth-mm 20
    """
    from estimator.answers.figures.mow_log import doubts_of_mow
    from estimator.answers.figures.pack_chain import fit_of_pack
    from estimator.answers.figures.pack_now import pack_doubts
    from estimator.answers.keeping.changing import edit_mow
    from estimator.answers.keeping.typed import care_noted, the_pack
    from estimator.answers.mow import history_of_mow
    from estimator.cli.books import asked_book
    from estimator.cli.named_files import instant
    from estimator.cli.output import busy, say, width
    from estimator.errors import InputError
    from estimator.importer.by_hand.spot_order import WORDS
    from estimator.logbook import history, log_of
    from estimator.logbook import mow as kept_mow
    from estimator.report.words.change_text import changed_words
    from estimator.report.words.text import paragraph
    from estimator.written_names import known_word

    said = ("started", "start_charge", "temperature_c")
    known = {name.replace("_", "-"): (name,) for name in (*said, *vars(grass), *WORDS)} | {"tags": ("tag",)}
    blanks = [known_word(name, known, "--blank").replace("-", "_") for name in blank or ()]
    hand: dict[str, float | None] = {name: None for name in blanks if name in WORDS}
    bare = {name: None for name in blanks if name in vars(grass)}
    hand |= {name: value for name, value in asdict(readings).items() if value is not None}
    with asked_book(logbook) as book, busy("refitting") as progress:
        given: dict[str, Any] = {
            "lawn": lawn, "pack": pack, "machine": machine, "temperature_c": temperature_c,
            "started": instant(started, kept_mow(book, number).started),
            "start_charge": start_charge,
            "tags": () if "tags" in blanks else None if tag is None else tuple(tag),
            "grass": None
            if grass == GrassSaid() and not bare
            else replace(grass.grass(kept_mow(book, number).grass), **bare),
            "hand": hand or None,
        }  # fmt: skip
        edits = {name: value for name, value in given.items() if value is not None or name in blanks}
        if not edits:
            raise InputError("nothing to change is given", mend="give an option such as --moisture")
        before = len(history(book, number))
        edit_mow(book, number, progress, **edits)
        odd = doubts_of_mow(book, number, log_of(book, number)) if hand else ()
        if (record := kept_mow(book, number)).pack and RAN_OUT in record.tags:
            odd += pack_doubts(fit_of_pack(book, the_pack(book, record.pack)))
        odd += care_noted(given["tags"] or ())
        changed = [words for each in history_of_mow(book, number)[before:] for words in changed_words(each)]
    words = "; ".join(changed) or "said all this already; nothing changed"
    say(paragraph(f"mow {number}: {words}", width()), *(paragraph(each, width(), "  ") for each in odd))


@changes(
    "answers.keeping.changing:remove_mow",
    "mow {number}: removed; restore it with `mowcharge restore {number}`",
    "refitting",
)
def remove(number: Number) -> None:
    """Remove a mow; it can be restored.

    Example: mowcharge remove 30
    """


@changes("answers.keeping.changing:restore_mow", "mow {number}: restored", "refitting")
def restore(number: Number) -> None:
    """Restore a removed mow.

    Example: mowcharge restore 30
    """


def split(
    number: Number,
    until: Annotated[
        list[str],
        typer.Option(
            "--until",
            help="When the next lawn or pack began: minutes from the start, or the time, such as 12:40.",
        ),
    ],
    lawn: Annotated[list[str] | None, which("lawn", "The lawn from then on.")] = None,
    pack: Annotated[
        list[str] | None,
        which("pack", "The pack from then on. Without a lawn the parts are of one lawn, and share its area."),
    ] = None,
    logbook: LogbookPath = None,
) -> None:
    """Split one log into several mows, one per lawn or pack; the file stays whole.

    Example: mowcharge split 30 --until 9 --lawn "chapel strip"
    """
    from estimator.cli.books import asked_book
    from estimator.cli.output import busy
    from estimator.errors import InputError

    lawns, packs = lawn or [], pack or []
    if not lawns and not packs:
        raise InputError("neither --lawn nor --pack is given", mend="say which lawn or pack came next")
    for further, of in ((lawns, "--lawn"), (packs, "--pack")):
        if further and len(until) != len(further):
            raise InputError(
                f"--until is given {len(until)} times and {of} {len(further)} times",
                mend="say --until before each lawn or pack that follows the first",
            )
    with asked_book(logbook) as book, busy("refitting") as progress:
        told = split_at(book, number, until, lawns, packs, progress)
    typer.echo(told)


def split_at(
    book: Logbook,
    number: int,
    until: list[str],
    lawns: list[str],
    packs: list[str],
    progress: Callable[[str], None],
) -> str:
    """Split a kept mow at each of several moments; returns the sentence that says which mows it became."""
    from estimator.answers.figures.mow_figures import features_of_mows
    from estimator.answers.keeping.changing import split_mow
    from estimator.logbook import mow as kept_mow
    from estimator.logbook import newest_number

    with book.writing():
        for place in reversed(range(len(until))):  # the last part first
            lawn, pack = (further[place] if further else None for further in (lawns, packs))
            split_mow(book, number, until[place], lawn, pack, progress)
    parts = [number, *range(newest_number(book) - len(until) + 1, newest_number(book) + 1)]
    of_part = features_of_mows(book, [kept_mow(book, part) for part in parts])
    return f"one log, {len(parts)} mows: {part_words(list(of_part.values()), parts)}"


def part_words(parts: Sequence[MowFeatures], numbers: Sequence[int] = ()) -> str:
    """What the parts of a log took, with the numbers of their mows where they are kept."""
    said = [
        f"{one.lawn} ({one.motor_s / 60:.0f} min, {one.energy_wh:.0f} Wh, {one.energy_per_area():.3f} Wh/m²)"
        for one in parts
    ]
    if numbers:
        said = [f"mow {number} on {each}" for number, each in zip(numbers, said, strict=True)]
    return ", ".join(said)
