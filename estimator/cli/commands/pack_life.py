"""The command that says how long the pack will still do."""

from __future__ import annotations

from estimator.cli.option_groups import GrassSaid
from estimator.cli.options import (
    AirTemperature,
    Json,
    LawnNames,
    LogbookPath,
    PackName,
    Picture,
    Sure,
    Why,
)


def pack_life(
    lawns: LawnNames = None,
    *,
    sure: Sure = 90.0,
    grass: GrassSaid,
    pack: PackName = None,
    temperature_c: AirTemperature = None,
    picture: Picture = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """The mow at which the pack will no longer finish these lawns.

    Example: mowcharge pack-life "apple rows" --pack "green crate"
    """
    from estimator.answers.pack_life import pack_life as life_of
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.report.words.season_text import pack_life_text

    with asked_book(logbook) as book, busy("looking ahead"):
        answer = life_of(
            book,
            tuple(lawns or ()),
            pack=pack,
            grass=grass.grass(),
            sure=sure,
            temperature_c=temperature_c,
        )
    if picture is not None:
        from estimator.report.pictures.pack_life_picture import pack_life_picture
        from estimator.report.pictures.style import write_picture

        write_picture(pack_life_picture(answer), picture)
    show(answer, pack_life_text, as_json=as_json, why=why, book=book)
