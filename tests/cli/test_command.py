import subprocess
import sys

import pytest
from click import Context
from click.testing import CliRunner

from app.cli import main

COMMANDS = tuple(main.list_commands(Context(main)))


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_that_is_listed_is_there_and_says_what_it_does(name: str) -> None:
    asked = CliRunner().invoke(main, [name, "--help"])

    assert asked.exit_code == 0, asked.output
    assert "Usage:" in asked.output


def test_an_unknown_command_is_refused() -> None:
    assert CliRunner().invoke(main, ["start-the-pump"]).exit_code == 2


def test_asking_for_help_loads_no_command() -> None:
    script = (
        "import sys; from app.cli import main; "
        "main(['--help'], standalone_mode=False); print(sorted(sys.modules))"
    )
    told = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True, text=True)

    assert "evaluate" in told.stdout
    assert "'sqlalchemy'" not in told.stdout
    assert "'flask'" not in told.stdout


def test_verify_asks_for_its_processes_before_it_loads_what_they_load_too() -> None:
    asked = (
        "import sys\n"
        "from multiprocessing import forkserver\n"
        "from app.cli import main\n"
        "def running():\n"
        "    raise SystemExit('app.storage' in sys.modules)\n"
        "forkserver.ensure_running = running\n"
        "main(['verify', '--store', '--processes', '2'])"
    )
    assert subprocess.run([sys.executable, "-c", asked], check=False).returncode == 0
