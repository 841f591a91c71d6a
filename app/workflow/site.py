"""What every action of the workflow stands on: the store and the key that seals readings."""

from dataclasses import dataclass

from app.keys import ApplicationKey
from app.storage import Store


@dataclass(frozen=True, kw_only=True)
class Site:
    """One installation."""

    store: Store
    key: ApplicationKey
