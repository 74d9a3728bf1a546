"""The answers in a printable report; where the logbook cannot answer yet, the report says so."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from matplotlib.figure import Figure

from estimator.answers import conversion
from estimator.answers.capacity import CapacityQuestion, capacity_to_buy
from estimator.answers.looking_back.pack_life import pack_life
from estimator.answers.looking_back.seasons import seasons_compared
from estimator.answers.looking_back.track_record import record_so_far
from estimator.answers.plan import PlanQuestion, plan_of_day
from estimator.answers.why import Why
from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.logbook import Logbook
from estimator.mends import Door
from estimator.report.pictures.answer_pictures import margin_picture, plan_picture
from estimator.report.pictures.picture import page_picture
from estimator.report.pictures.season_pictures import pack_life_picture, record_picture, seasons_picture
from estimator.report.printable import Section
from estimator.report.words import answer_text, conversion_text, season_text
from estimator.report.words.text import paragraph

WIDTH = 76
"""Characters in a line of a printed page; about 66 to 75 read well (common practice)."""


def sections_of(
    logbook: Logbook, name: str | None, door: Door, ask: Callable[..., Any] | None = None
) -> tuple[Section, ...]:
    """The answers to every question about a pack, its lawns and its machine.

    name : of the pack, None where there is none yet; door : words what a mend asks for
    ask : called with each slow question and its arguments; None asks the logbook at once
    """
    take = ask or (lambda question, *given: question(logbook, *given))

    def section(
        heading: str,
        answer: Callable[[], Any],
        text: Callable[[Any, int], str],
        draw: Callable[[Any], Figure] | None = None,
    ) -> Section:
        try:
            found = answer()
            drawn = page_picture(draw(found)).html if draw is not None else ""
        except InputError as error:
            return Section(heading, paragraph(f"Not yet: {error.said(door)}", WIDTH), Why())
        return Section(heading, text(found, WIDTH), found.why, drawn)

    asked = (
        ("How many lawns does a full charge finish?", lambda: take(plan_of_day, PlanQuestion(pack=name)),
         answer_text.plan_text, plan_picture),
        ("Which pack finishes all lawns on one charge?",
         lambda: take(capacity_to_buy, CapacityQuestion(pack=name)),
         answer_text.capacity_text, margin_picture),
        ("What changed from season to season?", lambda: take(seasons_compared, name),
         season_text.seasons_text, seasons_picture),
        ("How long will the pack still finish all lawns?",
         lambda: take(pack_life, (), name, Grass(), 0.90), season_text.pack_life_text, pack_life_picture),
        ("How well have earlier answers held?", lambda: take(record_so_far),
         season_text.track_record_text, record_picture),
        ("How close do the peaks come to the current limit?",
         lambda: conversion.limits_of_mows(logbook, pack=name), conversion_text.limits_text, None),
        ("Is the motor the right size?", lambda: conversion.motor_of_mows(logbook),
         conversion_text.motor_text, None),
        ("Should somebody look at the blades?", lambda: conversion.care_of_machine(logbook),
         conversion_text.care_text, None),
    )  # fmt: skip
    return tuple(section(*each) for each in asked)
