"""Here every secret is hashed anew: how long it takes is asked about too."""

import shutil
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from joserfc.jwk import ECKey, OKPKey

from app.keys import locked
from app.keys.signatures import SigningKey, key_id, public_text, record_header, sign_detached_with
from app.keys.site_keys import create_site_keys
from tests.factories.site_keys import owned
from tests.keys.folder import NOW, SITE
from tests.keys.signed import DOCUMENT, record_signed
from tests.support import quick


@pytest.fixture(autouse=True)
def _secrets_are_hashed_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(PasswordHasher, "verify", quick.SLOW_VERIFY)
    monkeypatch.setattr(locked, "hash_secret_raw", quick.SLOW_DERIVE)


@pytest.fixture(
    params=[OKPKey.generate_key("Ed25519"), ECKey.generate_key("P-256")], ids=["Ed25519", "ES256"]
)
def key(request: pytest.FixtureRequest) -> SigningKey:
    made: SigningKey = request.param
    return made


@pytest.fixture
def public(key: SigningKey) -> str:
    return public_text(key)


@pytest.fixture
def signed(key: SigningKey, public: str) -> str:
    return sign_detached_with(key, record_header(record_signed(key_id(public))), DOCUMENT)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("keys") / "site-keys"
    create_site_keys(folder, NOW, owner=owned(SITE))
    return folder


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """A fresh copy of the keys, with the same rights."""
    return Path(shutil.copytree(made, tmp_path / "site-keys"))
