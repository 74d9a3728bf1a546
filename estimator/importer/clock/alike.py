"""The stamps of a column taken apart, all at once where they have their digits in the same places."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from estimator.importer.clock.stamps import FIELDS, STYLES, Parts, Stamps, may_be_clock, parts, put_together


def fixed_width(cells: npt.NDArray[np.bytes_], style: str) -> Stamps | None:
    """The parts of stamps that all have the same length, with their digits in the same places.

    cells : (n,) array of bytes

    None where lengths, marks or words differ: then each stamp must be taken apart by itself.

    >>> fixed_width(np.array([b"2026-05-04 09:14:07", b"2026-05-04 09:14:08"]), "year first").seconds.tolist()
    [33247.0, 33248.0]
    """
    n, example = len(cells), bytes(cells[0]).decode("ascii", "replace") if len(cells) else ""
    if style == "number":
        return None
    found = STYLES[style].fullmatch(example)
    model = parts(example, style)
    if not found or model is None:
        return None
    # One row for each place: numpy is several times as fast along a row as down a column.
    grid = np.ascontiguousarray(np.ascontiguousarray(cells).view(np.uint8).reshape(n, -1).T)
    fields = {k: found.span(k) for k in FIELDS if k in found.re.groupindex and found.group(k) is not None}
    moving = {k for lo, hi in fields.values() for k in range(lo, hi)}
    told: dict[str, npt.NDArray[Any]] = {}
    if "half" in found.re.groupindex and found.group("half"):
        at = found.span("half")[0]
        letters = grid[at] | np.uint8(32)
        told["half"] = np.select([letters == ord("a"), letters == ord("p")], [1, 2], default=0)
        if not bool(told["half"].all()):
            return None
        moving.add(at)
    for k in range(len(grid)):
        if k not in moving and bool(np.any(grid[k] != grid[k, 0])):
            return None
    for key, (lo, hi) in fields.items():
        # Short integers, since seven fields of millions of stamps would else take most of the memory.
        kind = np.int64 if hi - lo > 4 else np.int16 if key in "abc" else np.int32
        out: npt.NDArray[Any] = np.zeros(n, dtype=kind)
        for k in range(lo, hi):
            digit = grid[k] - np.uint8(48)
            if bool(np.any(digit > 9)):
                return None
            out *= 10
            out += digit
        told[key] = out
    if not may_be_clock(style, {key: int(values.max()) for key, values in told.items()}):
        return None
    del grid, out
    month = model.b if "name" in found.re.groupindex else 0
    digits = {key: hi - lo for key, (lo, hi) in fields.items()}
    parts_of_date, seconds = put_together(style, told, digits, month)
    date = np.empty((n, 3), dtype=np.int64)
    for k, part in enumerate(parts_of_date):
        date[:, k] = part
    return Stamps(
        style=style, date=date, seconds=seconds, zone_s=np.broadcast_to(np.float64(model.zone_s), (n,)),
        short=model.short, example=example,
    )  # fmt: skip


def stamps_of(cells: Sequence[str], style: str, decimal: str = ".") -> Stamps:
    """The parts of any stamps in one style; seconds are nan for a stamp that does not fit it.

    >>> stamps_of(["5.7.2026 9:14", "6.7.2026 10:14"], "year last").date.tolist()
    [[5, 7, 2026], [6, 7, 2026]]
    """
    alike = fixed_width(np.array([c.strip().encode("ascii", "replace") for c in cells]), style)
    if alike is not None:
        return alike
    told = [parts(c, style, decimal) or Parts(0, 0, 0, np.nan, np.nan, False) for c in cells]
    return Stamps(
        style=style, date=np.array([(p.a, p.b, p.c) for p in told]),
        seconds=np.array([p.seconds for p in told]),
        zone_s=np.array([p.zone_s for p in told]), short=any(p.short for p in told),
        example=cells[0],
    )  # fmt: skip
