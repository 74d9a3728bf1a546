"""The answers of a printable report; what the logbook cannot answer yet is said so in its place."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from estimator.answers import conversion
from estimator.answers.capacity import CapacityQuestion, capacity_to_buy
from estimator.answers.keeping.typed import the_pack
from estimator.answers.pack_life import pack_life
from estimator.answers.plan import PlanQuestion, plan_of_day
from estimator.answers.seasons import seasons_compared
from estimator.answers.track_record import record_so_far
from estimator.answers.why import Why
from estimator.cli.named_files import as_option
from estimator.errors import InputError
from estimator.logbook import Logbook
from estimator.report.pictures.answer_pictures import margin_picture, plan_picture
from estimator.report.pictures.picture import page_picture
from estimator.report.pictures.season_pictures import pack_life_picture, record_picture, seasons_picture
from estimator.report.printable import Section
from estimator.report.words import answer_text, conversion_text, season_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH = 76
"""Letters in a line of a printed page: 66 to 75 read well (common practice)."""


def sections_of(logbook: Logbook, pack: str | None = None) -> tuple[Section, ...]:
    """Every question about one pack, its lawns and its machine."""
    name = the_pack(logbook, pack).name

    def ask(
        question: str,
        answer: Callable[[], Any],
        text: Callable[[Any, int], str],
        draw: Callable[[Any], Figure] | None = None,
    ) -> Section:
        try:
            found = answer()
            drawn = page_picture(draw(found)).html if draw is not None else ""
        except InputError as error:
            return Section(question, f"Not yet: {error.said(as_option)}", Why())
        return Section(question, text(found, WIDTH), found.why, drawn)

    asked = (
        ("How many lawns does a full charge finish?", lambda: plan_of_day(logbook, PlanQuestion(pack=name)),
         answer_text.plan_text, plan_picture),
        ("Which pack finishes all lawns on one charge?",
         lambda: capacity_to_buy(logbook, CapacityQuestion(pack=name)),
         answer_text.capacity_text, margin_picture),
        ("What changed from season to season?", lambda: seasons_compared(logbook, name),
         season_text.seasons_text, seasons_picture),
        ("How long will the pack still finish all lawns?", lambda: pack_life(logbook, pack=name),
         season_text.pack_life_text, pack_life_picture),
        ("How well have earlier answers held?", lambda: record_so_far(logbook),
         season_text.track_record_text, record_picture),
        ("How close do the peaks come to the current limit?",
         lambda: conversion.limits_of_mows(logbook, pack=name), conversion_text.limits_text, None),
        ("Is the motor the right size?", lambda: conversion.motor_of_mows(logbook),
         conversion_text.motor_text, None),
        ("Should somebody look at the blades?", lambda: conversion.care_of_machine(logbook),
         conversion_text.care_text, None),
    )  # fmt: skip
    return tuple(ask(*each) for each in asked)
