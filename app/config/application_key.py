"""The application key, in a file outside the database: whoever copies one does not have the other."""

import os
from pathlib import Path

from app.config.wrong import WrongSettingError

KEY_BYTES = 32
SETTING = "COUNTERSIGN_KEY_FILE"


def create_key_file(path: Path, key: bytes) -> None:
    """Writes a new key that only its owner may read; never over an old one (FileExistsError)."""
    if len(key) != KEY_BYTES:
        message = f"a key is {KEY_BYTES} bytes"
        raise ValueError(message)
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    # Closed to others from its first moment on, whatever the umask.
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        try:
            file.write(key.hex() + "\n")
            file.flush()
            os.fsync(file.fileno())
        except OSError:
            # Half a key is none, and would be in the way of a whole one.
            path.unlink()
            raise


def read_key_file(path: Path) -> bytes:
    """The key's 32 bytes; WrongSettingError where it is missing, open to others, or not a key."""
    try:
        with path.open(encoding="ascii") as file:
            open_to_others = os.fstat(file.fileno()).st_mode & 0o077
            text = file.read().strip()
    except FileNotFoundError:
        raise WrongSettingError(SETTING, "there is no such file") from None
    except UnicodeDecodeError:
        raise WrongSettingError(SETTING, "the file does not hold a key") from None
    if open_to_others:
        raise WrongSettingError(SETTING, "others than its owner can reach the file; chmod 600 it")
    return _key_in(text)


def _key_in(text: str) -> bytes:
    """The key that the text writes in hexadecimal."""
    try:
        key = bytes.fromhex(text)
    except ValueError:
        key = b""
    if len(key) != KEY_BYTES:
        raise WrongSettingError(SETTING, "the file does not hold a key")
    return key
