import importlib
import json
import pkgutil
import subprocess
import sys

import pytest

from app.config import root
from tests.support.strictness import PURE_PACKAGES
from tests.support.tree import python_files

# What no pure package may bring along, however indirectly. (`os` is in every interpreter from the start:
# the import-linter contract forbids importing it.)
NEVER_PURE = {
    "alembic", "argon2", "click", "cryptography", "flask", "jinja2", "logging", "psycopg", "random",
    "secrets", "socket", "sqlalchemy", "sqlite3", "tempfile", "weasyprint", "werkzeug", "wtforms",
}  # fmt: skip

# Pint brings logging and more; what comes along besides it is the package's own doing.
KNOWS_UNITS = {
    "quantities",
    "dosing",
    "records",
    "people",
    "comparison",
    "accounting",
    "judging",
    "words",
    "review",
}

IMPORT_AND_TELL = """
import importlib, json, pkgutil, sys
if {units_first}:
    import pint
before = set(sys.modules)
package = importlib.import_module({name!r})
for module in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
    importlib.import_module(module.name)
print(json.dumps(sorted(set(sys.modules) - before)))
"""


def test_imports_point_inwards() -> None:
    linted = subprocess.run(
        [
            sys.executable,
            "-c",
            "from importlinter.cli import lint_imports_command as run; run()",
            "--no-cache",
        ],
        capture_output=True,
        check=False,
        cwd=root(),
        text=True,
    )

    assert linted.returncode == 0, linted.stdout + linted.stderr
    assert "0 broken" in linted.stdout


@pytest.mark.parametrize("name", PURE_PACKAGES)
def test_a_pure_package_brings_no_framework_along(name: str) -> None:
    script = IMPORT_AND_TELL.format(name=f"app.{name}", units_first=name in KNOWS_UNITS)
    told = subprocess.run([sys.executable, "-I", "-c", script], capture_output=True, check=True, text=True)
    brought = json.loads(told.stdout)

    assert f"app.{name}" in brought
    assert {module.partition(".")[0] for module in brought}.isdisjoint(NEVER_PURE)
    assert "app.config" not in brought


def test_the_root_package_is_empty() -> None:
    assert (root() / "app" / "__init__.py").read_bytes() == b""


def test_every_folder_of_the_app_is_a_package() -> None:
    found = {module.name for module in pkgutil.walk_packages(importlib.import_module("app").__path__, "app.")}
    names = (".".join(path.with_suffix("").parts).removesuffix(".__init__") for path in python_files("app"))

    assert set(names) - {"app"} == found
