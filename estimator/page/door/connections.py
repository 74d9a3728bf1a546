"""Room for every visitor: idle connections are closed, each address has its share, paired devices come first.

The server itself limits none of this: it would keep a connection that never sends anything for ever.
"""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from time import monotonic
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

MOST = 200
"""How many connections can be open at once."""

SHARE = 60
"""How many connections can be open at once from one address."""

HEADERS_S = 10.0
"""How long [s] a visitor may take to send a request."""

SILENT_S = 30.0
"""How long [s] an upload may pause, or an answer stay unread."""

Peer = tuple[str, int]


@dataclass(eq=False)
class Connection:
    """One connection; `until` is when waiting for the visitor ends, None while the page itself is at work."""

    peer: Peer
    socket: Any
    until: float | None
    fresh: bool = True
    paired: bool = False


class Connections:
    """All connections of one page.

    >>> from types import SimpleNamespace as Socket
    >>> room, closed = Connections(most=2), []
    >>> for number in range(3):
    ...     end = Socket(fileno=lambda: 1, shutdown=lambda how, number=number: closed.append(number))
    ...     room.admit(("192.0.2.1", number), end)
    True
    True
    True
    >>> closed
    [0]
    """

    def __init__(
        self, *, most: int = MOST, share: int = SHARE, clock: Callable[[], float] = monotonic
    ) -> None:
        self._most, self._share, self._clock = most, share, clock
        self._all: dict[Peer, Connection] = {}

    def admit(self, peer: Peer, end: Any) -> bool:
        """Take in a connection, closing one that only waits if need be; False where none can be closed."""
        self.sweep()
        same = [each for each in self._all.values() if each.peer[0] == peer[0]]
        crowd = same if len(same) >= self._share else list(self._all.values())
        if len(same) >= self._share or len(self._all) >= self._most:
            waiting = [each for each in crowd if each.until is not None]
            if not waiting:
                return False
            self._end(min(waiting, key=lambda each: (each.paired, each.until)))
        self._all[peer] = Connection(peer, end, self._clock() + HEADERS_S)
        return True

    def known(self, peer: Peer) -> bool:
        """Whether the connection was taken in."""
        return peer in self._all

    def wait(self, peer: Peer, seconds: float | None, *, fresh: bool = False) -> None:
        """Wait for the visitor for so long from now on; None, without limit, while the page is at work."""
        found = self._all.get(peer)
        if found is not None:
            found.until, found.fresh = None if seconds is None else self._clock() + seconds, fresh

    def is_fresh(self, peer: Peer) -> bool:
        """Whether nothing of the next request has come yet."""
        found = self._all.get(peer)
        return found is not None and found.fresh

    def pair(self, peer: Peer | None) -> None:
        """Note that a connection is of a paired device, so that others are closed first."""
        found = self._all.get(peer) if peer is not None else None
        if found is not None:
            found.paired = True

    def leave(self, peer: Peer) -> None:
        """Forget a connection that has ended."""
        self._all.pop(peer, None)

    def sweep(self) -> None:
        """Close the connections whose time is up, and forget those that have ended."""
        now = self._clock()
        for each in list(self._all.values()):
            if each.socket.fileno() == -1:
                self.leave(each.peer)
            elif each.until is not None and each.until <= now:
                self._end(each)

    async def sweep_for_ever(self) -> None:
        """Sweep once a second."""
        while True:
            await asyncio.sleep(1)
            self.sweep()

    def _end(self, connection: Connection) -> None:
        self.leave(connection.peer)
        with suppress(OSError):  # the other side may just have closed it
            connection.socket.shutdown(socket.SHUT_RDWR)


class Listening(socket.socket):
    """A listening socket that refuses what there is no room for, before anything is encrypted or read."""

    connections: Connections

    def accept(self) -> tuple[socket.socket, Any]:
        """The next connection; one for which there is no room is closed at once."""
        end, peer = super().accept()
        if not self.connections.admit(peer[:2], end):
            end.close()
            raise ConnectionAbortedError
        return end, peer


def protocol_for(connections: Connections) -> type[H11Protocol]:
    """The server's protocol, which tells `connections` whether the visitor or the page is waited for."""

    class Watched(H11Protocol):
        def connection_made(self, transport: Any) -> None:
            super().connection_made(transport)
            self.peer: Peer = self.client or ("", 0)
            if not connections.known(self.peer):  # it was closed for another one before it was used
                transport.abort()
            connections.wait(self.peer, HEADERS_S, fresh=True)

        def connection_lost(self, exc: Exception | None) -> None:
            connections.leave(self.peer)
            super().connection_lost(exc)

        def data_received(self, data: bytes) -> None:
            if not self._note() and connections.is_fresh(self.peer):
                connections.wait(self.peer, HEADERS_S)
            super().data_received(data)
            self._note()

        def on_response_complete(self) -> None:
            connections.wait(self.peer, max(HEADERS_S, self.timeout_keep_alive), fresh=True)
            super().on_response_complete()
            self._note()  # the next request may have come already

        def pause_writing(self) -> None:
            connections.wait(self.peer, SILENT_S)
            super().pause_writing()

        def resume_writing(self) -> None:
            connections.wait(self.peer, None)
            super().resume_writing()

        def _note(self) -> bool:
            """While a request is under way, say what is waited for; returns whether one is."""
            under_way = self.cycle is not None and not self.cycle.response_complete
            if under_way:
                connections.wait(self.peer, SILENT_S if self.cycle.more_body else None)
            return under_way

    return Watched
