"""Options that several commands share, alone and in groups, and names completed from the logbook."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, make_dataclass, replace
from pathlib import Path
from typing import Annotated, Any

import typer

from estimator.amounts import (
    AMOUNTS,
    HAND_READINGS,
    READINGS_SO_FAR,
    check_amount,
    from_percent,
    option_of,
    range_words,
)
from estimator.descriptions import MOISTURE_SIGNS, TAGS_THAT_COUNT, Grass
from estimator.errors import InputError


def names_of(kind: str) -> Callable[[str], list[str]]:
    """The function that completes names of lawns, packs, machines or meters in the shell."""

    def beginning(incomplete: str) -> list[str]:
        from estimator.answers.keeping.typed import described_names
        from estimator.logbook import open_logbook

        try:
            with open_logbook(make=False) as logbook:
                return [name for name in described_names(logbook, kind) if name.startswith(incomplete)]
        except Exception:
            return []

    return beginning


def which(kind: str, words: str, *, flag: str = "") -> Any:
    """The option that names a lawn, a pack, a machine or a meter, with completion from the logbook."""
    return typer.Option(flag or f"--{kind}", autocompletion=names_of(kind), help=words)


def amount(name: str) -> Any:
    """The option for an amount, with the words, unit and range of the library.

    A share is typed in percent and passed on as 0..1. What is out of range is refused here, in the same
    words as in the library and on the page.
    """
    known = AMOUNTS[name]

    def take(value: Any) -> Any:
        each = value if isinstance(value, (list, tuple)) else [value]
        taken = [from_percent(name, one) if known.share and one is not None else one for one in each]
        for one in taken:
            check_amount(name, one)
        return taken if isinstance(value, (list, tuple)) else taken[0]

    unit = "PERCENT" if known.share else "NUMBER"
    words = f"{known.help[0].upper()}{known.help[1:]}{range_words(known, percent=True)}."
    return typer.Option(option_of(name), *filter(None, [known.also]), callback=take, metavar=unit, help=words)


def _drawable(name: str | None) -> str | None:
    """The file name of a picture; InputError, before anything is worked out, for one that cannot be drawn."""
    path = Path(name) if name else None
    if path is not None and path.suffix.lower() not in (".png", ".svg"):
        raise InputError(
            f"picture {path.name}: {path.suffix or 'no ending'!r}", mend="end its name in .png or .svg"
        )
    return name


LogbookPath = Annotated[
    str | None,
    typer.Option(
        "--logbook", envvar="MOWCHARGE_LOGBOOK", metavar="PLACE",
        help="The logbook: a file, or the URL of a shared one.",
    ),
]  # fmt: skip
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]
Why = Annotated[bool, typer.Option("--why", help="Say what the answer is based on.")]
Picture = Annotated[
    str | None,
    typer.Option("--picture", metavar="FILE", callback=_drawable, help="Draw it to a .png or .svg file."),
]
PackName = Annotated[str | None, which("pack", "Which pack; may be left out if there is only one.")]
MachineName = Annotated[str | None, which("machine", "Which machine; may be left out if there is only one.")]
_MOISTURE = "How wet the grass is: " + ", ".join(f"{each} ({sign})" for each, sign in MOISTURE_SIGNS.items())
LawnNames = Annotated[
    list[str] | None,
    typer.Argument(
        autocompletion=names_of("lawn"),
        metavar="LAWN...",
        help="Lawns in the order of mowing; all if none is named.",
    ),
]
StartCharge = Annotated[float | None, amount("start_charge")]
AirTemperature = Annotated[float | None, amount("temperature_c")]
Level = Annotated[float, amount("level")]
Sure = Annotated[float, amount("sure")]
Reserve = Annotated[float, amount("reserve")]


@dataclass(frozen=True)
class GrassSaid:
    """Options that say what the grass was like."""

    moisture: Annotated[str | None, typer.Option("--moisture", help=_MOISTURE)] = None
    growth_mm: Annotated[float | None, amount("growth_mm")] = None
    days_since_cut: Annotated[float | None, amount("days_since_cut")] = None

    def grass(self, before: Grass | None = None) -> Grass:
        """The grass; what was not said stays as it was before."""

        said = {name: value for name, value in vars(self).items() if value is not None}
        return replace(before or Grass(), **said)


@dataclass(frozen=True)
class MowSaid:
    """Options that say what a mow was like, besides its lawn and its grass."""

    pack: PackName = None
    machine: MachineName = None
    start_charge: StartCharge = None
    temperature_c: AirTemperature = None
    started: Annotated[
        str | None,
        typer.Option(
            "--started", metavar="WHEN", help="When it began: 2025-05-01T09:30, '12 Sep 9:30', yesterday."
        ),
    ] = None
    tag: Annotated[
        list[str] | None,
        typer.Option(
            "--tag",
            help=f"A word to compare by; may be given several times. Three have a meaning: "
            f"{TAGS_THAT_COUNT}.",
        ),
    ] = None


@dataclass(frozen=True)
class FilesSaid:
    """Options about the files of meters."""

    meter: Annotated[
        list[str] | None, which("meter", "Which meter the files come from; for two, give it twice.")
    ] = None
    decide: Annotated[
        list[str] | None,
        typer.Option("--decide", metavar="NAME=VALUE", help="Overrule a decision about the files."),
    ] = None
    column: Annotated[
        list[str] | None,
        typer.Option(
            "--column",
            metavar="WHAT=TITLE",
            help="Which column is what, by title or number, such as current=Amps or current=3[mA]; "
            "also state.",
        ),
    ] = None
    interval: Annotated[float | None, amount("interval_s")] = None
    gap: Annotated[float | None, amount("gap_s")] = None
    sheet: Annotated[
        str | None, typer.Option("--sheet", metavar="NAME", help="The sheet of a spreadsheet.")
    ] = None

    def choices(self) -> dict[str, Any]:
        """Decisions for the importer, and meters, as the arguments that questions and circumstances take."""
        from estimator.cli.named_files import decisions

        told = decisions(self.decide, self.column, self.interval, self.gap, self.sheet)
        return {"decisions": told, "meters": tuple(self.meter or ())}


_READINGS = [(name, Annotated[float | None, amount(name)], None) for name in HAND_READINGS]
HandReadings: Any = make_dataclass("HandReadings", _READINGS, frozen=True)
ReadingsSoFar: Any = make_dataclass("ReadingsSoFar", _READINGS[: len(READINGS_SO_FAR)], frozen=True)
"""Options for readings taken by hand, one for each: of a mow, and of one that goes on."""
