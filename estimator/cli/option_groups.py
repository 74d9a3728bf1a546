"""Options that go together: one parameter of a command stands for all of them."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass, make_dataclass
from functools import update_wrapper
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

import typer

from estimator.amounts import HAND_READINGS
from estimator.cli.options import (
    AirTemperature,
    Column,
    Days,
    Decide,
    Gap,
    Growth,
    Interval,
    MachineName,
    Moisture,
    PackName,
    Sheet,
    StartCharge,
    Tags,
    amount,
    meter_names,
)

if TYPE_CHECKING:
    from estimator.descriptions import Grass


@dataclass(frozen=True)
class GrassSaid:
    """What was said of the grass."""

    moisture: Moisture = None
    growth_mm: Growth = None
    days: Days = None

    def grass(self, before: Grass | None = None) -> Grass:
        """The grass, where nothing was said as it was before."""
        from estimator.descriptions import Grass

        was = before or Grass()
        return Grass(
            was.moisture if self.moisture is None else self.moisture,
            was.growth_mm if self.growth_mm is None else self.growth_mm,
            was.days_since_cut if self.days is None else self.days,
        )


@dataclass(frozen=True)
class MowSaid:
    """What was said of a mow besides its lawn and its grass."""

    pack: PackName = None
    machine: MachineName = None
    start_charge: StartCharge = None
    temperature_c: AirTemperature = None
    started: Annotated[
        str | None,
        typer.Option("--started", help="When it began: 2025-05-01T09:30, '12 Sep 9:30', yesterday."),
    ] = None
    tag: Tags = None


@dataclass(frozen=True)
class FilesSaid:
    """What was said of the files of meters."""

    meter: Annotated[
        list[str] | None,
        typer.Option(
            "--meter",
            autocompletion=meter_names,
            help="Which meter the files come from; for two, give it twice.",
        ),
    ] = None
    decide: Decide = None
    column: Column = None
    interval: Interval = None
    gap: Gap = None
    sheet: Sheet = None


HandReadings: Any = make_dataclass(
    "HandReadings",
    [(name, Annotated[float | None, amount(name)], None) for name in HAND_READINGS],
    frozen=True,
)
"""Readings taken by hand, one option each."""


def laid_out(command: Callable[..., Any]) -> Callable[..., Any]:
    """A command whose groups of options stand one by one, as the option parser wants them.

    A group is a parameter without a default whose type is a dataclass: its fields become the options.
    """
    hints = get_type_hints(command, include_extras=True)
    groups: dict[str, Any] = {name: kind for name, kind in hints.items() if is_dataclass(kind)}
    if not groups:
        return command
    options = []
    for name, param in inspect.signature(command).parameters.items():
        if name not in groups:
            options.append(param.replace(kind=param.KEYWORD_ONLY, annotation=hints[name]))
            continue
        types = get_type_hints(groups[name], include_extras=True)
        options += [
            inspect.Parameter(
                each.name, param.KEYWORD_ONLY, default=each.default, annotation=types[each.name]
            )
            for each in fields(groups[name])
        ]

    def run(**said: Any) -> Any:
        for name, kind in groups.items():
            said[name] = kind(**{each.name: said.pop(each.name) for each in fields(kind)})
        return command(**said)

    update_wrapper(run, command)
    run.__signature__ = inspect.Signature(options)  # type: ignore[attr-defined]
    run.__annotations__ = {each.name: each.annotation for each in options}
    return run
