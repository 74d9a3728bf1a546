"""Options that several commands share, and the completion of names from the logbook."""

from __future__ import annotations

from math import isfinite
from pathlib import Path
from typing import Annotated, Any

import typer

from estimator.amounts import AMOUNTS, check_amount, from_percent, option_of, range_words
from estimator.descriptions import MOISTURE_SIGNS, TAGS_THAT_COUNT
from estimator.errors import InputError


def _names(kind: str, start: str) -> list[str]:
    from estimator.answers.keeping.typed import described_names
    from estimator.logbook import open_logbook

    try:
        with open_logbook(make=False) as logbook:
            return [name for name in described_names(logbook, kind) if name.startswith(start)]
    except Exception:
        return []


def amount(name: str) -> Any:
    """The option of an amount: its words, unit and range are those of the library.

    A share is written in percent and handed on as 0..1. What is out of range is refused here, in the one line
    that library and page say too.
    """
    known = AMOUNTS[name]

    def take(value: Any) -> Any:
        each = value if isinstance(value, (list, tuple)) else [value]
        taken = [from_percent(name, one) if known.share and one is not None else one for one in each]
        for one in taken:
            if not isinstance(one, float) or isfinite(one):
                check_amount(name, one)
        return taken if isinstance(value, (list, tuple)) else taken[0]

    unit = "PERCENT" if known.share else "NUMBER"
    words = f"{known.help[0].upper()}{known.help[1:]}{range_words(known, percent=True)}."
    return typer.Option(option_of(name), *filter(None, [known.also]), callback=take, metavar=unit, help=words)


def _drawable(name: str | None) -> str | None:
    """The name of a picture that can be drawn: said before the answer is worked out, not after."""
    path = Path(name) if name else None
    if path is not None and path.suffix.lower() not in (".png", ".svg"):
        raise InputError(
            f"picture {path.name}: {path.suffix or 'no ending'!r}", mend="end its name in .png or .svg"
        )
    return name


def lawn_names(incomplete: str) -> list[str]:
    """Lawns that begin so, for the shell's completion."""
    return _names("lawn", incomplete)


def pack_names(incomplete: str) -> list[str]:
    """Packs that begin so, for the shell's completion."""
    return _names("pack", incomplete)


def machine_names(incomplete: str) -> list[str]:
    """Machines that begin so, for the shell's completion."""
    return _names("machine", incomplete)


def meter_names(incomplete: str) -> list[str]:
    """Meters that begin so, for the shell's completion."""
    return _names("meter", incomplete)


LogbookPath = Annotated[
    str | None,
    typer.Option(
        "--logbook", envvar="MOWCHARGE_LOGBOOK", help="The logbook: a file, or the URL of a shared one.",
        show_envvar=True,
    ),
]  # fmt: skip
Decide = Annotated[
    list[str] | None,
    typer.Option("--decide", metavar="NAME=VALUE", help="Overrule a decision about the files."),
]
Column = Annotated[
    list[str] | None,
    typer.Option(
        "--column",
        metavar="WHAT=TITLE",
        help="Which column is what, by title or number, such as current=Amps or current=3[mA]; also state.",
    ),
]
Interval = Annotated[float | None, amount("interval_s")]
Gap = Annotated[float | None, amount("gap_s")]
Sheet = Annotated[str | None, typer.Option("--sheet", metavar="NAME", help="The sheet of a spreadsheet.")]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]
Why = Annotated[bool, typer.Option("--why", help="Say what the answer is based on.")]
Picture = Annotated[
    str | None,
    typer.Option("--picture", metavar="FILE", callback=_drawable, help="Draw it to a .png or .svg file."),
]
PackName = Annotated[
    str | None,
    typer.Option(
        "--pack", autocompletion=pack_names, help="Which pack; may be left out if there is only one."
    ),
]
MachineName = Annotated[
    str | None,
    typer.Option(
        "--machine", autocompletion=machine_names, help="Which machine; may be left out if there is only one."
    ),
]
_MOISTURE = "How wet the grass is: " + ", ".join(f"{each} ({sign})" for each, sign in MOISTURE_SIGNS.items())
Tags = Annotated[
    list[str] | None,
    typer.Option(
        "--tag",
        help=f"A word to compare by; may be given several times. Two have a meaning: {TAGS_THAT_COUNT}.",
    ),
]
LawnNames = Annotated[
    list[str] | None,
    typer.Argument(
        autocompletion=lawn_names,
        metavar="LAWN...",
        help="Lawns in the order of mowing; all if none is named.",
    ),
]
Moisture = Annotated[str | None, typer.Option("--moisture", help=_MOISTURE)]
Growth = Annotated[float | None, amount("growth_mm")]
Days = Annotated[float | None, amount("days_since_cut")]
StartCharge = Annotated[float | None, amount("start_charge")]
AirTemperature = Annotated[float | None, amount("temperature_c")]
Level = Annotated[float, amount("level")]
Sure = Annotated[float, amount("sure")]
Reserve = Annotated[float, amount("reserve")]
