"""What the page is told when it starts."""

from __future__ import annotations

from dataclasses import dataclass, field
from hashlib import sha256
from math import inf
from pathlib import Path
from secrets import token_urlsafe

from platformdirs import user_cache_path

MIB = 1024 * 1024  # IEC 80000-13


def uploads_of(logbook: str) -> Path:
    """Where the uploads of a logbook wait: nobody is asked to keep one in another logbook.

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
    pairing : whether every visitor must be paired first (always so when other machines can reach the page)
    fingerprint : SHA-256 of its certificate as browsers show it, None where it is not encrypted
    pending_folder : where uploads wait until they are kept or thrown away
    upload_bytes : the most [bytes] that one upload may bring, also after unpacking
    upload_rows : the most rows that one upload may bring
    form_bytes : the most [bytes] that any other form may bring
    device_s : seconds after its last use at which a device must be paired again, and the age of its cookie
    devices_file : where paired devices are kept, None for as long as the page runs
    follow : a file that a logger is writing, shown live; None shows readings that are posted
    patience_s : seconds that a page waits for an answer before it says that it is being worked out
    ahead : whether the usual answers are worked out before they are asked, after each change
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
        """How addresses of the page begin."""
        return "http" if self.fingerprint is None else "https"
