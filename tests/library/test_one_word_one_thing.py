"""One word for one thing: command line, page, interface and library agree on names, limits and words."""

from __future__ import annotations

import importlib
import inspect
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, get_args, get_origin, get_type_hints

import pytest
import typer
from typer.models import OptionInfo

import estimator as est
from estimator.amounts import AMOUNTS, option_of, range_words
from estimator.cli.command_table import COMMANDS
from estimator.page.interface.openapi import field_of

PAGE = Path(est.__file__).parent / "page"
WITH_OWN_UNIT = {"zero_a", "current_percent", "zero_v", "voltage_percent", "every", "still"}
"""Numbers that only the command line takes: from a meter's data sheet, and seconds between two looks."""


def callbacks() -> Iterator[tuple[str, object]]:
    for name, entry in COMMANDS.items():
        module, _, attribute = entry.where.partition(":")
        target = getattr(importlib.import_module(f"estimator.cli.commands.{module}"), attribute)
        if isinstance(target, typer.Typer):
            yield from ((f"{name} {each.name}", each.callback) for each in target.registered_commands)
        else:
            yield name, target


def number_options() -> Iterator[tuple[str, tuple[str, str]]]:
    for name, callback in callbacks():
        for hint in get_type_hints(callback, include_extras=True).values():
            if get_origin(hint) is Annotated:
                kind, option = get_args(hint)[:2]
                if {kind, *get_args(kind)} & {float, list[float]} and isinstance(option, OptionInfo):
                    first = option.default if str(option.default).startswith("--") else option.param_decls[0]
                    flag = str(first)
                    yield f"{name} {flag}", (flag, option.help or "")


OPTIONS = dict(number_options())


@pytest.mark.parametrize("which", OPTIONS)
def test_an_option_is_the_librarys_name_with_its_range(which: str) -> None:
    flag, words = OPTIONS[which]
    name = flag.removeprefix("--").replace("-", "_")
    if name not in WITH_OWN_UNIT:
        assert option_of(name) == flag
        assert range_words(AMOUNTS[name], percent=True) in words


def test_the_interface_has_the_same_names_and_ranges() -> None:
    for name in AMOUNTS:
        schema, words = field_of(name)
        assert (schema["minimum"], schema["maximum"]) == (AMOUNTS[name].low, AMOUNTS[name].high)
        assert AMOUNTS[name].help in words


def test_the_page_asks_by_the_same_names() -> None:
    asked = set()
    for path in (PAGE / "templates").glob("*.html"):
        asked |= set(re.findall(r'field\("(\w+)"', path.read_text(encoding="utf-8")))
    numbers = {name for name in asked if re.search(r"_(ah|a|v|w|c|mm|s|ohm|hp|per_\w+|minutes)$", name)}
    others = {"one_way_m", "rated_w", "sizes_ah", "zero_a", "zero_v"}
    assert numbers - others <= set(AMOUNTS)
    assert {"sure", "reserve", "start_charge", "coldest_c"} <= asked


@pytest.mark.parametrize("name", [each for each in est.__all__ if inspect.isfunction(getattr(est, each))])
def test_the_library_takes_the_same_names(name: str) -> None:
    """The docstring gives a share the range that its name has."""
    words = inspect.getdoc(getattr(est, name)) or ""
    for parameter in inspect.signature(getattr(est, name)).parameters:
        amount = AMOUNTS.get(parameter)
        if amount is not None and amount.share:
            line = re.search(rf"^{parameter} : .*", words, re.M)
            assert line is not None
            assert f"{amount.low:g}..{amount.high:g}" in line[0]


def test_level_is_the_coverage_of_a_band_and_sure_is_a_certainty() -> None:
    taking = {
        word: {name for name in est.__all__ if inspect.isfunction(getattr(est, name))
               and word in inspect.signature(getattr(est, name)).parameters}
        for word in ("level", "sure")
    }  # fmt: skip
    assert taking["sure"] == {"lawns_per_charge", "recommend_capacity"}
    assert not taking["level"] & taking["sure"]
