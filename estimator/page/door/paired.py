"""Paired devices: named, listed, let in after a restart, revoked; only hashes of their secrets are kept."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from hashlib import sha256
from pathlib import Path
from secrets import token_hex, token_urlsafe
from threading import Lock
from time import time

MOST_DEVICES = 200  # bounds the file; the device used least recently is dropped first
LONGEST_NAME = 40  # characters that fit into a line on a phone
NOTED_S = 3600.0
"""How exactly [s] the file says when a device was last used, so that not every page writes it."""


@dataclass(frozen=True)
class Device:
    """One device: the hash of its secret, its name, when it was paired and last used [s, epoch]."""

    key: str
    name: str
    paired: float
    used: float


class PairedDevices:
    """The devices that are let in, kept in a file that only its user can read, if one is given.

    age_s : seconds after its last use at which a device must be paired again

    >>> devices = PairedDevices(getfixture("tmp_path") / "devices.json", age_s=60)
    >>> secret = devices.add("phone")
    >>> again = PairedDevices(getfixture("tmp_path") / "devices.json", age_s=60)
    >>> again.is_let_in(secret), [each.name for each in again.listed()]
    (True, ['phone'])
    >>> again.revoke(again.listed()[0].key)
    >>> again.is_let_in(secret)
    False
    """

    def __init__(self, file: Path | None, *, age_s: float, clock: Callable[[], float] = time) -> None:
        self._file, self._age_s, self._clock, self._lock = file, age_s, clock, Lock()
        self._devices: dict[str, Device] = {}
        if file is not None:
            with suppress(OSError, ValueError, TypeError):  # where the file cannot be read, nobody is let in
                found = [Device(**plain) for plain in json.loads(file.read_text(encoding="utf-8"))]
                self._devices = {each.key: each for each in found}
        self._noted = dict(self._devices)

    def add(self, name: str) -> str:
        """Let a device in; returns its secret, given only now. A name that is taken gets a number."""
        name = " ".join(name.split())[:LONGEST_NAME]
        name = name if name and name.isprintable() else "device"
        secret = token_urlsafe(24)
        with self._lock:
            taken = {each.name for each in self._devices.values()}
            numbered = (name if k == 1 else f"{name} {k}" for k in range(1, MOST_DEVICES + 2))
            now, key = self._clock(), _hash(secret)
            self._devices[key] = Device(key, next(each for each in numbered if each not in taken), now, now)
            for each in sorted(self._devices.values(), key=lambda one: one.used)[:-MOST_DEVICES]:
                del self._devices[each.key]
            self._keep()
        return secret

    def is_let_in(self, secret: str | None) -> bool:
        """Whether a device may enter; asking counts as using it."""
        device = self.device_of(secret)
        if device is None:
            return False
        with self._lock:
            now = self._clock()
            self._devices[device.key] = replace(device, used=now)
            noted = self._noted.get(device.key)
            if noted is None or now - noted.used >= NOTED_S:
                self._keep()
        return True

    def device_of(self, secret: str | None) -> Device | None:
        """The device that a secret belongs to; None where there is none or its pairing has run out."""
        with self._lock:
            device = self._devices.get(_hash(secret)) if secret else None
            if device is not None and self._clock() - device.used >= self._age_s:
                del self._devices[device.key]
                self._keep()
                return None
            return device

    def listed(self) -> tuple[Device, ...]:
        """The devices that may enter, the last used first."""
        with self._lock:
            now = self._clock()
            known = [each for each in self._devices.values() if now - each.used < self._age_s]
        return tuple(sorted(known, key=lambda each: -each.used))

    def revoke(self, key: str | None = None) -> None:
        """Let a device in no longer; without a key, none of them."""
        with self._lock:
            if key is None:
                self._devices.clear()
            self._devices.pop(key or "", None)
            self._keep()

    def _keep(self) -> None:
        self._noted = dict(self._devices)
        if self._file is None:
            return
        text = json.dumps([asdict(each) for each in self._devices.values()])
        part = self._file.with_name(f"{self._file.name}.{token_hex(4)}.part")
        with suppress(OSError):  # a full disk shuts nobody out: the pairing then lasts until the page ends
            self._file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
                out.write(text.encode())
            part.replace(self._file)


def _hash(text: str) -> str:
    return sha256(text.encode()).hexdigest()
