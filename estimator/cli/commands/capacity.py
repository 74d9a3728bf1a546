"""The command that recommends a pack."""

from __future__ import annotations

from typing import Annotated

from estimator.cli.option_groups import GrassSaid
from estimator.cli.options import (
    Json,
    LawnNames,
    LogbookPath,
    MachineName,
    PackName,
    Picture,
    Reserve,
    Sure,
    Why,
    amount,
)


def capacity(
    lawns: LawnNames = None,
    *,
    sure: Sure = 95.0,
    grass: GrassSaid,
    pack: PackName = None,
    machine: MachineName = None,
    reserve: Reserve = 10.0,
    coldest_c: Annotated[float | None, amount("coldest_c")] = None,
    end_capacity: Annotated[float, amount("capacity_at_end")] = 80.0,
    end_resistance: Annotated[float, amount("resistance_at_end")] = 1.5,
    size: Annotated[list[float] | None, amount("size_ah")] = None,
    picture: Picture = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """The pack to buy: recommended capacity and its margin, part by part.

    Example: mowcharge capacity "apple rows" "far meadow" --sure 95 --pack "green crate" --moisture damp
    """
    from estimator.answers.capacity import CapacityQuestion, capacity_to_buy
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.report.words.answer_text import capacity_text

    question = CapacityQuestion(
        lawns=tuple(lawns or ()), grass=grass.grass(), pack=pack, machine=machine,
        sure=sure,
        reserve=reserve, capacity_at_end=end_capacity, resistance_at_end=end_resistance,
        coldest_c=coldest_c, sizes_ah=tuple(size or ()),
    )  # fmt: skip
    with asked_book(logbook) as book, busy("trying packs"):
        answer = capacity_to_buy(book, question)
    if picture is not None:
        from estimator.report.pictures.margin_picture import margin_picture
        from estimator.report.pictures.style import write_picture

        write_picture(margin_picture(answer), picture)
    show(answer, capacity_text, as_json=as_json, why=why, book=book)
