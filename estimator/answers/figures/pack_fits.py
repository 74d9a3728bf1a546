"""Whole fits of a pack, kept in the logbook after each of the last mows of its chain and some earlier."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from estimator.answers.figures.pack_steps import CHAIN_VERSION, KEEP_LAST, STEP, ChainEnd, PackStep
from estimator.descriptions import Pack
from estimator.logbook import Logbook, derived_of, forget_derived, keep_derived

if TYPE_CHECKING:
    from estimator.fitting.pack.fitted_pack import FittedPack

FIT = "pack fit"
KEEP_EVERY = 16
"""Before the last KEEP_LAST mows, only one fit in so many (some 6 kB packed) is kept: 0.4 kB a mow."""


def keep_fit(logbook: Logbook, step: PackStep, fitted: FittedPack, before: ChainEnd) -> None:
    """Keep a step and the whole fit after it; drop most fits that are no longer among the last.

    before : where the chain ended before the step
    """
    keep_derived(logbook, step.mow, STEP, CHAIN_VERSION, asdict(step))
    plain = {"mark": step.mark, "fitted": _folded(fitted.as_plain())}
    keep_derived(logbook, step.mow, FIT, CHAIN_VERSION, plain)
    place = before.steps - len(before.last)
    if len(before.last) == KEEP_LAST and place % KEEP_EVERY:
        forget_derived(logbook, before.last[0].mow, FIT)


def fit_at(logbook: Logbook, pack: Pack, end: ChainEnd) -> FittedPack | None:
    """The whole fit at the end of a chain, under the pack's present name; None where it is not kept."""
    from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted

    if end.mow == 0:
        return as_fitted(pack)
    last = derived_of(logbook, end.mow, FIT, CHAIN_VERSION)
    if last is None or last["mark"] != end.mark:
        return None
    fitted = _unfolded(last["fitted"])
    return FittedPack.from_plain({**fitted, "rated": {**fitted["rated"], "name": pack.name}})


def rounded(fitted: FittedPack) -> FittedPack:
    """A fit to nine digits, as it is kept: enough for any answer, and the same before and after keeping."""
    from estimator.fitting.pack.fitted_pack import FittedPack

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
