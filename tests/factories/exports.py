"""Folders for exports, each of one site of a test; all are gone with the test run."""

import atexit
import shutil
import tempfile
from functools import cache
from itertools import count
from pathlib import Path

_numbers = count()


def exports_folder() -> Path:
    """A folder that no other site has; it is not there until somebody asks for an export."""
    return _folder() / str(next(_numbers))


@cache
def _folder() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="countersign-exports-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder
