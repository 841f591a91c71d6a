"""Whatever happened to the file of a store, each command that looks at it ends in words and in order.

The damage is drawn by number, and the same numbers every time: a sample in each run, the whole in `poe long`.
"""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from app.cli import main
from app.config.application_key import create_key_file
from tests.invariants.twins import Told
from tests.support.damaging import damaged
from tests.support.sampling import examples

DAMAGES = range(examples(sample=12, whole=400))
# A command, and with which status it may end.
COMMANDS = {
    ("verify", "--store", "--without-pages", "--processes", "1"): {0, 1, 2},
    ("verify", "--store", "--without-pages", "--json"): {0, 1, 2},
    ("invariants",): {0, 1, 2},
    ("doctor",): {0, 1},
    ("serve",): {0, 2},
    ("backup", "{folder}/copy"): {0, 1, 2},
}
OFTEN = 40


@pytest.fixture(scope="module")
def key_file(tmp_path_factory: pytest.TempPathFactory, told: Told) -> Path:
    path = tmp_path_factory.mktemp("key") / "application.key"
    create_key_file(path, told.ward.site.key.content)
    return path


@pytest.fixture
def environ(told: Told, key_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    for module in ("verify_store", "invariants", "doctor", "serve", "copies"):
        monkeypatch.setattr(f"app.cli.{module}.now", lambda: told.ward.now)
    # Whether it would be served is known then.
    monkeypatch.setattr("app.cli.serve._Server.run", lambda _: None)
    return {
        "DATABASE_URL": f"sqlite:///{tmp_path / 'damaged.sqlite3'}",
        "COUNTERSIGN_KEY_FILE": str(key_file),
        "COUNTERSIGN_SITE_KEYS": str(told.ward.site.site_keys),
        "COUNTERSIGN_TRUSTED_HOSTS": "checks.example",
    }


def ran(command: tuple[str, ...], environ: dict[str, str]) -> Result:
    folder = Path(environ["DATABASE_URL"].removeprefix("sqlite:///")).parent
    shutil.rmtree(folder / "copy", ignore_errors=True)
    return CliRunner().invoke(main, [each.format(folder=folder) for each in command], env=environ)


def put(content: bytes, environ: dict[str, str]) -> None:
    file = Path(environ["DATABASE_URL"].removeprefix("sqlite:///"))
    for left in file.parent.glob(f"{file.name}*"):
        left.unlink()
    file.write_bytes(content)
    file.chmod(0o600)


@pytest.mark.parametrize("number", DAMAGES)
def test_no_damage_ends_a_command_in_a_trace(number: int, told: Told, environ: dict[str, str]) -> None:
    content = told.file.read_bytes()
    # Now and then it was harmed more than once, as by a disk that fails.
    for each in range(1 + 10 * (number % 3 == 0)):
        content = damaged(content, number * OFTEN + each)
    for command, ends in COMMANDS.items():
        put(content, environ)
        result = ran(command, environ)
        assert result.exception is None or isinstance(result.exception, SystemExit), (
            command,
            result.exception,
        )
        assert result.exit_code in ends, (command, result.output)
        assert "Traceback" not in result.output
        if "--json" in command:
            said = json.loads(result.stdout)
            assert said.get("holds", False) is (result.exit_code == 0)


def test_the_store_as_it_was_passes_each_of_them(told: Told, environ: dict[str, str]) -> None:
    for command in COMMANDS:
        put(told.file.read_bytes(), environ)
        result = ran(command, environ)
        # Its rules are the invented ones, and no sweeper runs.
        expected = {"doctor": 1, "serve": 2}.get(command[0], 0)
        assert result.exit_code == expected, (command, result.output)
