"""Read the rows of an SQLite file page by page, where its own reader gives up.

Layout after the published file format, https://www.sqlite.org/fileformat2.html: sections 1.3 (header),
1.6 (b-tree pages), 2.1 (record format).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from estimator.logbook.tables import PAGE_SIZE

_TABLE_LEAF = 0x0D
"""The kind of a page that holds rows; SQLite database file format, 1.6."""
_INTEGER_BYTES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
"""Bytes taken by an integer of each serial type; SQLite database file format, 2.1."""


@dataclass(frozen=True)
class FoundRow:
    """A row found on a page: its row number and its cells."""

    rowid: int
    cells: tuple[Any, ...]


def found_rows(image: bytes) -> Iterator[FoundRow]:
    """Every row that can still be read on any table page of a file, in the order of the pages.

    A page or row that makes no sense is skipped. Rows are not verified: compare their checksums.
    """
    size = _page_size(image)
    for start in range(0, len(image) - size + 1, size):
        head = start + (100 if start == 0 else 0)
        if image[head] != _TABLE_LEAF:
            continue
        (count,) = struct.unpack_from(">H", image, head + 3)
        for number in range(min(count, size // 4)):
            try:
                (at,) = struct.unpack_from(">H", image, head + 8 + 2 * number)
                yield _row(image, start, at, size)
            except (struct.error, IndexError, ValueError):
                continue


def _page_size(image: bytes) -> int:
    if len(image) >= 18:
        (size,) = struct.unpack_from(">H", image, 16)
        size = 65536 if size == 1 else size
        if size >= 512 and size & (size - 1) == 0:
            return int(size)
    return PAGE_SIZE


def _row(image: bytes, start: int, at: int, size: int) -> FoundRow:
    if not 8 <= at < size:
        raise ValueError("cell outside its page")
    length, position = _varint(image, start + at)
    rowid, position = _varint(image, position)
    return FoundRow(rowid, _cells(_payload(image, position, length, size)))


def _payload(image: bytes, position: int, length: int, size: int) -> bytes:
    """The bytes of a row, including those on its overflow pages."""
    if length > len(image):
        raise ValueError("row longer than its file")
    most, least = size - 35, (size - 12) * 32 // 255 - 23
    if length <= most:
        return image[position : position + length]
    local = least + (length - least) % (size - 4)
    local = local if local <= most else least
    parts, missing = [image[position : position + local]], length - local
    (page,) = struct.unpack_from(">I", image, position + local)
    while missing > 0:
        start = (page - 1) * size
        if page < 1 or start + size > len(image):
            raise ValueError("overflow page outside the file")
        (page,) = struct.unpack_from(">I", image, start)
        parts.append(image[start + 4 : start + 4 + min(missing, size - 4)])
        missing -= size - 4
    return b"".join(parts)


def _cells(payload: bytes) -> tuple[Any, ...]:
    header, position = _varint(payload, 0)
    if header > len(payload):
        raise ValueError("row header longer than the row")
    kinds = []
    while position < header:
        kind, position = _varint(payload, position)
        kinds.append(kind)
    cells = []
    position = header
    for kind in kinds:
        cell, position = _cell(payload, position, kind)
        cells.append(cell)
    return tuple(cells)


def _cell(payload: bytes, position: int, kind: int) -> tuple[Any, int]:
    if kind == 0:
        return None, position
    if kind in (8, 9):
        return kind - 8, position
    if kind in _INTEGER_BYTES:
        end = position + _INTEGER_BYTES[kind]
        return int.from_bytes(payload[position:end], "big", signed=True), end
    if kind == 7:
        return struct.unpack_from(">d", payload, position)[0], position + 8
    if kind < 12:
        raise ValueError("reserved kind of cell")
    end = position + (kind - 12) // 2
    if end > len(payload):
        raise ValueError("cell longer than its row")
    raw = payload[position:end]
    return (raw if kind % 2 == 0 else raw.decode("utf-8")), end


def _varint(image: bytes, position: int) -> tuple[int, int]:
    value = 0
    for number in range(8):
        byte = image[position + number]
        value = (value << 7) | (byte & 0x7F)
        if byte < 0x80:
            return value, position + number + 1
    return (value << 8) | image[position + 8], position + 9
