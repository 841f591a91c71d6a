"""An installation on the command line, with the rules that come with the program, or a site's own."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from app.cli import main
from app.config import root
from app.workflow.rule_files import FILES, UNITS

SEED = root() / "seed_data"
Files = dict[str, Any]


def install(folder: Path = SEED, *, env: dict[str, str] | None = None) -> Result:
    """`countersign install` with the rules of a folder."""
    return CliRunner().invoke(main, ["install", "--rules", str(folder)], env=env)


def changed_rules(folder: Path, change: Callable[[Files], object] = lambda _files: None) -> Path:
    """A folder with the invented rules, changed."""
    files = {name: json.loads((SEED / name).read_text(encoding="utf-8")) for name in (*FILES.values(), UNITS)}
    change(files)
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        (folder / name).write_text(json.dumps(content), encoding="utf-8")
    return folder


def own_rules(folder: Path, change: Callable[[Files], object] = lambda _files: None) -> Path:
    """The same, no longer said to be invented."""

    def own(files: Files) -> None:
        for name in FILES.values():
            del files[name]["invented"], files[name]["caution"]
            files[name]["version"] += "-own"
        change(files)

    return changed_rules(folder, own)
