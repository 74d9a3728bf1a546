"""Descriptions and the kinds of grass as text."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from estimator.answers.describe import Described
from estimator.answers.grass import GrassAnswer
from estimator.descriptions import Machine
from estimator.report.words.text import counted, pairs, paragraph, table

_FOREIGN = re.compile(r"ac|ft|feet|foot|ya?r?d|in|hp|mph|['\"]")
DATA_SHEET = 3**0.5
"""Limits in a data sheet over the standard uncertainty; rectangular distribution, JCGM 100:2008, 4.3.7."""


def described_text(found: Described, width: int) -> str:
    """Lawns, packs, machines and meters, each under its heading."""
    blocks: list[str] = []
    if found.lawns:
        areas = [[lawn.name, area_words(lawn.area_m2).split()[0]] for lawn in found.lawns]
        blocks.append(table(["lawn", "m²"], areas, width))
    if found.packs:
        rows = [
            [
                pack.name, pack.chemistry.replace("_", "-"), f"{pack.series}",
                ("about " if pack.capacity_guessed else "") + f"{pack.capacity_ah:g}", f"{pack.cut_off_v:g}",
                f"{pack.current_limit_a:g}" if pack.current_limit_a else "unknown",
            ]
            for pack in found.packs
        ]  # fmt: skip
        blocks.append(table(["pack", "cells", "series", "Ah", "cut-off V", "limit A"], rows, width))
    if found.machines:
        blocks.append(
            pairs([(f"machine {each.name}", machine_words(each)) for each in found.machines], width)
        )
    if found.meters:
        named = [(f"meter {name}", meter_words(plain)) for name, plain in found.meters.items()]
        blocks.append(pairs(named, width))
    return "\n\n".join(blocks) or "Nothing is described yet."


def machine_words(machine: Machine) -> str:
    """What is known of a machine, in one line."""
    cared_for = ", ".join(day.isoformat() for day in machine.blade_care)
    words = [
        machine.kind or "",
        f"cut {100 * machine.cutting_width_m:.0f} cm" if machine.cutting_width_m else "",
        f"walking pace {machine.pace_m_s:.2f} m/s" if machine.pace_m_s else "",
        f"motor {machine.motor_rated_w:.0f} W" if machine.motor_rated_w else "",
        f"blades cared for on {cared_for}" if cared_for else "",
    ]
    return ", ".join(filter(None, words)) or "no figures"


def area_words(area_m2: float) -> str:
    """An area with its unit, as exact as a small lawn needs.

    >>> area_words(420), area_words(95.5), area_words(404.7), area_words(12345)
    ('420 m²', '95.5 m²', '405 m²', '12345 m²')
    """
    return f"{area_m2:.0f} m²" if area_m2 >= 100 else f"{area_m2:.3g} m²"


def as_typed(said: str) -> str:
    """A size as it was typed where that was in other units, to stand beside what it was taken for.

    >>> as_typed("1/4 acre"), as_typed("20 x 35 m")
    (' (1/4 acre)', '')
    """
    return f" ({said.strip()})" if _FOREIGN.search(said.casefold()) else ""


def meter_words(plain: Mapping[str, Any]) -> str:
    """A meter's accuracy as a data sheet gives it: as limits, while standard uncertainties are kept.

    >>> meter_words({"current_gain": 0.0115, "current_zero_a": 0.0577})
    'current ± 2 % of reading ± 0.1 A'
    """
    said = []
    for what, unit in (("current", "A"), ("voltage", "V")):
        gain, zero = plain.get(f"{what}_gain"), plain.get(f"{what}_zero_{unit.lower()}")
        parts = [
            *([f"± {100 * DATA_SHEET * float(gain):.2g} % of reading"] if gain else []),
            *([f"± {DATA_SHEET * float(zero):.2g} {unit}"] if zero else []),
        ]
        said += [" ".join([what, *parts])] if parts else []
    return ", ".join(said) or "no figures"


def grass_text(answer: GrassAnswer, width: int) -> str:
    """Each kind with its energy compared with dry grass, and how to tell it."""
    rows = [
        [line.name, f"{line.times:.2f}", f"{line.low:.2f} to {line.high:.2f}", line.how_to_tell]
        for line in answer.lines
    ]
    head = (
        f"Energy per area compared with dry grass 25 mm above the cut, from {counted(answer.mows)}; "
        "the band holds 90 % of the time."
    )
    kinds = table(["grass", "times", "band", "how to tell"], rows, width)
    return "\n".join([paragraph(head, width), kinds, paragraph(answer.growth, width)])
