"""Open the installation that the environment names; a wrong setting ends the command with its own words."""

import os
from datetime import UTC, datetime
from typing import NoReturn

import click

from app.auditing.checkpointing import register_site_keys
from app.config import Settings, WrongSettingError, load_settings
from app.keys import Owner, SiteKey, create_site_keys, list_site_keys, load_key
from app.site.installation import Site, application_key_fault, find_installation, site_keys_fault
from app.site.loading import rules_in_force
from app.storage import Schema, find_schema, open_store

DAMAGED = "the database cannot be read"


def settings() -> Settings:
    """The settings of the environment."""
    try:
        return load_settings(os.environ)
    except WrongSettingError as wrong:
        fail(str(wrong))


_NOT_CURRENT = {
    Schema.NONE: "the database has no tables of this program: `countersign install` fills an empty one",
    Schema.OLDER: "the database is of an older version of this program: run `countersign migrate`",
    Schema.CLOSED: "the program's role may not read the database: run `countersign migrate` as its owner",
    Schema.NEWER: "the database is of a newer version of this program: install that one",
}


def open_site(made: Settings, *, only_reads: bool = False) -> Site:
    """The installation these settings name; what keeps it from being opened ends the command in one line.

    Whoever only reads, to verify, is let in with other keys too: that they are others is what is to be found.
    """
    try:
        key = load_key(made.key_file)
    except WrongSettingError as wrong:
        fail(f"{wrong}; `countersign install` makes one in an empty installation")
    require_current(made)
    site = Site(store=open_store(made.database_url), key=key, site_keys=made.site_keys)
    command = click.get_current_context(silent=True)
    if command is not None:
        # However the command ends, no connection is left to the server.
        command.call_on_close(site.store.close)
    if not only_reads:
        refuse_foreign(site, list_site_keys(made.site_keys))
    return site


def require_current(made: Settings) -> None:
    """End the command in one line where the database is not as this version of the program needs it."""
    schema = find_schema(made.database_url)
    if schema is not Schema.CURRENT:
        fail(_NOT_CURRENT[schema])


def refuse_foreign(site: Site, known: tuple[SiteKey, ...]) -> None:
    """Keys of another installation end the command before anything is written."""
    with site.store.read() as reader:
        fault = application_key_fault(reader, site.key) or site_keys_fault(reader, known)
    if fault:
        fail(fault)


def owner_of(site: Site) -> Owner:
    """Whose the keys of this site are, as their certificates say; raises LookupError before it is filled."""
    with site.store.read() as reader:
        name, said = rules_in_force(reader, now()).policy.site, find_installation(reader)
    if said is None:
        message = "nothing has been installed"
        raise LookupError(message)
    return Owner(site=f"Training at {name}" if said.is_for_training else name, installation=said.installation)


def make_site_keys(site: Site, at: datetime | None = None) -> tuple[SiteKey, ...]:
    """Make the site's keys that are missing, and name all in the log; raises WrongSettingError."""
    at = at or now()
    new = create_site_keys(site.site_keys, at, owner=owner_of(site))
    register_site_keys(site, list_site_keys(site.site_keys), at)
    return new


class Failed(SystemExit):
    """The command has ended with a message, and status 2."""

    def __init__(self, says: str) -> None:
        super().__init__(2)
        self.says = says


def fail(says: str) -> NoReturn:
    """End the command with a message and status 2."""
    click.echo(f"error: {says}", err=True)
    raise Failed(says)


def now() -> datetime:
    """The server's clock, read at the edge and handed inwards."""
    return datetime.now(UTC)  # noqa: TID251  # the edge: the only clock of the command line
