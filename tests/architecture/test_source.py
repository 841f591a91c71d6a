import ast
import subprocess
import sys
from collections.abc import Iterator

import pytest

from app.config import root
from tests.support.tree import python_files, text_of, tracked_files

EXACT_PACKAGES = ("base", "quantities", "dosing", "comparison", "accounting", "judging", "people", "records")
LINES_IN_A_FILE = 400
# Data and legal text, and what a program writes.
NOT_READ_LINE_BY_LINE = {"LICENSE", ".ci/requirements.txt", ".ci/requirements-dev.txt", "pyproject.toml"}
RUFF = [sys.executable, "-m", "ruff", "check", "--quiet", "--output-format", "concise"]
READ_BY_PEOPLE = {".py", ".html", ".css", ".js", ".md", ".svg", ".txt", ".xml"}


def inexact(tree: ast.AST) -> Iterator[str]:
    """Where floating numbers come in; asking whether something is one, to refuse it, is no such place."""
    asked = {id(part) for node in ast.walk(tree) if _asks_for_type(node) for part in ast.walk(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, float):
            yield f"line {node.lineno}: {node.value}"
        if isinstance(node, ast.Name) and node.id in {"float", "Decimal"} and id(node) not in asked:
            yield f"line {node.lineno}: {node.id}"
        if isinstance(node, ast.Import | ast.ImportFrom) and "decimal" in _imported(node):
            yield f"line {node.lineno}: decimal"


def _asks_for_type(node: ast.AST) -> bool:
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "isinstance"


def _imported(node: ast.Import | ast.ImportFrom) -> set[str]:
    return {alias.name for alias in node.names} if isinstance(node, ast.Import) else {node.module or ""}


@pytest.mark.parametrize("package", EXACT_PACKAGES)
def test_the_rules_are_exact(package: str) -> None:
    found = [
        f"{path}: {where}"
        for path in python_files(f"app/{package}")
        for where in inexact(ast.parse((root() / path).read_text(encoding="utf-8")))
    ]

    assert found == []


@pytest.mark.parametrize(
    "source",
    ["dose = 0.2", "dose = float('1')", "dose: float = 1", "import decimal", "from decimal import Decimal"],
)
def test_a_floating_number_is_found(source: str) -> None:
    assert list(inexact(ast.parse(source))) != []


@pytest.mark.parametrize("source", ["dose = 1", "refused = isinstance(value, float)", "dose = '0.2 mg'"])
def test_an_exact_number_is_left_alone(source: str) -> None:
    assert list(inexact(ast.parse(source))) == []


def test_no_file_is_longer_than_a_reader_keeps_in_mind() -> None:
    too_long = [
        f"{path}: {lines} lines"
        for path in tracked_files()
        if path.suffix in READ_BY_PEOPLE and str(path) not in NOT_READ_LINE_BY_LINE
        if (lines := len((text_of(path) or "").splitlines())) > LINES_IN_A_FILE
    ]

    assert too_long == []


@pytest.mark.parametrize(
    "source",
    [
        "import random\n",
        "from random import randint\n",
        "from datetime import datetime\nnow = datetime.now(None)\n",
        "from datetime import datetime\nnow = datetime.utcnow()\n",
        "from datetime import date\nday = date.today()\n",
        "import time\nnow = time.time()\n",
        "import uuid\nname = uuid.uuid4()\n",
    ],
)
def test_clock_and_chance_are_refused_by_the_linter(source: str) -> None:
    linted = subprocess.run(
        [*RUFF, "--stdin-filename", "app/dosing/example.py", "-"],
        capture_output=True,
        check=False,
        cwd=root(),
        input=source,
        text=True,
    )

    assert "TID251" in linted.stdout
