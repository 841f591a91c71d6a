import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from app.config import WrongSettingError, create_key_file, read_key_file

KEY = bytes(range(32))


@pytest.fixture
def _careless_umask() -> Iterator[None]:
    before = os.umask(0)
    yield
    os.umask(before)


def test_a_key_comes_back_as_it_was_written(tmp_path: Path) -> None:
    path = tmp_path / "application.key"
    create_key_file(path, KEY)

    assert read_key_file(path) == KEY


@pytest.mark.usefixtures("_careless_umask")
def test_only_its_owner_can_reach_it(tmp_path: Path) -> None:
    path = tmp_path / "keys" / "application.key"
    create_key_file(path, KEY)

    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_a_key_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "application.key"
    create_key_file(path, KEY)

    with pytest.raises(FileExistsError):
        create_key_file(path, KEY[::-1])
    assert read_key_file(path) == KEY


def test_a_short_key_is_a_fault_of_the_program(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="32 bytes"):
        create_key_file(tmp_path / "application.key", KEY[:31])
    assert not (tmp_path / "application.key").exists()


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660, 0o620])
def test_a_key_that_others_can_reach_is_refused(tmp_path: Path, mode: int) -> None:
    path = tmp_path / "application.key"
    create_key_file(path, KEY)
    path.chmod(mode)

    with pytest.raises(WrongSettingError, match="chmod 600"):
        read_key_file(path)


def test_a_missing_key_is_named(tmp_path: Path) -> None:
    with pytest.raises(WrongSettingError, match="COUNTERSIGN_KEY_FILE: there is no such file"):
        read_key_file(tmp_path / "application.key")


@pytest.mark.parametrize("content", ["", "00" * 31, "00" * 33, "zz" * 32, "é"])
def test_what_is_not_a_key_is_refused_and_not_repeated(tmp_path: Path, content: str) -> None:
    path = tmp_path / "application.key"
    path.write_text(content, encoding="utf-8")
    path.chmod(0o600)

    with pytest.raises(WrongSettingError) as refused:
        read_key_file(path)
    assert str(refused.value) == "COUNTERSIGN_KEY_FILE: the file does not hold a key"
