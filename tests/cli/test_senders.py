"""Other systems that may send orders, and orders in files, on the command line."""

import errno
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from app.cli import main
from tests.factories.invented_site import SEED, install
from tests.factories.orders import as_both_read, as_message, order

NAME = "Orders of the house"


@pytest.fixture(autouse=True)
def environ(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sqlite_url: str) -> None:
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "keys" / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "keys" / "site"))
    assert install(SEED).exit_code == 0


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def test_files_of_a_folder_are_taken_or_refused_and_nothing_is_moved(tmp_path: Path) -> None:
    added = run("senders", "add", NAME)
    assert (added.exit_code, len(added.stdout.strip())) == (0, 43)
    folder = tmp_path / "orders"
    folder.mkdir()
    (folder / "1.json").write_bytes(as_message(as_both_read()))
    (folder / "2.json").write_bytes(as_message(order(intent="plan")))
    (folder / "3.json").write_bytes(b" " * 70_000)
    (folder / "note.txt").write_text("no order")

    taken = run("orders", f"--sender={NAME}", str(folder))

    assert taken.exit_code == 1
    assert taken.stdout == "1.json: taken\n"
    assert "2.json: refused: not-an-order: MedicationRequest.intent: Only an order is taken" in taken.stderr
    assert "3.json: refused: too-large" in taken.stderr
    assert run("orders", f"--sender={NAME}", str(folder / "1.json")).output == "1.json: taken\n"
    assert run("senders", "list").output == f"{NAME}: 1 taken, 1 not-an-order, 1 too-large\n"
    assert len(list(folder.iterdir())) == 4


def test_a_file_that_cannot_be_read_holds_up_none_behind_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("senders", "add", NAME)
    folder = tmp_path / "orders"
    folder.mkdir()
    for name in ("1.json", "2.json"):
        (folder / name).write_bytes(as_message(as_both_read()))
    (folder / "0.json").mkdir()
    whole = Path.open

    def closed(path: Path, *words: Any, **more: Any) -> object:  # noqa: ANN401  # whatever it is opened with
        if path.name == "1.json":
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return whole(path, *words, **more)

    monkeypatch.setattr(Path, "open", closed)
    taken = run("orders", f"--sender={NAME}", str(folder))

    assert (taken.exit_code, taken.stdout) == (1, "2.json: taken\n")
    assert taken.stderr == "1.json: cannot be read: Permission denied\n"


def test_a_place_that_is_named_is_never_passed_over(tmp_path: Path) -> None:
    run("senders", "add", NAME)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    message = as_message(as_both_read())
    with ThreadPoolExecutor(1) as other:
        other.submit(pipe.write_bytes, message)
        assert run("orders", f"--sender={NAME}", str(pipe)).output == "pipe: taken\n"


def test_a_sender_that_was_revoked_is_listed_and_let_in_no_more(tmp_path: Path) -> None:
    run("senders", "add", NAME)
    assert (
        run("senders", "revoke", NAME).output
        == f"{NAME} is let in no more, and no order that it sent counts\n"
    )
    file = tmp_path / "1.json"
    file.write_bytes(as_message(as_both_read()))
    refused = run("orders", f"--sender={NAME}", str(file))
    assert (refused.exit_code, "no sender that is let in" in refused.output) == (2, True)
    assert ", revoked 2" in run("senders", "list").output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("add", NAME), "Another sender has, or had, this name"),
        (("add", "-"), "Write a name of at most 60 characters"),
        (("revoke", "Nobody"), "no sender that is let in has this name"),
    ],
)
def test_what_cannot_be_done_is_said(words: tuple[str, ...], says: str) -> None:
    run("senders", "add", NAME)
    ran = run("senders", *words)
    assert (ran.exit_code, says in ran.output) == (2, True)
