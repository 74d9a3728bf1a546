"""The settings that the page gets when it starts."""

from __future__ import annotations

from dataclasses import dataclass, field
from hashlib import sha256
from math import inf
from pathlib import Path
from secrets import token_urlsafe

from platformdirs import user_cache_path

MIB = 1024 * 1024  # IEC 80000-13


def uploads_of(logbook: str) -> Path:
    """The folder where uploads of a logbook wait; another logbook has another one, so that they never mix.

    >>> uploads_of("shed.sqlite") == uploads_of("club.sqlite")
    False
    """
    return user_cache_path("mowcharge") / sha256(logbook.encode()).hexdigest()[:16] / "uploads"


@dataclass(frozen=True)
class PageSettings:
    """How the page listens and what it accepts.

    logbook : where the logbook is (file or URL); None takes the usual place
    hosts : the values of the Host header that are answered, each with its port
    secret : what scripts send as bearer; form tokens are derived from it too
    pairing : whether every visitor must first be paired (always so where other computers can reach the page)
    fingerprint : SHA-256 of the certificate as browsers show it; None where nothing is encrypted
    pending_folder : where uploads wait until they are kept or thrown away
    upload_bytes : largest size of one upload [bytes], even unpacked
    upload_rows : largest number of rows in one upload
    form_bytes : largest size of any other form [bytes]
    device_s : how long after its last use [s] a device must be paired again; also the age of its cookie
    devices_file : where paired devices are kept; None keeps them only while the page runs
    follow : a file that a logger is writing, shown live; None shows readings that are posted
    patience_s : how long [s] a page waits for an answer before it says that it is being worked out
    ahead : whether the usual answers are worked out after each change, before they are asked
    """

    logbook: str | Path | None = None
    hosts: frozenset[str] = frozenset()
    secret: str = field(default_factory=lambda: token_urlsafe(24))
    pairing: bool = False
    fingerprint: str | None = None
    pending_folder: Path = field(default_factory=lambda: user_cache_path("mowcharge") / "uploads")
    upload_bytes: int = 64 * MIB
    upload_rows: int = 2_000_000
    form_bytes: int = MIB // 4
    device_s: float = 400 * 24 * 3600.0
    devices_file: Path | None = None
    follow: Path | None = None
    patience_s: float = inf
    ahead: bool = False

    @property
    def scheme(self) -> str:
        """The beginning of the page's addresses, "http" or "https"."""
        return "http" if self.fingerprint is None else "https"
