"""Finds the browser that the tests drive."""

import shutil


def chromium() -> str:
    """The path of Chromium; RuntimeError where there is none, so that its tests fail."""
    found = shutil.which("chromium")
    if found is None:
        message = "Chromium is not installed and the browser tests need it: run .ci/setup --dev"
        raise RuntimeError(message)
    return found
