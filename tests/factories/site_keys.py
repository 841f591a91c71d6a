"""The keys of an invented site, made once in a test run: they seal and sign as real ones do."""

import atexit
import shutil
import tempfile
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from app.keys import create_site_keys

# Before anything in a test happens, and less than a key's life ago.
MADE_AT = datetime(2031, 4, 1, 8, 0, tzinfo=UTC)


@cache
def site_keys() -> Path:
    """The folder with the keys; whoever changes something in it works on a copy."""
    folder = Path(tempfile.mkdtemp(prefix="countersign-site-keys-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    create_site_keys(folder, MADE_AT, site="Larkmoor General Hospital (invented)")
    return folder
