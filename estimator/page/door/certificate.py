"""The page's own certificate: it encrypts what is sent to phones, and its fingerprint shows whose it is."""

from __future__ import annotations

import os
import ssl
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from ipaddress import ip_address
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from estimator.errors import InputError
from estimator.mends import Give

VALID = timedelta(days=397)
"""How long a certificate made here is valid."""

RENEWED = timedelta(days=30)
"""How long before the end of that time a new one is made."""


@dataclass(frozen=True)
class Certificate:
    """The files of a certificate and its key, and the SHA-256 that browsers show for it."""

    certificate: Path
    key: Path
    fingerprint: str


def given_certificate(certificate: str | Path, key: str | Path) -> Certificate:
    """The user's own certificate and key; InputError where they cannot be used together.

    certificate, key : PEM files, the key without a password
    """
    paths = Path(certificate).expanduser(), Path(key).expanduser()
    for what, path in zip(("certificate", "key"), paths, strict=True):
        try:
            path.read_bytes()
        except (OSError, ValueError) as error:
            said = getattr(error, "strerror", None) or error
            raise InputError(f"{what} {path} cannot be read ({said})", mend="name a PEM file") from None
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(*paths, password=_no_password)
        return Certificate(*paths, fingerprint_of(_loaded(paths[0])))
    except (ssl.SSLError, ValueError):
        raise InputError(
            f"{paths[0]} and {paths[1]} are not a certificate and its key",
            mend="give a certificate and its key without a password, both as PEM files",
        ) from None


def own_certificate(folder: Path, names: tuple[str, ...]) -> Certificate:
    """The certificate kept in a folder; made again where it is missing, near its end or lacks these names.

    names : the addresses and names under which the page is reached

    >>> folder = getfixture("tmp_path")
    >>> first = own_certificate(folder, ("192.0.2.7", "shed.local"))
    >>> len(first.fingerprint), own_certificate(folder, ("192.0.2.7", "shed.local")) == first
    (95, True)
    >>> own_certificate(folder, ("192.0.2.8",)) == first
    False
    """
    certificate, key = folder / "page-certificate.pem", folder / "page-key.pem"
    names = tuple(name for name in names if name.isascii())  # a certificate can hold no others
    try:
        kept = _loaded(certificate)
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key)
        fits = _names_of(kept) >= set(names) and kept.not_valid_after_utc - datetime.now(UTC) > RENEWED
    except (OSError, ValueError, x509.ExtensionNotFound):  # an SSLError is an OSError
        fits = False
    if not fits:
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            _make(certificate, key, names)
        except OSError as error:
            raise InputError(
                f"no certificate can be kept in {folder} ({error.strerror or error})",
                mend=(
                    "give one with ",
                    Give("certificate"),
                    " and ",
                    Give("key"),
                    ", or say ",
                    Give("not_encrypted"),
                ),
            ) from None
    return Certificate(certificate, key, fingerprint_of(_loaded(certificate)))


def fingerprint_of(certificate: x509.Certificate) -> str:
    """The SHA-256 of a certificate, written as browsers write it."""
    digest = sha256(certificate.public_bytes(serialization.Encoding.DER)).hexdigest().upper()
    return ":".join(digest[place : place + 2] for place in range(0, len(digest), 2))


def _make(certificate: Path, key: Path, names: tuple[str, ...]) -> None:
    private = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "mowcharge page")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))  # the clock of a phone may be behind
        .not_valid_after(now + VALID)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(private, hashes.SHA256())
    )
    text = private.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    key.unlink(missing_ok=True)
    with os.fdopen(os.open(key, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(text)
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))


def _loaded(path: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate(path.read_bytes())


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _names_of(certificate: x509.Certificate) -> set[str]:
    names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(name.value) for name in names}


def _no_password() -> str:
    raise ValueError("a key with a password")
