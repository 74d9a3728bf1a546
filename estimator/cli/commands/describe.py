"""Commands that describe lawns, packs, machines, meters and days of care, and list what is described."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any

import typer

from estimator.amounts import AMOUNTS, range_words
from estimator.cli.books import book_to_fill, kept_book
from estimator.cli.commands.renaming import delete, merge, rename
from estimator.cli.group import several
from estimator.cli.options import Json, LogbookPath, amount, names_of, which
from estimator.cli.output import say, say_cautions, show, width
from estimator.conversion.cautions import BLADES, BUILDING, PLUGGING_IN, for_pack
from estimator.descriptions import Lawn, Machine, Pack, series_of_volts, usual_cut_off_v
from estimator.errors import InputError
from estimator.written import area_m2, length_m, pace_m_s, power_w

app = several("Describe a lawn, a pack, a machine or a meter.")


@app.command("lawn")
def lawn(
    name: Annotated[str, typer.Argument(autocompletion=names_of("lawn"), help="What you call it.")],
    area: Annotated[
        str, typer.Option("--area", help="Mown area: 420 (m²), '20 x 35 m', '1/4 acre', '4500 sqft'.")
    ],
    logbook: LogbookPath = None,
) -> None:
    """Describe a lawn by its name and area, or change it.

    Example: mowcharge describe lawn "apple rows" --area 420
    """
    from estimator.logbook import keep_lawn
    from estimator.report.words.described_text import area_words, as_typed

    described = Lawn(name, area_m2=area_m2(area))
    with book_to_fill(logbook) as book:
        keep_lawn(book, described)
    typer.echo(f"lawn {name}: {area_words(described.area_m2)}{as_typed(area)}")


@app.command("pack")
def pack(
    name: Annotated[str, typer.Argument(autocompletion=names_of("pack"), help="What you call it.")],
    *,
    chemistry: Annotated[
        str | None,
        typer.Option(
            "--chemistry",
            help="nmc, nca, lco, lfp, lithium (family unknown) or lead_acid, also as LiFePO4, Li-ion, AGM.",
        ),
    ] = None,
    capacity_ah: Annotated[
        str | None,
        typer.Option(
            "--capacity-ah",
            metavar="NUMBER",
            help=f"{AMOUNTS['capacity_ah'].help.capitalize()}{range_words(AMOUNTS['capacity_ah'])}; "
            "'about 12' where you guess it.",
        ),
    ] = None,
    series: Annotated[int | None, amount("series")] = None,
    rated_v: Annotated[float | None, amount("rated_v")] = None,
    cut_off_v: Annotated[float | None, amount("cut_off_v")] = None,
    current_limit_a: Annotated[float | None, amount("current_limit_a")] = None,
    string_ah: Annotated[float | None, amount("string_ah")] = None,
    resistance_ohm: Annotated[float | None, amount("resistance_ohm")] = None,
    first_year: Annotated[float | None, amount("first_year")] = None,
    hold_s: Annotated[float | None, amount("hold_s")] = None,
    logbook: LogbookPath = None,
) -> None:
    """Describe a pack by its rated values, or change what is given.

    What is not given stays as it was.

    Example: mowcharge describe pack "green crate" --chemistry nmc --series 13 --capacity-ah 10 --cut-off-v 39
    """
    from estimator.answers.keeping.typed import guessed_ah
    from estimator.logbook import is_there, keep_pack, packs
    from estimator.report.words.text import paragraph

    said: dict[str, Any] = {
        "chemistry": chemistry, "series": series, "cut_off_v": cut_off_v,
        "hold_s": hold_s, "current_limit_a": current_limit_a, "string_ah": string_ah,
        "resistance_ohm": resistance_ohm, "first_year": first_year,
    }  # fmt: skip
    said = {key: value for key, value in said.items() if value is not None}
    if capacity_ah is not None:
        said["capacity_ah"], said["capacity_guessed"] = guessed_ah(capacity_ah, "--capacity-ah")
    if is_there(logbook):
        with kept_book(logbook) as book:
            said = {**next((vars(each) for each in packs(book) if each.name == name), {}), **said}
    if rated_v is not None and "chemistry" in said:
        said["series"] = series_of_volts(said["chemistry"], rated_v, series)
    needed = {"chemistry": "--chemistry", "series": "--series or --volts", "capacity_ah": "--capacity-ah"}
    if rated_v is not None:
        del needed["series"]  # follows from the volts once the chemistry is known
    if lacking := [option for key, option in needed.items() if key not in said]:
        raise InputError(f"pack {name} is not described yet", mend=f"give {', '.join(lacking)}")
    guessed = cut_off_v is None and bool("cut_off_v" not in said or chemistry or series or rated_v)
    if guessed:
        said["cut_off_v"] = usual_cut_off_v(said["chemistry"], said["series"])
    described = Pack(**{**said, "name": name})
    with book_to_fill(logbook) as book:
        keep_pack(book, described)
    lead_acid = described.chemistry == "lead_acid"
    count, year = described.series, described.first_year
    limit = f", current limit {described.current_limit_a:g} A" if described.current_limit_a else ""
    since = f"{limit}, in use since {year:.0f}" if year else limit
    typer.echo(f"pack {name}: {described.cells}, {described.says}, cut-off {described.cut_off_v:g} V{since}")
    notes = {
        "the number of cells is the usual one for such a label; give --series if it is not charged to these "
        "volts": rated_v is not None and series is None and not lead_acid,
        "the cut-off is the usual one for such cells; give --cut-off-v if you know your own": guessed,
        f"{count} cells are some {2 * count} V: a 12 V block counts 6, two of them 12": lead_acid
        and count % 6 > 0,
        f"expect less than {described.capacity_ah:g} Ah when mowing: "
        f"{'that' if described.capacity_guessed else 'its label'} means a slow discharge": lead_acid,
        "a mow from full to the cut-off shows what it holds": described.capacity_guessed,
    }
    say(*(paragraph(note, width(), "  ") for note, due in notes.items() if due))
    say_cautions(book, (*for_pack(described.chemistry), PLUGGING_IN, BUILDING))


@app.command("machine")
def machine(
    name: Annotated[str, typer.Argument(autocompletion=names_of("machine"), help="What you call it.")],
    width: Annotated[str | None, typer.Option("--width", help="Cutting width: 43 (cm), '17 in'.")] = None,
    pace: Annotated[
        str | None, typer.Option("--pace", help="Walking pace: 1.1 (m/s), '4 km/h', '2.5 mph'.")
    ] = None,
    motor: Annotated[
        str | None, typer.Option("--motor", help="Rated power of the motor: 1200 (W), '1.5 kW'.")
    ] = None,
    kind: Annotated[
        str | None, typer.Option("--kind", help="How it cuts: cylinder (a reel), rotary or flail.")
    ] = None,
    logbook: LogbookPath = None,
) -> None:
    """Describe a machine, or change what is given.

    What is not given stays as it was.

    Example: mowcharge describe machine "cylinder mower" --width "43 cm" --motor 1200
    """
    from estimator.logbook import keep_machine, machines
    from estimator.report.words.described_text import machine_words

    with book_to_fill(logbook) as book:
        before = next((each for each in machines(book) if each.name == name), Machine(name))
        described = replace(
            before,
            cutting_width_m=before.cutting_width_m if width is None else length_m(width, "width", bare="cm"),
            pace_m_s=before.pace_m_s if pace is None else pace_m_s(pace),
            motor_rated_w=before.motor_rated_w if motor is None else power_w(motor),
            kind=before.kind if kind is None else kind,
        )
        keep_machine(book, described)
    typer.echo(f"machine {name}: {machine_words(described)}")


@app.command("meter")
def meter(
    name: Annotated[str, typer.Argument(autocompletion=names_of("meter"), help="What you call it.")],
    current_zero_a: Annotated[float | None, amount("zero_a")] = None,
    current_gain: Annotated[float | None, amount("current_percent")] = None,
    voltage_zero_v: Annotated[float | None, amount("zero_v")] = None,
    voltage_gain: Annotated[float | None, amount("voltage_percent")] = None,
    logbook: LogbookPath = None,
) -> None:
    """Describe a meter by the accuracy in its data sheet.

    Example: mowcharge describe meter "shed clamp" --current-percent 2 --zero-a 0.1
    """
    from estimator.logbook import keep_meter, meters
    from estimator.report.words.described_text import DATA_SHEET, meter_words

    given = {
        "current_zero_a": current_zero_a and current_zero_a / DATA_SHEET,
        "current_gain": current_gain and current_gain / 100 / DATA_SHEET,
        "voltage_zero_v": voltage_zero_v and voltage_zero_v / DATA_SHEET,
        "voltage_gain": voltage_gain and voltage_gain / 100 / DATA_SHEET,
    }
    with book_to_fill(logbook) as book:
        plain = {
            **meters(book).get(name, {}),
            **{key: value for key, value in given.items() if value is not None},
        }
        keep_meter(book, name, plain)
    typer.echo(f"meter {name}: {meter_words(plain)}")


@app.command("care")
def care(
    day: Annotated[str, typer.Argument(help="The day, such as 2025-06-20, '20 Jun' or yesterday.")],
    words: Annotated[
        str, typer.Argument(help="What was done, such as 'blades sharpened'.")
    ] = "blades sharpened",
    machine: Annotated[str | None, which("machine", "Which machine.")] = None,
    logbook: LogbookPath = None,
) -> None:
    """Note a day of blade care, to compare before and after.

    Example: mowcharge describe care 2025-06-20 "reel lapped" --machine "cylinder mower"
    """
    from estimator.answers.keeping.changing import note_care
    from estimator.answers.keeping.typed import the_machine

    with book_to_fill(logbook) as book:
        kept = note_care(book, day, words, the_machine(book, machine))
    whose = kept.machine or "every machine"
    typer.echo(f"care of {whose} on {kept.day.isoformat()}: {kept.words}")
    say_cautions(book, (BLADES,))


for each in (rename, merge, delete):
    app.command(each.__name__)(each)


def list_described(logbook: LogbookPath = None, as_json: Json = False) -> None:
    """Equipment and lawns: all that has been described.

    Example: mowcharge list
    """
    from estimator.answers.describe import all_described
    from estimator.report.words.described_text import described_text

    with kept_book(logbook) as book:
        found = all_described(book)
    show(found, described_text, as_json=as_json)
    if not as_json and not (found.lawns or found.packs):
        typer.echo("Start with `mowcharge describe lawn` and `mowcharge describe pack`.")
