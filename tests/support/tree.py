"""The project's own files, as the repository knows them."""

import subprocess
from pathlib import Path

from app.config import root


def tracked_files() -> list[Path]:
    """Every tracked file that is there, relative to the root."""
    listed = subprocess.run(
        # A continuous-integration clone may belong to another user than the one who runs the tests.
        ["git", "-c", "safe.directory=*", "ls-files", "-z"],
        check=True,
        capture_output=True,
        cwd=root(),
        text=True,
    )
    paths = [Path(name) for name in listed.stdout.split("\0") if name]
    return [path for path in paths if (root() / path).is_file()]


def text_of(path: Path) -> str | None:
    """The text of a tracked file, or None where it holds no text (a picture, a font)."""
    try:
        return (root() / path).read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return None


def python_files(*folders: str) -> list[Path]:
    """The Python files under folders of the root, tracked or about to be, relative to the root."""
    return sorted(path.relative_to(root()) for folder in folders for path in (root() / folder).rglob("*.py"))
