"""The folder of a site's keys, and files in it."""

from datetime import UTC, datetime
from pathlib import Path

from cryptography import x509

from app.keys.site_keys import Purpose

NOW = datetime(2031, 5, 2, 12, 0, 0, 250000, tzinfo=UTC)
SITE = "Saint Invented Hospital"


def file_of(folder: Path, purpose: Purpose, ending: str) -> Path:
    (found,) = folder.glob(f"{purpose.value}-*.{ending}")
    return found


def certificate(folder: Path, purpose: Purpose) -> x509.Certificate:
    return x509.load_pem_x509_certificate(file_of(folder, purpose, "pem").read_bytes())
