"""Open the installation that the environment names; a wrong setting ends the command with its own words."""

import os
import sys
from datetime import UTC, datetime
from typing import NoReturn

import click

from app.auditing.checkpointing import register_site_keys
from app.config import Settings, WrongSettingError, load_settings
from app.keys import SiteKey, create_site_keys, list_site_keys, load_key
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.storage import Schema, find_schema, open_store


def settings() -> Settings:
    """The settings of the environment."""
    try:
        return load_settings(os.environ)
    except WrongSettingError as wrong:
        fail(str(wrong))


_NOT_CURRENT = {
    Schema.NONE: "the database has no tables of this program: `countersign install` fills an empty one",
    Schema.OLDER: "the database is of an older version of this program: run `countersign migrate`",
    Schema.NEWER: "the database is of a newer version of this program: install that one",
}


def open_site(made: Settings) -> Site:
    """The installation these settings name; what keeps it from being opened ends the command in one line."""
    try:
        key = load_key(made.key_file)
    except WrongSettingError as wrong:
        fail(f"{wrong}; `countersign install` makes one in an empty installation")
    schema = find_schema(made.database_url)
    if schema is not Schema.CURRENT:
        fail(_NOT_CURRENT[schema])
    return Site(store=open_store(made.database_url), key=key, site_keys=made.site_keys)


def name_of(site: Site) -> str:
    """The site's name, as its records and certificates carry it."""
    with site.store.read() as reader:
        return rules_in_force(reader, now()).policy.site


def make_site_keys(site: Site) -> tuple[SiteKey, ...]:
    """Make the site's keys that are missing, and name all in the log; raises WrongSettingError."""
    new = create_site_keys(site.site_keys, now(), site=name_of(site))
    register_site_keys(site, list_site_keys(site.site_keys), now())
    return new


def fail(says: str) -> NoReturn:
    """End the command with a message and status 2."""
    click.echo(f"error: {says}", err=True)
    sys.exit(2)


def now() -> datetime:
    """The server's clock, read at the edge and handed inwards."""
    return datetime.now(UTC)  # noqa: TID251  # the edge: the only clock of the command line
