"""Documents that name tests: each must be one."""

import ast
import re

from app.config import root

NAMED = re.compile(r"(tests/[\w/]+\.py)::(test_\w+)")


def not_tests(text: str) -> list[str]:
    """The tests that a text names and that are none."""
    return [f"{file}::{name}" for file, name in NAMED.findall(text) if name not in tests_in(file)]


def tests_in(file: str) -> set[str]:
    """The names of the tests in a file, also of those in a class."""
    path = root() / file
    if not path.is_file():
        return set()
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {each.name for each in ast.walk(tree) if isinstance(each, ast.FunctionDef)}


def rows_of(text: str) -> list[list[str]]:
    """The cells of each row of a document's tables, heads and rules left out."""
    lines = [line for line in text.splitlines() if line.startswith("|")]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return [row for row in rows if not set(row[0]) <= {"-"}][1:]
