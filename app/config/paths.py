"""Where the project's files stand."""

from pathlib import Path


def root() -> Path:
    """The folder of app/, templates/, static/, seed_data/, migrations/; the installation is editable."""
    return Path(__file__).resolve().parents[2]
