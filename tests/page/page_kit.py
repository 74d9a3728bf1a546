"""A page that really listens, and visitors that talk to it."""

from __future__ import annotations

import os
import re
import shutil
import ssl
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import httpx
import pytest
from starlette.applications import Starlette

from estimator.page.app import doors_of, make_app
from estimator.page.door.access import Doors
from estimator.page.door.certificate import Certificate
from estimator.page.door.connections import Listening
from estimator.page.serve import own_hosts, server_of
from estimator.page.settings import PageSettings

SECRET = "a-secret-for-the-tests-only"
BEARER = {"authorization": f"Bearer {SECRET}"}
LONGEST_WAIT_S = 300
"""How long [s] a busy machine may take; only something that never comes takes longer."""
NO_TLS = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
"""Given to every visitor, who would otherwise load all trusted certificates for nothing."""
CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@dataclass(frozen=True)
class RunningPage:
    """A page that listens on a port of this computer."""

    address: str
    settings: PageSettings
    doors: Doors
    app: Starlette

    @property
    def port(self) -> int:
        return int(self.address.rpartition(":")[2])

    def visitor(self, **options: Any) -> httpx.Client:
        """A visitor with cookies of their own."""
        usual = {"verify": NO_TLS, "trust_env": False, "timeout": LONGEST_WAIT_S, "follow_redirects": True}
        return httpx.Client(base_url=self.address, **{**usual, **options})


@contextmanager
def running_page(
    logbook: Path, folder: Path, certificate: Certificate | None = None, **changes: Any
) -> Iterator[RunningPage]:
    """Serve the page on a free port until the block ends."""
    with Listening() as listening:
        listening.bind(("127.0.0.1", 0))
        port = listening.getsockname()[1]
        settings = PageSettings(logbook, own_hosts(port), SECRET, pending_folder=folder / "waiting")
        ways: dict[str, Any] = {"log_level": "critical", "timeout_keep_alive": LONGEST_WAIT_S}
        if certificate is not None:
            changes["fingerprint"] = certificate.fingerprint
            ways |= {"ssl_certfile": certificate.certificate, "ssl_keyfile": certificate.key}
        settings = replace(settings, **changes)
        doors = doors_of(settings)
        app = make_app(settings, doors)
        # a kept connection outlasts every pause of a test, so that none is closed while a request is sent
        server = server_of(app, listening, **ways)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        deadline = time.monotonic() + LONGEST_WAIT_S
        while not server.started and thread.is_alive() and time.monotonic() < deadline:
            time.sleep(0.01)
        assert server.started
        try:
            yield RunningPage(f"{settings.scheme}://127.0.0.1:{port}", settings, doors, app)
        finally:
            server.should_exit = True
            thread.join(LONGEST_WAIT_S)
            assert not thread.is_alive(), "the page did not end"


def token_of(visitor: httpx.Client, path: str = "/add") -> str:
    """The form token that a page shows to this visitor."""
    found = re.search(r'name="form_token" value="([0-9a-f]+)"', visitor.get(path).text)
    assert found is not None
    return found[1]


def read(answer: httpx.Response) -> str:
    """What a page shows, with plain blanks inside dates and figures."""
    return answer.text.replace("\u00a0", " ")


def upload(visitor: httpx.Client, *paths: Path) -> httpx.Response:
    """Send files as a browser would; the answer is the page that shows what was recognised."""
    files = [("files", (path.name, path.read_bytes())) for path in paths]
    return visitor.post("/add", data={"form_token": token_of(visitor)}, files=files)


def chromium_path() -> str:
    """Where Chromium is; without one a test is skipped, but under CI it fails."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("no Chromium: .ci/run must install Debian's package chromium")
        pytest.skip("no Chromium found; install Debian's package chromium")
    return found
