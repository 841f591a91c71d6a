"""Why an installation may not be served, each with its mend; asked at the start and by whoever watches it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from app.config import Settings, WrongSettingError
from app.keys import load_key, load_site_keys
from app.records.formats import UnknownFormatError
from app.site.loading import rules_in_force
from app.storage import Schema, Store, StoreUnavailable, find_schema, open_store


@dataclass(frozen=True, kw_only=True)
class NotReady:
    """One fault: of what part, what it is, and what to do about it."""

    part: str
    fault: str
    mend: str

    @property
    def says(self) -> str:
        """In one line."""
        return f"{self.part}: {self.fault}; {self.mend}"


_SCHEMAS = {
    Schema.NONE: ("it has no tables of this program", "run `countersign install`"),
    Schema.OLDER: ("it is of an older version of this program", "run `countersign migrate`"),
    Schema.NEWER: ("it is of a newer version of this program", "install that version"),
}


def find_faults(settings: Settings, now: datetime) -> tuple[NotReady, ...]:
    """What keeps an installation from being served; a database that is not there is not asked further."""
    return (*_key_faults(settings, now), *_database_faults(settings, now))


def _key_faults(settings: Settings, now: datetime) -> Iterator[NotReady]:
    for part, ask in (
        ("application key", lambda: load_key(settings.key_file)),
        # Nothing is served that could not be sealed.
        ("keys of the site", lambda: load_site_keys(settings.site_keys, now)),
    ):
        try:
            ask()
        except WrongSettingError as wrong:
            yield NotReady(part=part, fault=str(wrong), mend="bring it back by `countersign keys restore`")
        except OSError as error:
            yield NotReady(part=part, fault=str(error.strerror), mend="let the program's user read it")


def _database_faults(settings: Settings, now: datetime) -> Iterator[NotReady]:
    try:
        schema = find_schema(settings.database_url)
    except StoreUnavailable:
        fault, mend = "it cannot be reached", "start it, or mend DATABASE_URL"
    else:
        if schema is Schema.CURRENT:
            store = open_store(settings.database_url)
            yield from rule_faults(store, now)
            store.close()
            return
        fault, mend = _SCHEMAS[schema]
    yield NotReady(part="database", fault=fault, mend=mend)


def rule_faults(store: Store, now: datetime) -> Iterator[NotReady]:
    """Rules that are missing, or that nobody may be treated by."""
    try:
        with store.read() as reader:
            rules = rules_in_force(reader, now)
            invented = rules.are_invented
    except UnknownFormatError as unknown:
        yield NotReady(part="rules", fault=unknown.says, mend="install the version that wrote it")
        return
    if not rules.published:
        yield NotReady(part="rules", fault="none have been published", mend="run `countersign install`")
    elif invented:
        fault = "some of those in force are invented, never for a patient"
        mend = "publish the site's own by `countersign rules publish`"
        yield NotReady(part="rules", fault=fault, mend=mend)
