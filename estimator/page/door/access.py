"""Who gets in: one-time pairing codes, paired devices, form tokens, the bearer secret."""

from __future__ import annotations

import hmac
from collections.abc import Callable
from hashlib import sha256
from secrets import token_urlsafe
from threading import Lock
from time import monotonic

from estimator.page.door.paired import PairedDevices

CODE_S = 15 * 60.0
"""How long [s] a pairing code can be used."""

MOST_CODES = 20
"""How many pairing links can be open at a time."""


class Doors:
    """Pairing codes, the devices that used one, and the secret of the page while it runs.

    >>> doors = Doors("a secret of the run", PairedDevices(None, age_s=60))
    >>> code = doors.new_code()
    >>> secret = doors.use_code(code, "phone")
    >>> doors.devices.is_let_in(secret), doors.use_code(code, "phone") is None
    (True, True)
    """

    def __init__(
        self, secret: str, devices: PairedDevices, *, clock: Callable[[], float] = monotonic
    ) -> None:
        self.devices = devices
        self._secret, self._clock = secret.encode(), clock
        self._codes: dict[bytes, float] = {}
        self._lock = Lock()

    def new_code(self) -> str:
        """A code that pairs one device, once, within `CODE_S` seconds."""
        code = token_urlsafe(18)
        with self._lock:
            now = self._clock()
            fresh = {key: made for key, made in self._codes.items() if now - made < CODE_S}
            self._codes = dict(list(fresh.items())[-(MOST_CODES - 1) :])
            self._codes[_hash(code)] = now
        return code

    def use_code(self, code: str, name: str) -> str | None:
        """Use up a code; returns the new device's secret, None where the code is wrong, used or too old."""
        with self._lock:
            made = self._codes.pop(_hash(code), None)
            if made is None or self._clock() - made >= CODE_S:
                return None
        return self.devices.add(name)

    def close_all(self) -> None:
        """Let no device in any more, and make every unused code invalid."""
        self.devices.revoke()
        with self._lock:
            self._codes.clear()

    def form_token(self, visitor: str) -> str:
        """The token that a form shown to this visitor must send back."""
        return hmac.new(self._secret, b"form " + visitor.encode(), sha256).hexdigest()

    def is_form_token(self, visitor: str | None, token: str | None) -> bool:
        """Whether a form was shown by this page to this visitor."""
        if not visitor or not token:
            return False
        return hmac.compare_digest(self.form_token(visitor).encode(), token.encode())

    def is_bearer(self, header: str | None) -> bool:
        """Whether an Authorization header carries the secret."""
        scheme, _, given = (header or "").partition(" ")
        return scheme.lower() == "bearer" and hmac.compare_digest(given.strip().encode(), self._secret)


def _hash(text: str) -> bytes:
    return sha256(text.encode()).digest()
