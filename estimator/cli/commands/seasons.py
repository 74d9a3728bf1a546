"""The command that compares seasons."""

from __future__ import annotations

from typing import Annotated

from estimator.cli.options import Json, LogbookPath, PackName, Picture, Why, amount


def seasons(
    pack: PackName = None,
    power_w: Annotated[float | None, amount("power_w")] = None,
    temperature_c: Annotated[float, amount("pack_c")] = 25.0,
    picture: Picture = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Seasons compared: discharge curves, capacity, resistance, energy.

    Example: mowcharge seasons --pack "green crate" --picture seasons.svg
    """
    from estimator.answers.seasons import seasons_compared
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.report.words.season_text import seasons_text

    with asked_book(logbook) as book, busy("comparing"):
        answer = seasons_compared(book, pack, power_w=power_w, temperature_c=temperature_c)
    if picture is not None:
        from estimator.report.pictures.seasons_picture import seasons_picture
        from estimator.report.pictures.style import write_picture

        write_picture(seasons_picture(answer), picture)
    show(answer, seasons_text, as_json=as_json, why=why, book=book)
