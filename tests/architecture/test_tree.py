import json
import re

import pytest

from app.config import root
from tests.support.tree import text_of, tracked_files

TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml",
    "app", "migrations", "templates", "static", "tests", "seed_data",
}  # fmt: skip

# One letter of each stands in brackets, so that this file keeps its own rule.
OWN_FOLDERS = "work|root|home|Users"
REGISTRIES = r"py[p]i\.org|python[h]osted|registry\.np[m]js|deb\.deb[i]an\.org"
NOT_THE_PROJECTS = re.compile(rf"(?<![\w.])/(?:{OWN_FOLDERS})/|{REGISTRIES}", re.IGNORECASE)


def test_the_top_level_is_fixed() -> None:
    names = {path.parts[0] for path in tracked_files()}

    assert {name for name in names if not name.startswith(".")} - TOP_LEVEL == set()


def test_no_file_names_a_machine_or_a_registry() -> None:
    found = [
        f"{path}:{number}"
        for path in tracked_files()
        for number, line in enumerate((text_of(path) or "").splitlines(), 1)
        if NOT_THE_PROJECTS.search(line)
    ]

    assert found == []


@pytest.mark.parametrize("line", ["see /" + "root/x", '"/' + "home/nurse/x", "https://py" + "pi.org/simple"])
def test_a_machine_or_a_registry_is_found(line: str) -> None:
    assert NOT_THE_PROJECTS.search(line)


@pytest.mark.parametrize("line", ["app/root/x", "/checks/work", "../home/x", "/etc/passwd"])
def test_other_paths_are_left_alone(line: str) -> None:
    assert not NOT_THE_PROJECTS.search(line)


@pytest.mark.parametrize("lock", [".ci/requirements.txt", ".ci/requirements-dev.txt"])
def test_a_lock_pins_everything_with_hashes_and_names_no_index(lock: str) -> None:
    text = (root() / lock).read_text(encoding="utf-8")
    entries = [line for line in text.splitlines() if line and not line.startswith((" ", "#"))]

    assert entries
    assert all(re.match(r"[a-z0-9.\[\]_-]+==\S+ (; .+ )?\\$", entry) for entry in entries)
    assert len(re.findall(r"--hash=sha256:[0-9a-f]{64}", text)) >= len(entries)
    assert "://" not in text
    assert "--" not in text.replace("--hash=", "")


def test_the_lock_of_npm_does_so_too() -> None:
    text = (root() / ".ci/npm/package-lock.json").read_text(encoding="utf-8")
    entries = {name: each for name, each in json.loads(text)["packages"].items() if name}

    assert entries
    assert all(re.fullmatch(r"sha512-[A-Za-z0-9+/]{86}==", each["integrity"]) for each in entries.values())
    assert not any("resolved" in each for each in entries.values())
    assert "://" not in text
