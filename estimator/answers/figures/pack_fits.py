"""Whole fits of a pack, kept in the logbook after each of the last mows of its chain and some earlier."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from estimator.answers.figures.pack_steps import CHAIN_VERSION, END, KEEP_LAST, STEP, Chain, PackStep
from estimator.descriptions import Pack
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted
from estimator.logbook import Logbook, derived_of, forget_derived, keep_derived

FIT = "pack fit"
KEEP_EVERY = 16
"""Before the last KEEP_LAST mows, only one fit in so many (some 6 kB packed) is kept: 0.4 kB a mow."""


def keep_fit(logbook: Logbook, chain: Chain, before: int, step: PackStep, fitted: FittedPack) -> None:
    """Keep the step that comes after `before` others, and the whole fit after it."""
    with logbook.writing():
        keep_derived(logbook, step.mow, STEP, CHAIN_VERSION, asdict(step))
        plain = {"mark": step.mark, "fitted": _folded(fitted.as_plain())}
        keep_derived(logbook, step.mow, FIT, CHAIN_VERSION, plain)
        _thin_out(logbook, chain, before - KEEP_LAST, before - KEEP_LAST + 1)


def keep_end(logbook: Logbook, pack: Pack, chain: Chain) -> None:
    """Keep the end of a pack's chain."""
    end = chain.end()
    keep_derived(logbook, f"pack {pack.name}", END, CHAIN_VERSION, asdict(end))
    if chain.before:
        _thin_out(logbook, chain, chain.before, end.before)


def _thin_out(logbook: Logbook, chain: Chain, first: int, until: int) -> None:
    """Drop most whole fits of places that are no longer among the last, counted from zero."""
    for number in range(max(first, chain.before), until):
        if number % KEEP_EVERY:
            forget_derived(logbook, chain.places[number - chain.before].mow, FIT)


def fit_at(logbook: Logbook, pack: Pack, chain: Chain, steps: int) -> FittedPack | None:
    """The whole fit after so many steps, under the pack's present name; None where it is not kept."""

    if steps == chain.before:
        return None if steps else as_fitted(pack)
    last = derived_of(logbook, chain.places[steps - chain.before - 1].mow, FIT, CHAIN_VERSION)
    if last is None or last["mark"] != chain.mark(steps):
        return None
    fitted = _unfolded(last["fitted"])
    return FittedPack.from_plain({**fitted, "rated": {**fitted["rated"], "name": pack.name}})


def rounded(fitted: FittedPack) -> FittedPack:
    """A fit to nine digits, as it is kept: enough for any answer, and the same before and after keeping."""

    return FittedPack.from_plain(_unfolded(_short(_folded(fitted.as_plain()))))


def _folded(plain: dict[str, Any]) -> dict[str, Any]:
    """A fit's plain values with only the lower half of the covariance."""
    return {**plain, "covariance": [row[: place + 1] for place, row in enumerate(plain["covariance"])]}


def _unfolded(plain: dict[str, Any]) -> dict[str, Any]:
    """The inverse of `_folded`.

    >>> _unfolded({"covariance": [[4.0], [1.0, 9.0]]})
    {'covariance': [[4.0, 1.0], [1.0, 9.0]]}
    """
    half = plain["covariance"]
    return {
        **plain,
        "covariance": [
            [*row, *(below[place] for below in half[place + 1 :])] for place, row in enumerate(half)
        ],
    }


def _short(plain: Any) -> Any:
    if isinstance(plain, float):
        return float(f"{plain:.9g}")
    if isinstance(plain, dict):
        return {key: _short(value) for key, value in plain.items()}
    if isinstance(plain, list):
        return [_short(value) for value in plain]
    return plain
