"""Commands that rename, merge and delete lawns, packs, machines and meters."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.asking import changes

Kind = Annotated[str, typer.Argument(metavar="KIND", help="lawn, pack, machine or meter.")]


@changes("logbook:rename", "{kind} {name}: now {done}", "renaming")
def rename(
    kind: Kind,
    name: Annotated[str, typer.Argument(metavar="NAME", help="Its name now.")],
    new: Annotated[str, typer.Argument(metavar="NEW", help="Its new name.")],
) -> None:
    """Rename a lawn, pack, machine or meter.

    Its mows and its history go with it.

    Example: mowcharge describe rename lawn "far meadow" "long meadow"
    """


@changes("logbook:merge", "{kind} {name}: merged into {into}, {done}", "merging")
def merge(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="lawn, pack or machine.")],
    name: Annotated[str, typer.Argument(metavar="NAME", help="The one to delete.")],
    into: Annotated[str, typer.Argument(metavar="INTO", help="The one that gets its mows.")],
) -> None:
    """Move all its mows to another one, and delete it.

    Example: mowcharge describe merge lawn "chapel strip" "far meadow"
    """


@changes("logbook:delete", "{kind} {name}: deleted; its description stays in the history", "deleting")
def delete(
    kind: Kind, name: Annotated[str, typer.Argument(metavar="NAME", help="What it is called.")]
) -> None:
    """Delete one that no mow uses.

    Example: mowcharge describe delete meter "shed clamp"
    """
