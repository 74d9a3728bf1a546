"""Pairing codes, paired devices, form tokens and the bearer secret."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from estimator.page.door.access import CODE_S, Doors
from estimator.page.door.paired import MOST_DEVICES, PairedDevices


class Clock:
    """A clock that a test sets."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def doors_with(clock: Clock | None = None, file: Path | None = None, secret: str = "secret") -> Doors:
    clock = clock or Clock()
    return Doors(secret, PairedDevices(file, age_s=60, clock=clock), clock=clock)


def test_a_code_pairs_one_device_once() -> None:
    doors = doors_with()
    code = doors.new_code()
    secret = doors.use_code(code, "phone")
    assert secret is not None
    assert doors.devices.is_let_in(secret)
    assert doors.use_code(code, "phone") is None
    assert [each.name for each in doors.devices.listed()] == ["phone"]


def test_a_guessed_code_opens_nothing_and_spends_nothing() -> None:
    doors = doors_with()
    code = doors.new_code()
    assert doors.use_code("guess", "phone") is None
    assert doors.use_code("", "phone") is None
    assert doors.use_code(code, "phone") is not None


def test_a_code_runs_out() -> None:
    clock = Clock()
    doors = doors_with(clock)
    early, late = doors.new_code(), doors.new_code()
    clock.now += CODE_S - 1
    assert doors.use_code(early, "phone") is not None
    clock.now += 1
    assert doors.use_code(late, "phone") is None


def test_a_pairing_ends_when_it_is_not_used_and_lives_on_when_it_is() -> None:
    clock = Clock()
    devices = PairedDevices(None, age_s=60, clock=clock)
    secret = devices.add("phone")
    for _ in range(50):
        clock.now += 59
        assert devices.is_let_in(secret)
    clock.now += 60
    assert devices.listed() == ()
    assert not devices.is_let_in(secret)


def test_devices_survive_a_restart_and_only_hashes_are_kept(tmp_path: Path) -> None:
    file = tmp_path / "kept" / "devices.json"
    devices = PairedDevices(file, age_s=60)
    secret, other = devices.add("phone"), devices.add("phone")
    assert secret not in file.read_text() and other not in file.read_text()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    again = PairedDevices(file, age_s=60)
    assert again.is_let_in(secret) and again.is_let_in(other)
    assert {each.name for each in again.listed()} == {"phone", "phone 2"}
    device = again.device_of(secret)
    assert device is not None
    again.revoke(device.key)
    later = PairedDevices(file, age_s=60)
    assert not later.is_let_in(secret)
    assert later.is_let_in(other)


@pytest.mark.parametrize("content", ["", "[1]", "{}", '[{"key": "x"}]', "\x00"])
def test_a_spoilt_file_lets_nobody_in(tmp_path: Path, content: str) -> None:
    file = tmp_path / "devices.json"
    file.write_text(content)
    devices = PairedDevices(file, age_s=60)
    assert devices.listed() == ()
    assert devices.is_let_in(devices.add("phone"))


def test_names_are_one_short_line() -> None:
    devices = PairedDevices(None, age_s=60)
    for name in ("", "  a \n b ", "x" * 500, "\u202eabc"):
        devices.add(name)
    assert {each.name for each in devices.listed()} == {"device", "a b", "x" * 40, "device 2"}


def test_closing_revokes_devices_and_voids_codes() -> None:
    doors = doors_with()
    first, unused = doors.use_code(doors.new_code(), "phone"), doors.new_code()
    doors.close_all()
    assert not doors.devices.is_let_in(first)
    assert doors.use_code(unused, "phone") is None


def test_devices_and_codes_are_bounded() -> None:
    clock = Clock()
    doors = doors_with(clock)
    first_code = doors.new_code()
    secrets = []
    for _ in range(MOST_DEVICES + 5):
        clock.now += 0.01
        secrets.append(doors.use_code(doors.new_code(), "phone"))
    assert len(doors.devices.listed()) == MOST_DEVICES
    assert not doors.devices.is_let_in(secrets[0])
    assert doors.devices.is_let_in(secrets[-1])
    for _ in range(30):
        doors.new_code()
    assert doors.use_code(first_code, "phone") is None


def test_a_form_token_belongs_to_one_visitor_and_one_run() -> None:
    doors = doors_with()
    token = doors.form_token("visitor")
    assert doors.is_form_token("visitor", token)
    assert not doors.is_form_token("another", token)
    assert not doors_with(secret="other secret").is_form_token("visitor", token)
    assert not doors.is_form_token(None, token)
    assert not doors.is_form_token("visitor", "")
    assert not doors.is_form_token("visitor", "über")


def test_the_bearer_must_be_exact() -> None:
    doors = doors_with()
    assert doors.is_bearer("Bearer secret")
    assert doors.is_bearer("bearer secret")
    for header in (
        None,
        "",
        "secret",
        "Basic secret",
        "Bearer secre",
        "Bearer secret2",
        "Bearer",
        "Bearer ü",
    ):
        assert not doors.is_bearer(header)
