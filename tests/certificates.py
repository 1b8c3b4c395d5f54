"""Certificates that tests make for themselves, as PKCS#12 files, and how a signed paper is checked against one."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from typing import Any

from asn1crypto.x509 import Certificate as Asn1Certificate
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import BestAvailableEncryption, Encoding, pkcs12
from cryptography.x509.oid import NameOID
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko_certvalidator import ValidationContext

PASSWORD = "pass wörd #7"
NOW = dt.datetime.now(dt.UTC)


@dataclass(frozen=True)
class Made:
    """A certificate with its key: as a PKCS#12 file that `PASSWORD` opens, without the key, and by itself."""

    file: bytes
    without_key: bytes
    der: bytes


@cache
def certificate(first: int = -1, last: int = 30, curve: bool = False) -> Made:
    """Signed by itself, for `first` to `last` days from now."""
    key: Any = ec.generate_private_key(ec.SECP256R1()) if curve else rsa.generate_private_key(65537, 2048)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Brindle Hollow Power Equipment")])
    usage = {
        "digital_signature": True, "content_commitment": True, "key_encipherment": False, "data_encipherment": False,
        "key_agreement": False, "key_cert_sign": False, "crl_sign": False, "encipher_only": False, "decipher_only": False,
    }  # fmt: skip
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(7)
        .not_valid_before(NOW + dt.timedelta(days=first))
        .not_valid_after(NOW + dt.timedelta(days=last))
        .add_extension(x509.KeyUsage(**usage), critical=True)
        .sign(key, hashes.SHA256())
    )
    lock = BestAvailableEncryption(PASSWORD.encode())
    return Made(
        file=pkcs12.serialize_key_and_certificates(b"shop", key, made, None, lock),
        without_key=pkcs12.serialize_key_and_certificates(b"shop", None, made, None, lock),
        der=made.public_bytes(Encoding.DER),
    )


def verdict(pdf: bytes, der: bytes) -> tuple[bool, bool, str]:
    """Of the one signature of `pdf`: intact, trusted because of the certificate `der`, and how much of the file it covers."""
    (signature,) = PdfFileReader(BytesIO(pdf)).embedded_signatures
    trusted = ValidationContext(trust_roots=[Asn1Certificate.load(der)], allow_fetching=False)
    status = validate_pdf_signature(signature, trusted)
    return status.intact and status.valid, status.bottom_line, status.coverage.name
