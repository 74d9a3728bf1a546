"""Idle visitors lock nobody out: silent, half-sent and dribbling connections, from one address or many."""

from __future__ import annotations

import socket
import time
from contextlib import ExitStack
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from page_kit import BEARER, RunningPage, running_page

from estimator.page.door import connections as door
from estimator.page.door.connections import Connections

HALF = b"GET / HTTP/1.1\r\nHost: 127"


def _connected(page: RunningPage, stack: ExitStack, say: bytes = b"") -> socket.socket:
    end = stack.enter_context(socket.create_connection(("127.0.0.1", page.port), timeout=60))
    end.sendall(say)
    return end


@pytest.mark.parametrize(
    "say", [b"", HALF, b"POST /add HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 9\r\n\r\n1"]
)
def test_many_that_only_wait_lock_nobody_out(empty_page: RunningPage, say: bytes) -> None:
    with ExitStack() as stack, empty_page.visitor() as visitor:
        for _ in range(door.MOST + 50):
            _connected(empty_page, stack, say)
        for _ in range(3):
            assert visitor.get("/", headers={"connection": "close"}).status_code == 200


@pytest.mark.parametrize("say", [b"", HALF])
def test_who_says_nothing_for_too_long_is_let_go(
    empty_page: RunningPage, say: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "HEADERS_S", 0.3)
    with ExitStack() as stack:
        began, end = time.monotonic(), _connected(empty_page, stack, say)
        assert end.recv(1) == b""
        assert time.monotonic() - began < 30


def test_headers_in_drops_do_not_last_longer(
    empty_page: RunningPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "HEADERS_S", 0.5)
    with ExitStack() as stack:
        end, dropped = _connected(empty_page, stack), 0
        with pytest.raises(OSError):  # reset or broken pipe, by the system
            while True:
                end.sendall(b"x" if dropped else b"GET / HTTP/1.1\r\nX-Slow: ")
                dropped += 1
                time.sleep(0.1)
                assert dropped < 300


def test_an_upload_that_stands_still_is_let_go(
    empty_page: RunningPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "SILENT_S", 0.3)
    head = (
        f"POST /add HTTP/1.1\r\nHost: 127.0.0.1:{empty_page.port}\r\nContent-Length: 100\r\n"
        "Content-Type: multipart/form-data; boundary=b\r\n\r\n--b\r\n"
    )
    with ExitStack() as stack:
        assert _connected(empty_page, stack, head.encode()).recv(1) == b""


def test_an_answer_that_takes_long_is_waited_for(
    empty_page: RunningPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "HEADERS_S", 0.2)
    monkeypatch.setattr(door, "SILENT_S", 0.2)
    monkeypatch.setattr("estimator.page.interface.operations.mows", lambda *_, **__: time.sleep(3) or [])
    with empty_page.visitor() as visitor:
        assert visitor.get("/api/mows", headers=BEARER).json()["count"] == 0


class _End:
    """One end of an invented connection."""

    def __init__(self) -> None:
        self.open = True

    def fileno(self) -> int:
        return 5 if self.open else -1

    def shutdown(self, _how: int) -> None:
        self.open = False


def _room(**how: Any) -> tuple[Connections, SimpleNamespace]:
    clock = SimpleNamespace(now=0.0)
    return Connections(clock=lambda: clock.now, **how), clock


def test_each_address_gives_way_to_itself_first() -> None:
    room, clock = _room(most=10, share=3)
    ends = {}
    for clock.now, peer in enumerate([("a", 1), ("b", 1), ("a", 2), ("a", 3), ("a", 4), ("a", 5)]):
        ends[peer] = _End()
        assert room.admit(peer, ends[peer])
    assert [peer for peer, end in ends.items() if not end.open] == [("a", 1), ("a", 2)]


def test_paired_devices_stay_and_work_is_not_broken_off() -> None:
    room, _ = _room(most=3, share=3)
    ends = [_End() for _ in range(5)]
    for number in range(3):
        assert room.admit((f"device {number}", 1), ends[number])
    room.pair(("device 0", 1))
    room.wait(("device 1", 1), None)
    assert room.admit(("stranger", 1), ends[3])
    assert [end.open for end in ends[:3]] == [True, True, False]
    for peer in (("device 0", 1), ("stranger", 1)):
        room.wait(peer, None)
    assert not room.admit(("stranger", 2), ends[4]), "the page is at work for all three"
    assert [end.open for end in ends[:4]] == [True, True, False, True]
    ends[0].open = False
    assert room.admit(("stranger", 2), ends[4]), "one has ended"


def test_time_is_up_for_who_waits_and_not_for_the_page_itself() -> None:
    room, clock = _room()
    quick, slow = _End(), _End()
    room.admit(("a", 1), quick)
    room.admit(("b", 1), slow)
    room.wait(("b", 1), None)
    clock.now = door.HEADERS_S + 0.1
    room.sweep()
    assert (quick.open, slow.open) == (False, True)


def test_an_upload_that_is_cut_off_leaves_no_traceback(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with (
        running_page(tmp_path / "l.sqlite", tmp_path) as page,
        ExitStack() as stack,
        page.visitor() as visitor,
    ):
        head = (
            f"POST /add HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\nContent-Length: 100000\r\n"
            "Content-Type: multipart/form-data; boundary=b\r\n\r\n--b\r\n"
            'Content-Disposition: form-data; name="files"; filename="a.csv"\r\n\r\ntime,'
        )
        for _ in range(5):
            end = _connected(page, stack, head.encode())
            time.sleep(0.05)
            end.close()
        deadline = time.monotonic() + 60
        while page.app.state.connections._all and time.monotonic() < deadline:
            time.sleep(0.05)
        assert visitor.get("/").status_code == 200
    assert [record.getMessage() for record in caplog.records if record.levelname == "ERROR"] == []
