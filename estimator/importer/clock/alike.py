"""The stamps of a column taken apart, at one go where all are alike: digits in the same places."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from estimator.importer.arrays import Ints
from estimator.importer.clock.stamps import CLOCKS, STYLES, Parts, Stamps, parts


def fixed_width(cells: npt.NDArray[np.bytes_], style: str) -> Stamps | None:
    """The parts of stamps that all have the same length and the same places for their digits.

    cells : (n,) array of bytes. None where lengths, marks or words differ; then each stamp must be taken
        apart alone.

    >>> fixed_width(np.array([b"2026-05-04 09:14:07", b"2026-05-04 09:14:08"]), "year first").seconds.tolist()
    [33247.0, 33248.0]
    """
    n, width = len(cells), cells.dtype.itemsize
    if n == 0 or width == 0 or style == "number":
        return None
    try:
        example = bytes(cells[0]).decode("ascii")
    except UnicodeDecodeError:
        return None
    found = STYLES[style].fullmatch(example)
    model = parts(example, style)
    if not found or model is None:
        return None
    # Along a row of letters of one place numpy is several times as fast as down a column.
    grid = np.ascontiguousarray(np.ascontiguousarray(cells).view(np.uint8).reshape(n, width).T)
    fields = {
        k: found.span(k)
        for k in found.re.groupindex
        if found.group(k) is not None and k not in ("zone", "half", "name", "mark")
    }
    moving = {k for lo, hi in fields.values() for k in range(lo, hi)}
    halves = np.broadcast_to(np.int64(model.half), (n,))
    if model.half:
        at = found.span("half")[0]
        letters = grid[at] | np.uint8(32)
        halves = np.select([letters == ord("a"), letters == ord("p")], [1, 2], default=0)
        if not bool(halves.all()):
            return None
        moving.add(at)
    for k in range(width):
        if k not in moving and bool(np.any(grid[k] != grid[k, 0])):
            return None
    values: dict[str, npt.NDArray[Any]] = {}
    for key, (lo, hi) in fields.items():
        # Millions of stamps in short numbers: seven fields of each would else be most of what reading needs.
        out: npt.NDArray[Any] = np.zeros(n, dtype=np.int16 if hi - lo <= 4 else np.int64)
        for k in range(lo, hi):
            digit = grid[k] - np.uint8(48)
            if bool(np.any(digit > 9)):
                return None
            out *= 10
            out += digit
        values[key] = out
    zero = np.int64(0)
    if bool(np.any(values.get("m", np.zeros(1)) > 59)) or bool(np.any(values.get("s", np.zeros(1)) > 60)):
        return None
    if style not in CLOCKS and bool(np.any(values.get("h", np.zeros(1)) > 24)):
        return None
    seconds = np.zeros(n)
    short_fraction = "mf" in values
    for key, scale in (
        ("days", 86400.0),
        ("h", 60.0 if short_fraction else 3600.0),
        ("m", 1.0 if short_fraction else 60.0),
        ("s", 1.0),
    ):
        if key in values:
            seconds += values.pop(key) * scale
    for key in ("f", "mf"):
        if key in values:
            seconds += values.pop(key) / 10.0 ** (fields[key][1] - fields[key][0])
    date = np.zeros((n, 3), dtype=np.int64)
    for k, key in enumerate("abc"):
        date[:, k] = values.get(key, zero)
    if "name" in found.re.groupindex:
        date = np.column_stack((_years(date[:, 2], fields.get("c")), np.full(n, model.b), date[:, 0]))
    elif style in ("year last", "short year first"):
        k = 2 if style == "year last" else 0
        date[:, k] = _years(date[:, k], fields.get("ca"[k == 0]))
    return Stamps(
        style=style, date=date, seconds=seconds, half=halves,
        zone_s=np.broadcast_to(np.float64(model.zone_s), (n,)),
        short=model.short, example=example,
    )  # fmt: skip


def stamps_of(cells: Sequence[str], style: str, decimal: str = ".") -> Stamps:
    """The parts of any stamps in one style; seconds are nan where one does not fit it.

    >>> stamps_of(["5.7.2026 9:14", "6.7.2026 10:14"], "year last").date.tolist()
    [[5, 7, 2026], [6, 7, 2026]]
    """
    alike = fixed_width(np.array([c.strip().encode("ascii", "replace") for c in cells]), style)
    if alike is not None:
        return alike
    told = [parts(c, style, decimal) or Parts(0, 0, 0, np.nan, 0, np.nan, False) for c in cells]
    return Stamps(
        style=style, date=np.array([(p.a, p.b, p.c) for p in told]),
        seconds=np.array([p.seconds for p in told]), half=np.array([p.half for p in told]),
        zone_s=np.array([p.zone_s for p in told]), short=any(p.short for p in told),
        example=cells[0],
    )  # fmt: skip


def _years(years: Ints, span: tuple[int, int] | None) -> Ints:
    return years + 2000 if span is not None and span[1] - span[0] == 2 else years
