"""A small guard kept with bytes, from which damage in one place can be mended.

Bytes are divided into blocks. The guard holds a CRC-32 of each block, which shows the damaged one, and the
parity of all (their exclusive or, as in RAID 4: Patterson, Gibson and Katz 1988), which restores it.
"""

from __future__ import annotations

import zlib

BLOCK = 256
"""Bytes in a block: the most that can be mended. The guard takes 256 bytes and 1.6 % of what it guards."""

_SUM = 4
"""Bytes of a CRC-32."""


def guard_of(data: bytes) -> bytes:
    """The guard of some bytes.

    >>> len(guard_of(bytes(20_000)))
    572
    """
    parity = 0
    sums = bytearray()
    for block in _blocks(data):
        sums += zlib.crc32(block).to_bytes(_SUM, "big")
        parity ^= _number(block)
    return bytes(sums) + parity.to_bytes(BLOCK, "big")


def mended(data: bytes, guard: bytes) -> bytes | None:
    """The bytes as they were, where at most one block is damaged; None where more is, or the guard itself.

    >>> guard = guard_of(b"time,amps,volts" * 100)
    >>> mended(b"time,amqs,volts" + b"time,amps,volts" * 99, guard) == b"time,amps,volts" * 100
    True
    """
    blocks = _blocks(data)
    sums = [guard[place : place + _SUM] for place in range(0, len(guard) - BLOCK, _SUM)]
    if len(sums) != len(blocks):
        return None
    damaged = [
        place
        for place, (block, said) in enumerate(zip(blocks, sums, strict=True))
        if zlib.crc32(block).to_bytes(_SUM, "big") != said
    ]
    if len(damaged) > 1:
        return None
    for place in damaged:
        parity = int.from_bytes(guard[-BLOCK:], "big")
        for other, block in enumerate(blocks):
            parity ^= _number(block) if other != place else 0
        whole = parity.to_bytes(BLOCK, "big")[: len(blocks[place])]
        if zlib.crc32(whole).to_bytes(_SUM, "big") != sums[place]:
            return None
        blocks[place] = whole
    return b"".join(blocks)


def _blocks(data: bytes) -> list[bytes]:
    return [data[start : start + BLOCK] for start in range(0, len(data), BLOCK)]


def _number(block: bytes) -> int:
    return int.from_bytes(block.ljust(BLOCK, b"\0"), "big")
