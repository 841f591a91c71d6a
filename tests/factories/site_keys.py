"""The keys of an invented site, made once in a test run: they seal and sign as real ones do."""

import atexit
import shutil
import tempfile
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from app.keys import Owner, create_site_keys

# Before anything in a test happens, and less than a key's life ago.
MADE_AT = datetime(2031, 4, 1, 8, 0, tzinfo=UTC)
# The installation that the sites of the tests are.
INSTALLATION = "d1f0c6a2b94e4c0f8a7e5b3d2c1a0f9e"


def owned(site: str, installation: str = INSTALLATION) -> Owner:
    """Whose keys they are, by the name of the site."""
    return Owner(site=site, installation=installation)


@cache
def site_keys() -> Path:
    """The folder with the keys; whoever changes something in it works on a copy."""
    folder = Path(tempfile.mkdtemp(prefix="countersign-site-keys-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    create_site_keys(folder, MADE_AT, owner=owned("Larkmoor General Hospital (invented)"))
    return folder
