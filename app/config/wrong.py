"""A setting that cannot be used; the operator mends it before anything starts."""


class WrongSettingError(ValueError):
    """Says which setting is wrong and how to write it; never repeats its value, which may hold a password."""

    def __init__(self, setting: str, how: str) -> None:
        super().__init__(f"{setting}: {how}")
        self.setting = setting
