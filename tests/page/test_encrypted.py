"""What is sent to other devices is encrypted, with the user's certificate or one made on the spot."""

from __future__ import annotations

import hashlib
import socket
import ssl
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from page_kit import LONGEST_WAIT_S, running_page, token_of

from estimator.errors import InputError
from estimator.page import serve as serving
from estimator.page.door import connections
from estimator.page.door.access import Doors
from estimator.page.door.certificate import Certificate, given_certificate, own_certificate
from estimator.page.door.paired import PairedDevices
from estimator.page.settings import PageSettings


@pytest.fixture
def own(tmp_path: Path) -> Certificate:
    """A certificate made on the spot for this computer."""
    return own_certificate(tmp_path / "kept", ("127.0.0.1", "localhost"))


def _trusting(certificate: Certificate) -> ssl.SSLContext:
    trusting = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    trusting.load_verify_locations(certificate.certificate)
    return trusting


def test_a_device_pairs_over_what_the_certificate_proves(tmp_path: Path, own: Certificate) -> None:
    with running_page(tmp_path / "l.sqlite", tmp_path, own, pairing=True) as page:
        shown = ssl.PEM_cert_to_DER_cert(ssl.get_server_certificate(("127.0.0.1", page.port)))
        assert own.fingerprint.replace(":", "").lower() == hashlib.sha256(shown).hexdigest()
        with page.visitor(verify=_trusting(own)) as phone:
            assert phone.get("/devices").status_code == 401
            code = page.doors.new_code()
            assert phone.get(f"/pair?code={code}").status_code == 200
            origin = {"origin": f"https://127.0.0.1:{page.port}"}
            paired = phone.post("/pair", data={"code": code}, headers=origin, follow_redirects=False)
            assert paired.status_code == 303
            assert "secure" in paired.headers["set-cookie"].lower()
            token = {"form_token": token_of(phone, "/devices")}
            made = phone.post("/devices/link", data=token, headers=origin).text
            assert f"https://127.0.0.1:{page.port}/pair?code=" in made
            assert own.fingerprint in made
            plain = phone.post(
                "/devices/link", data=token, headers={"origin": f"http://127.0.0.1:{page.port}"}
            )
            assert plain.status_code == 403
        with pytest.raises(httpx.HTTPError):
            httpx.get(f"http://127.0.0.1:{page.port}/", trust_env=False, timeout=LONGEST_WAIT_S)


def test_who_never_begins_to_encrypt_locks_nobody_out(tmp_path: Path, own: Certificate) -> None:
    with running_page(tmp_path / "l.sqlite", tmp_path, own) as page, ExitStack() as stack:
        for _ in range(connections.MOST + 50):
            stack.enter_context(socket.create_connection(("127.0.0.1", page.port)))
        with page.visitor(verify=_trusting(own)) as visitor:
            assert visitor.get("/").status_code == 200


def test_the_fingerprint_stands_beside_the_pairing_link(own: Certificate) -> None:
    settings = PageSettings(pairing=True, fingerprint=own.fingerprint)
    said = serving.announcement(
        settings, Doors("s" * 16, PairedDevices(None, age_s=60)), 8719, ("192.0.2.7",)
    )
    assert "https://192.0.2.7:8719/pair?code=" in said
    assert "http://" not in said
    assert own.fingerprint in said.replace("\n  ", ":").replace("::", ":")
    assert "not encrypted" not in said


def test_plain_only_where_it_is_asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serving, "user_data_path", lambda *_, **__: tmp_path / "data")
    made = serving._certificate(("192.0.2.7",), True, None, None, False)
    assert made is not None
    assert made.key.stat().st_mode & 0o777 == 0o600
    assert serving._certificate(("192.0.2.7",), True, None, None, False) == made, "it is made once"
    assert serving._certificate(("192.0.2.7",), True, None, None, True) is None
    assert serving._certificate((), False, None, None, False) is None, "this computer only"
    mine = serving._certificate((), False, made.certificate, made.key, False)
    assert mine is not None
    assert mine.fingerprint == made.fingerprint


def test_a_certificate_near_its_end_is_made_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = own_certificate(tmp_path, ("127.0.0.1",))
    monkeypatch.setattr("estimator.page.door.certificate.RENEWED", timedelta(days=400))
    assert own_certificate(tmp_path, ("127.0.0.1",)).fingerprint != first.fingerprint


@pytest.mark.parametrize(
    ("certificate", "key", "plain", "line"),
    [
        ("c", None, False, "the key of the certificate is missing; give a certificate"),
        (None, "k", False, "the certificate of the key is missing; give a certificate"),
        ("c", "k", True, "that is not encrypted; leave out certificate or not_encrypted"),
        ("none.pem", "none.pem", False, "certificate none.pem cannot be read (No such file or directory)"),
        (__file__, __file__, False, "give a certificate and its key without a password, both as PEM files"),
    ],
)  # fmt: skip
def test_what_cannot_encrypt_is_one_line(certificate: Any, key: Any, plain: bool, line: str) -> None:
    with pytest.raises(InputError) as caught:
        serving._certificate((), True, certificate, key, plain)
    assert line in str(caught.value)


def test_a_key_of_another_certificate_or_with_a_password_is_refused(tmp_path: Path, own: Certificate) -> None:
    from cryptography.hazmat.primitives import serialization

    other = own_certificate(tmp_path / "other", ("127.0.0.1",))
    locked = tmp_path / "locked.pem"
    private = serialization.load_pem_private_key(own.key.read_bytes(), None)
    locked.write_bytes(
        private.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.BestAvailableEncryption(b"password"),
        )
    )
    for key in (other.key, locked):
        with pytest.raises(InputError, match="are not a certificate and its key"):
            given_certificate(own.certificate, key)
    assert given_certificate(own.certificate, own.key).fingerprint == own.fingerprint
