"""Who gets in: one-time pairing codes, sessions that end, form tokens, the bearer secret."""

from __future__ import annotations

import hmac
from collections.abc import Callable
from hashlib import sha256
from secrets import token_urlsafe
from threading import Lock
from time import monotonic

CODE_S = 15 * 60.0
"""Seconds for which a pairing code can be used."""

LONGEST_SESSION_S = 7 * 24 * 3600.0
"""Seconds after which a session ends however busy it is."""

MOST_SESSIONS = 200
MOST_CODES = 20


class Doors:
    """The codes and sessions of one run of the page. Only their hashes are held.

    >>> doors = Doors("a secret of the run", session_s=60)
    >>> code = doors.new_code()
    >>> session = doors.use_code(code)
    >>> doors.is_open(session), doors.use_code(code) is None
    (True, True)
    """

    def __init__(self, secret: str, *, session_s: float, clock: Callable[[], float] = monotonic) -> None:
        self._secret, self._session_s, self._clock = secret.encode(), session_s, clock
        self._codes: dict[bytes, float] = {}
        self._sessions: dict[bytes, tuple[float, float]] = {}
        self._lock = Lock()

    def new_code(self) -> str:
        """A code that opens one session, once, within `CODE_S` seconds."""
        code = token_urlsafe(18)
        with self._lock:
            now = self._clock()
            fresh = {key: made for key, made in self._codes.items() if now - made < CODE_S}
            self._codes = dict(list(fresh.items())[-(MOST_CODES - 1) :])
            self._codes[_hash(code)] = now
        return code

    def use_code(self, code: str) -> str | None:
        """Spend a code; the new session's secret, or None where the code is wrong, spent or too old."""
        with self._lock:
            now = self._clock()
            made = self._codes.pop(_hash(code), None)
            if made is None or now - made >= CODE_S:
                return None
            session = token_urlsafe(24)
            while len(self._sessions) >= MOST_SESSIONS:
                del self._sessions[min(self._sessions, key=lambda key: self._sessions[key][1])]
            self._sessions[_hash(session)] = (now, now)
            return session

    def is_open(self, session: str | None) -> bool:
        """Whether the session still runs; asking keeps it alive."""
        if not session:
            return False
        key = _hash(session)
        with self._lock:
            opened, used = self._sessions.get(key, (None, 0.0))
            if opened is None:
                return False
            now = self._clock()
            if now - used >= self._session_s or now - opened >= LONGEST_SESSION_S:
                del self._sessions[key]
                return False
            self._sessions[key] = (opened, now)
            return True

    def close(self, session: str | None) -> None:
        """End one session."""
        if session:
            with self._lock:
                self._sessions.pop(_hash(session), None)

    def close_all(self) -> None:
        """End every session and take back every unused code."""
        with self._lock:
            self._sessions.clear()
            self._codes.clear()

    def session_count(self) -> int:
        """How many sessions are open, those that ran out left aside."""
        with self._lock:
            now = self._clock()
            return sum(now - used < self._session_s for _, used in self._sessions.values())

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
