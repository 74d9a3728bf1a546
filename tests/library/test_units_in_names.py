"""The name of every number in every answer says its unit, or is known to be of a share, chance or ratio."""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib import import_module
from typing import Any

from estimator.cli.command_table import ANSWERS
from estimator.schema import schema_of_answer

UNITS = re.compile(
    r"(^|_)(a|ah|amps|c|days|h|k|mm|mm2|m|m2|m_s|min|minutes|mohm|ohm|ppm|s|seconds|v|w|wh|year|years|mow|mows"
    r"|wh_per_m2|m2_per_min|ah_per_h|days_since_cut)$"
)
"""Last words of a name that say the unit of its number."""

STATISTIC = re.compile(r"_(std|low|high|now|before|after|new|held|came|miss)$")
"""What may follow the unit: which statistic of the amount it is."""

SHARES = re.compile(
    r"(charge|chance|chance_within|(raw_|grass_|)change|grass_share|faded|held|reached|level|line|odds|reserve"
    r"|share|start_charge|sure|used|when_done|when_stopped|worst|typical)"
)
"""Shares and chances, 0..1, and changes as a share of what was before."""

RATIOS = re.compile(r"brier|expected|last_time|mean|minutes|miss|per_year|scale|stretch|tellable|times")
"""Ratios and scores without a unit; the docstring of their type says what they are."""

WITH_A_UNIT_BESIDE = {"value", "low", "high"}
"""Figures whose unit is another field of the same object, or of the object around it."""


def numbers(schema: dict[str, Any], name: str = "") -> Iterator[str]:
    """Names of all properties that can be a number."""
    kinds = schema.get("type", [])
    if name and "number" in ([kinds] if isinstance(kinds, str) else kinds):
        yield name
    for key, inner in schema.get("properties", {}).items():
        yield from numbers(inner, key)
    for inner in [*schema.get("anyOf", ()), *schema.get("prefixItems", ()), schema.get("items")]:
        if isinstance(inner, dict):
            yield from numbers(inner, name)
    for inner in schema.get("$defs", {}).values():
        yield from numbers(inner)


def says_its_unit(name: str) -> bool:
    plain = name
    while (shorter := STATISTIC.sub("", plain)) != plain:
        plain = shorter
    if UNITS.search(plain) or name in WITH_A_UNIT_BESIDE:
        return True
    return any(known.fullmatch(plain) for known in (SHARES, RATIOS))


def test_a_name_without_a_unit_is_noticed() -> None:
    assert says_its_unit("capacity_ah_std") and says_its_unit("minutes_low")
    assert not any(says_its_unit(name) for name in ("capacity", "power", "cut_off", "temperature_high"))


def test_every_number_of_every_answer_says_its_unit() -> None:
    names = {}
    for command, place in ANSWERS.items():
        module, _, function = place.partition(":")
        ask = getattr(import_module(f"estimator.{module}"), function)
        names |= dict.fromkeys(numbers(schema_of_answer(ask)), command)
    assert len(names) > 100
    assert [(name, command) for name, command in names.items() if not says_its_unit(name)] == []
