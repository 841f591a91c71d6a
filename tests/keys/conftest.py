"""Here every secret is hashed anew: how long it takes is asked about too."""

import pytest
from argon2 import PasswordHasher

from app.keys import locked
from tests.support import quick


@pytest.fixture(autouse=True)
def _secrets_are_hashed_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(PasswordHasher, "verify", quick.SLOW_VERIFY)
    monkeypatch.setattr(locked, "hash_secret_raw", quick.SLOW_DERIVE)
