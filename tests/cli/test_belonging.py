"""Keys belong to one installation: another's are refused at the start, with nothing written."""

import errno
import fcntl
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from app.cli import main
from app.keys import list_site_keys
from app.storage import open_store
from tests.factories.invented_site import SEED, install, own_rules

PASSPHRASE = "nine lanterns under the bridge"
Environ = dict[str, str]


def run(environ: Environ, *words: str) -> Result:
    return CliRunner().invoke(main, list(words), env=environ)


def environ_of(folder: Path) -> Environ:
    return {
        "DATABASE_URL": f"sqlite:///{folder / 'countersign.sqlite3'}",
        "COUNTERSIGN_KEY_FILE": str(folder / "keys" / "application.key"),
        "COUNTERSIGN_SITE_KEYS": str(folder / "keys" / "site"),
        "COUNTERSIGN_TRUSTED_HOSTS": "checks.example",
    }


def keys_of(environ: Environ) -> Environ:
    return {name: environ[name] for name in ("COUNTERSIGN_KEY_FILE", "COUNTERSIGN_SITE_KEYS")}


@pytest.fixture(scope="module")
def _two(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Two installations, each with keys of its own; made once."""
    made = []
    for name in ("ours", "theirs"):
        folder = tmp_path_factory.mktemp(name)
        assert install(own_rules(folder / "rules"), env=environ_of(folder)).exit_code == 0
        made.append(folder)
    return made[0], made[1]


@pytest.fixture
def ours(_two: tuple[Path, Path], tmp_path: Path) -> Environ:
    """A copy of the first, where it may be changed."""
    shutil.copytree(_two[0], tmp_path / "ours")
    return environ_of(tmp_path / "ours")


@pytest.fixture
def theirs(_two: tuple[Path, Path], tmp_path: Path) -> Environ:
    """The same of the second."""
    shutil.copytree(_two[1], tmp_path / "theirs")
    return environ_of(tmp_path / "theirs")


def entries(environ: Environ) -> int:
    store = open_store(environ["DATABASE_URL"])
    with store.read() as reader:
        head = reader.head()
    store.close()
    return head


def names_in(environ: Environ) -> set[str]:
    return {each.name for each in Path(environ["COUNTERSIGN_SITE_KEYS"]).glob("*")}


KEY, SITE_KEYS = "COUNTERSIGN_KEY_FILE", "COUNTERSIGN_SITE_KEYS"
MIGRATE = ("migrate",)
MAKING = ("--login", "n.new", "--staff-number", "LG-1", "--name", "Nora New", "--role", "nurse")
WRITING = (
    ("account", "make", *MAKING, "--unit", "ward-4-east"),
    ("bed", "add", "ward-4-east", "91"),
    ("export", "--from", "2031-01-01", "--to", "2031-01-02", "--format", "csv", "--out", "out.csv"),
    ("keys", "checkpoint"),
    ("keys", "create"),
    ("keys", "rotate", "seal"),
    ("keys", "found", "one", "other"),
    MIGRATE,
    ("rows",),
    ("serve",),
    ("sweep",),
)


@pytest.mark.parametrize(
    ("words", "setting"),
    # The tables are brought to a new version without the keys of the site.
    [*((words, SITE_KEYS) for words in WRITING if words != MIGRATE), *((words, KEY) for words in WRITING)],
    ids=lambda given: given if isinstance(given, str) else " ".join(given[:2]),
)
def test_keys_of_another_installation_are_refused_with_nothing_written(
    ours: Environ, theirs: Environ, words: tuple[str, ...], setting: str
) -> None:
    before, files = entries(ours), names_in(theirs)
    ran = run({**ours, setting: theirs[setting]}, *words)

    assert ran.exit_code == 2, ran.output
    assert "another installation" in ran.output
    assert all(line.startswith("error: ") for line in ran.output.splitlines()), ran.output
    assert (entries(ours), names_in(theirs)) == (before, files)


def test_the_same_keys_beside_their_own_database_are_let_in(ours: Environ) -> None:
    """The twin of the refusals."""
    before = entries(ours)
    ran = run(ours, "bed", "add", "ward-4-east", "91")
    assert ran.exit_code == 0, ran.output
    assert entries(ours) == before + 1


def test_doctor_names_what_belongs_elsewhere_and_which_installation_it_is(
    ours: Environ, theirs: Environ
) -> None:
    assert "ok     installation" in run(ours, "doctor").output
    for setting, part in (
        ("COUNTERSIGN_KEY_FILE", "application key"),
        ("COUNTERSIGN_SITE_KEYS", "keys of the site"),
    ):
        said = run({**ours, setting: theirs[setting]}, "doctor")
        assert f"FAULT  {part}: " in said.output
        assert "another installation" in said.output
        assert said.exit_code == 1


def test_what_is_moved_goes_on_with_the_same_keys(ours: Environ, tmp_path: Path) -> None:
    assert run(ours, "keys", "backup", str(tmp_path / "kept"), "--passphrase", PASSPHRASE).exit_code == 0
    shutil.copytree(tmp_path / "ours", tmp_path / "moved")
    shutil.rmtree(tmp_path / "moved" / "keys")
    moved = environ_of(tmp_path / "moved")

    assert run(moved, "keys", "restore", str(tmp_path / "kept"), "--passphrase", PASSPHRASE).exit_code == 0
    assert run(moved, "keys", "checkpoint").exit_code == 0


def test_another_installations_backup_is_not_restored(ours: Environ, theirs: Environ, tmp_path: Path) -> None:
    assert run(theirs, "keys", "backup", str(tmp_path / "kept"), "--passphrase", PASSPHRASE).exit_code == 0
    shutil.rmtree(tmp_path / "ours" / "keys")
    ran = run(ours, "keys", "restore", str(tmp_path / "kept"), "--passphrase", PASSPHRASE)

    assert ran.exit_code == 2
    assert "another installation" in ran.output
    assert not (tmp_path / "ours" / "keys").exists()


def test_keys_from_before_a_rotation_are_refused(ours: Environ, tmp_path: Path) -> None:
    """What such a key signs counts for nothing: another has taken its place."""
    shutil.copytree(ours["COUNTERSIGN_SITE_KEYS"], tmp_path / "before")
    assert run(ours, "keys", "rotate", "checkpoint").exit_code == 0
    assert run(ours, "keys", "checkpoint").exit_code == 0
    before = entries(ours)
    for words in (("keys", "checkpoint"), ("sweep",), ("serve",)):
        ran = run({**ours, "COUNTERSIGN_SITE_KEYS": str(tmp_path / "before")}, *words)
        assert ran.exit_code == 2
        assert "older than the log" in ran.output
    assert entries(ours) == before


def test_a_key_that_is_lost_is_not_silently_made_anew(ours: Environ) -> None:
    folder = Path(ours[SITE_KEYS])
    for each in folder.glob("*.key"):
        each.unlink()
    files = names_in(ours)
    assert run(ours, "keys", "create").exit_code == 2
    assert names_in(ours) == files


def test_a_lost_folder_is_not_silently_made_anew(ours: Environ) -> None:
    folder = Path(ours[SITE_KEYS])
    known = {each.kid for each in list_site_keys(folder)}
    shutil.rmtree(folder)
    before = entries(ours)
    for words in (("keys", "create"), ("keys", "rotate", "seal"), ("serve",)):
        ran = run(ours, *words)
        assert ran.exit_code == 2, ran.output
        assert not folder.exists()
    assert "restore" in run(ours, "keys", "create").output
    assert entries(ours) == before

    assert run(ours, "keys", "create", "--lost").exit_code == 0
    found = list_site_keys(folder)
    assert known < {each.kid for each in found}
    assert {each.kid for each in found if each.here}.isdisjoint(known)
    assert run(ours, "keys", "checkpoint").exit_code == 0


@pytest.mark.parametrize("left", ["COUNTERSIGN_KEY_FILE", "COUNTERSIGN_SITE_KEYS"])
def test_an_empty_installation_takes_no_keys_of_another(theirs: Environ, tmp_path: Path, left: str) -> None:
    new = {**environ_of(tmp_path / "new"), left: theirs[left]}
    files = names_in(theirs)
    ran = install(SEED, env=new)

    assert ran.exit_code == 2
    assert "another installation" in ran.output
    assert names_in(theirs) == files
    assert not (tmp_path / "new" / "countersign.sqlite3").exists()


@pytest.mark.parametrize("after", ["create_key_file", "migrate", "install_rules", "make_site_keys"])
def test_an_installation_that_was_broken_off_is_begun_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, after: str
) -> None:
    environ = environ_of(tmp_path / "new")
    with monkeypatch.context() as broken:
        broken.setattr(f"app.cli.install.{after}", dies_after(f"app.cli.install.{after}"))
        assert isinstance(install(SEED, env=environ).exception, LostMachineError)
    again = install(SEED, env=environ)

    assert again.exit_code == 0, again.output
    assert run(environ, "keys", "checkpoint").exit_code == 0
    assert install(SEED, env=environ).exit_code == 2


def test_an_installation_that_a_full_disk_broke_off_is_begun_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(descriptor: int) -> None:
        os.ftruncate(descriptor, 0)
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    environ = environ_of(tmp_path / "new")
    with monkeypatch.context() as filled:
        filled.setattr(os, "fsync", full)
        assert install(SEED, env=environ).exit_code == 2
    again = install(SEED, env=environ)

    assert again.exit_code == 0, again.output


class LostMachineError(Exception):
    """The machine went away."""


def dies_after(name: str) -> Callable[..., None]:
    from importlib import import_module

    module, _, attribute = name.rpartition(".")
    real = getattr(import_module(module), attribute)

    def dies(*given: object, **more: object) -> None:
        real(*given, **more)
        raise LostMachineError

    return dies


def copied(ours: Environ, to: Path) -> Environ:
    """The backup of an installation, elsewhere, with an empty folder for keys of the site."""
    shutil.copytree(Path(ours["COUNTERSIGN_KEY_FILE"]).parents[1], to)
    shutil.rmtree(to / "keys" / "site")
    return environ_of(to)


def installation_of(environ: Environ) -> str:
    (line,) = [each for each in run(environ, "doctor").output.splitlines() if "   installation " in each]
    return line.split()[2].rstrip(",")


def test_two_who_install_at_once_make_one_installation(tmp_path: Path, sqlite_url: str) -> None:
    keys = tmp_path / "keys"
    keys.mkdir(mode=0o700)
    environ = {"DATABASE_URL": sqlite_url, "COUNTERSIGN_KEY_FILE": str(keys / "application.key")}
    descriptor = os.open(keys, os.O_RDONLY)
    fcntl.flock(descriptor, fcntl.LOCK_EX)
    refused = install(env=environ)

    assert (refused.exit_code, refused.output) == (
        2,
        "error: another `countersign install` is at work here\n",
    )
    assert list(keys.iterdir()) == []
    os.close(descriptor)
    assert install(env=environ).exit_code == 0


def test_a_copy_for_training_is_told_apart_for_ever(ours: Environ, tmp_path: Path) -> None:
    copy = copied(ours, tmp_path / "copy")
    original = installation_of(ours)
    assert run(copy, "training", "copy", "wrong").exit_code == 2
    ran = run(copy, "training", "copy", original)
    assert ran.exit_code == 0, ran.output

    assert installation_of(copy) not in {original, ""}
    assert "a copy for training" in run(copy, "doctor").output
    assert run(copy, "keys", "checkpoint").exit_code == 0
    for environ, other in ((ours, copy), (copy, ours)):
        setting = "COUNTERSIGN_SITE_KEYS"
        refused = run({**environ, setting: other[setting]}, "keys", "checkpoint")
        assert refused.exit_code == 2
        assert "another installation" in refused.output
    assert run(copy, "training", "copy", original).exit_code == 2
    assert run(copy, "verify", "--store").exit_code == 0
    assert run(copy, "invariants").exit_code == 0


def test_an_installation_that_was_filled_for_training_says_so_and_verifies(
    ours: Environ, tmp_path: Path
) -> None:
    environ = environ_of(tmp_path)
    rules = str(own_rules(tmp_path / "rules"))
    assert run(environ, "install", "--training", "--rules", rules).exit_code == 0
    assert f"{installation_of(environ)}, for training" in run(environ, "doctor").output
    assert "training" not in run(ours, "doctor").output
    assert run(environ, "invariants").exit_code == 0


def test_no_set_of_cards_is_dealt_that_nobody_can_print(tmp_path: Path) -> None:
    environ = environ_of(tmp_path / "new")
    words = ["install", "--training", "--rules", str(own_rules(tmp_path / "rules"))]
    assert run(environ, *words).exit_code == 0
    deal = ["training", "cards", "--seed", "1", "--sets", "1", "--out"]
    refused = run(environ, *deal, str(tmp_path / "none" / "cards.pdf"))

    assert (refused.exit_code, refused.output) == (2, f"error: there is no folder {tmp_path / 'none'}\n")
    assert "sets 1 to 1;" in run(environ, *deal, str(tmp_path / "cards.pdf")).output


def test_an_installation_is_no_copy_of_itself(ours: Environ) -> None:
    """With its keys beside it, it is the original, however it was asked."""
    before = entries(ours)
    ran = run(ours, "training", "copy", installation_of(ours))
    assert ran.exit_code == 2
    assert "empty folder" in ran.output
    assert entries(ours) == before
