"""What this installation is told from outside: where its files stand, and the settings of its environment."""

from app.config.application_key import create_key_file, read_key_file
from app.config.paths import root
from app.config.settings import LOOPBACK, Settings, load_settings
from app.config.wrong import WrongSettingError

__all__ = [
    "LOOPBACK",
    "Settings",
    "WrongSettingError",
    "create_key_file",
    "load_settings",
    "read_key_file",
    "root",
]
