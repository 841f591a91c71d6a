"""Finds the browser that the tests drive."""

import shutil


def chromium() -> str:
    """The path of Chromium without windows, which is the same engine at half the cost."""
    return _path("chromium-headless-shell")


def whole_chromium() -> str:
    """The path of all of Chromium: what it remembers of a profile, and brings back after a crash."""
    return _path("chromium")


def _path(program: str) -> str:
    """RuntimeError where there is none, so that its tests fail."""
    found = shutil.which(program)
    if found is None:
        message = f"{program} is not installed and the browser tests need it: run .ci/setup --dev"
        raise RuntimeError(message)
    return found
