"""Why an installation may not be served, each with its mend; asked at the start and by whoever watches it."""

from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from app.base.damage import Damaged, until_damaged
from app.config import Settings, WrongSettingError
from app.keys import list_site_keys, load_key, load_site_keys
from app.records.formats import UnknownFormatError
from app.records.rules import FORMATS
from app.site.installation import application_key_fault, site_keys_fault
from app.site.loading import rules_in_force
from app.storage import Reader, Schema, Store, StoreUnavailable, Trouble, find_schema, open_store


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


_APPLICATION_KEY, _SITE_KEYS = "application key", "keys of the site"
_SCHEMAS = {
    Schema.NONE: ("it has no tables of this program", "run `countersign install`"),
    Schema.OLDER: ("it is of an older version of this program", "run `countersign migrate`"),
    Schema.CLOSED: ("the program's role may not read it", "run `countersign migrate` as its owner"),
    Schema.NEWER: ("it is of a newer version of this program", "install that version"),
}


def find_faults(settings: Settings, now: datetime) -> tuple[NotReady, ...]:
    """What keeps an installation from being served; a database that is not there is not asked further."""
    missing = (*_owner_known(settings), *_key_faults(settings, now))
    parts = {each.part for each in missing}
    return (*missing, *unless_damaged(partial(_database_faults, settings, now, parts)))


def unless_damaged(look: Callable[[], Iterable[NotReady]]) -> Iterator[NotReady]:
    """What a look at the database finds; where it cannot be read any further, that."""
    for found in until_damaged(look):
        yield _damaged(f"it cannot be read ({found.kind})") if isinstance(found, Damaged) else found


def _damaged(fault: str) -> NotReady:
    return NotReady(part="database", fault=fault, mend="keep it as it is, and restore a backup")


def _owner_known(settings: Settings) -> Iterator[NotReady]:
    """Whoever breaks into the program would have the owner's password too."""
    if settings.owner_url:
        fault = "DATABASE_OWNER_URL is set, and a server has no use for the owner's password"
        yield NotReady(part="roles", fault=fault, mend="set it for `countersign migrate` alone")


def _key_faults(settings: Settings, now: datetime) -> Iterator[NotReady]:
    for part, ask in (
        (_APPLICATION_KEY, lambda: load_key(settings.key_file)),
        # Nothing is served that could not be sealed.
        (_SITE_KEYS, lambda: load_site_keys(settings.site_keys, now)),
    ):
        try:
            ask()
        except WrongSettingError as wrong:
            yield NotReady(part=part, fault=str(wrong), mend="bring it back by `countersign keys restore`")
        except OSError as error:
            yield NotReady(part=part, fault=str(error.strerror), mend="let the program's user read it")


def _database_faults(settings: Settings, now: datetime, missing: Collection[str]) -> Iterator[NotReady]:
    """Of the database, of its rules, and of keys that are there and belong elsewhere."""
    try:
        schema = find_schema(settings.database_url)
    except WrongSettingError as wrong:
        fault, mend = str(wrong), "set it anew"
    except StoreUnavailable as unavailable:
        if unavailable.trouble is Trouble.DAMAGED:
            yield _damaged(unavailable.trouble.value)
            return
        fault, mend = "it cannot be reached", "start it, or mend DATABASE_URL"
    else:
        if schema is Schema.CURRENT:
            with closing(open_store(settings.database_url)) as store:
                yield from _foreign_keys(store, settings, missing)
                yield from rule_faults(store, now)
            return
        fault, mend = _SCHEMAS[schema]
    yield NotReady(part="database", fault=fault, mend=mend)


def _foreign_keys(store: Store, settings: Settings, missing: Collection[str]) -> Iterator[NotReady]:
    asked: tuple[tuple[str, Callable[[Reader], str]], ...] = (
        (_APPLICATION_KEY, lambda reader: application_key_fault(reader, load_key(settings.key_file))),
        (_SITE_KEYS, lambda reader: site_keys_fault(reader, list_site_keys(settings.site_keys))),
    )
    for part, ask in asked:
        if part not in missing:
            with store.read() as reader:
                fault = ask(reader)
            if fault:
                yield NotReady(part=part, fault=fault, mend="name those that belong to it, or restore them")


def rule_faults(store: Store, now: datetime) -> Iterator[NotReady]:
    """Rules that are missing, or that nobody may be treated by."""
    try:
        with store.read() as reader:
            rules = rules_in_force(reader, now)
            invented = rules.are_invented
    except UnknownFormatError as unknown:
        yield NotReady(part="rules", fault=unknown.says, mend="install the version that wrote it")
        return
    missing = [each.what for what, each in FORMATS.items() if what not in rules.published]
    if not rules.published:
        yield NotReady(part="rules", fault="none have been published", mend="run `countersign install`")
    elif missing:
        fault = f"{', '.join(missing)}: none has been published"
        yield NotReady(part="rules", fault=fault, mend="publish the missing by `countersign rules publish`")
    elif invented:
        fault = "some of those in force are invented, never for a patient"
        mend = "publish the site's own by `countersign rules publish`"
        yield NotReady(part="rules", fault=fault, mend=mend)
