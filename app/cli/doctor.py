"""`countersign doctor`: whether everything that a server stands on is there, each fault with its mend."""

import os
import shutil
import sys
from collections.abc import Callable, Collection, Iterator
from contextlib import closing
from datetime import datetime, timedelta
from functools import partial
from typing import NoReturn

import click

from app.base.damage import Damaged, read_or_damaged
from app.cli.installation import now
from app.config import LOOPBACK, Settings, WrongSettingError, load_settings
from app.keys import list_site_keys
from app.people import Role
from app.site.installation import find_installation
from app.site.readiness import NotReady, find_faults, unless_damaged
from app.storage import ServerState, find_server_state, open_store, sqlite_path
from app.workflow.sweeping import LEASE, LEASE_TIME

# Less than this is little for a database and the records that are being made; common practice, no source.
_LEAST_FREE = 1024**3
# Clocks of two machines that are kept in time differ by less; the same.
_APART = timedelta(seconds=2)

# So many people no site can do without: two read, and two pharmacists answer for the drug library.
_LEAST = {
    Role.NURSE: 2,
    Role.CHARGE_NURSE: 1,
    Role.PHARMACIST: 2,
    Role.QUALITY: 1,
    Role.ADMINISTRATOR: 1,
    Role.CONTROLLED_DRUG_OFFICER: 1,
}

Faults = Iterator[NotReady]


@click.command()
def doctor() -> None:
    """Look whether everything that a server stands on is there; status 1 when something is not."""
    try:
        made = load_settings(os.environ)
    except WrongSettingError as wrong:
        _end((NotReady(part="configuration", fault=str(wrong), mend="set it anew"),))
    serving = find_faults(made, now())
    looks: tuple[Callable[[Settings, datetime], Faults], ...] = (_ending_keys, _disk, _proxy)
    # Of a database that is not there nothing else can be asked.
    asked = not any(each.part == "database" for each in serving)
    if asked:
        looks = (*looks, _clock, _roles, _sweeper)
    looked = (unless_damaged(partial(look, made, now())) for look in looks)
    faults = (*serving, *(fault for found in looked for fault in found))
    parts = _PARTS if asked else tuple(each for each in _PARTS if each not in _IN_DATABASE)
    named = read_or_damaged(lambda: _installation(made)) if asked else ""
    lacking = tuple(unless_damaged(partial(_people, made, now()))) if asked else ()
    _end(faults, "" if isinstance(named, Damaged) else named, lacking, parts)


_PARTS = (
    *("configuration", "application key", "keys of the site", "database", "rules", "people", "disk"),
    *("proxy", "clock", "roles", "sweeper"),
)
# Where it cannot be asked, nothing is said of these.
_IN_DATABASE = ("rules", "people", "clock", "roles", "sweeper")


def _end(
    faults: tuple[NotReady, ...],
    installation: str = "",
    lacking: tuple[NotReady, ...] = (),
    parts: Collection[str] = (),
) -> NoReturn:
    """Say part by part how it stands, of those that were looked at.

    People who are lacking keep no server from being served.
    """
    if installation:
        click.echo(f"ok     installation {installation}")
    for part in _PARTS:
        found = [each for each in faults if each.part == part]
        for each in found:
            click.echo(f"FAULT  {each.says}")
        to_do = [each for each in lacking if each.part == part]
        for each in to_do:
            click.echo(f"to do  {each.says}")
        if part in parts and not found and not to_do:
            click.echo(f"ok     {part}")
    sys.exit(1 if faults else 0)


def _installation(made: Settings) -> str:
    """Which one it is, and whether for training, and of which it is a copy."""
    with closing(open_store(made.database_url)) as store, store.read() as reader:
        said = find_installation(reader)
    if said is None:
        return ""
    if said.copy_of:
        return f"{said.installation}, a copy for training of {said.copy_of}"
    return said.installation + (", for training" if said.is_for_training else "")


def _ending_keys(made: Settings, at: datetime) -> Faults:
    try:
        ending = [each for each in list_site_keys(made.site_keys) if each.here and each.ends_soon(at)]
    except (WrongSettingError, OSError):
        return
    for each in ending:
        fault = f"the {each.purpose.value} key ends on {each.until:%Y-%m-%d}"
        mend = f"run `countersign keys rotate {each.purpose.value}`"
        yield NotReady(part="keys of the site", fault=fault, mend=mend)


def _disk(made: Settings, _at: datetime) -> Faults:
    folders = {made.key_file.parent, made.site_keys}
    file = sqlite_path(made.database_url)
    if file is not None:
        folders.add(file.parent)
        if file.exists() and file.stat().st_mode & 0o077:
            yield NotReady(part="disk", fault=f"others can read {file}", mend=f"chmod 600 {file}")
    for folder in sorted(each for each in folders if each.exists()):
        free = shutil.disk_usage(folder).free
        if free < _LEAST_FREE:
            fault = f"only {free // 1024**2} MB are free under {folder}"
            yield NotReady(part="disk", fault=fault, mend="make room, or move it to a larger disk")
        if not os.access(folder, os.W_OK | os.X_OK):
            yield NotReady(
                part="disk", fault=f"{folder} is not writable", mend="let the program's user write there"
            )


def _proxy(made: Settings, _at: datetime) -> Faults:
    if set(made.trusted_hosts) <= set(LOOPBACK):
        fault = "no host name is set: it answers on this machine alone"
        mend = "write the name under which it is reached into COUNTERSIGN_TRUSTED_HOSTS"
        yield NotReady(part="proxy", fault=fault, mend=mend)


def _people(made: Settings, _at: datetime) -> Faults:
    with closing(open_store(made.database_url)) as store, store.read() as reader:
        active = [each for each in reader.people() if each.active]
        confirmed = list(reader.rows("key_confirmation"))
    for role, least in _LEAST.items():
        there = sum(role in each.roles for each in active)
        if there < least:
            fault = f"{role.value}: {there} of at least {least}"
            yield NotReady(part="people", fault=fault, mend="run `countersign account make`")
    if not confirmed:
        fault = "nobody can sign yet"
        yield NotReady(part="people", fault=fault, mend="run `countersign keys found`")


def _clock(made: Settings, at: datetime) -> Faults:
    with closing(open_store(made.database_url)) as store, store.read() as reader:
        last = reader.log_entries(after=max(0, reader.head() - 1), limit=1)
    for entry in last:
        if entry.at > at + _APART:
            fault = (
                f"the last entry of the log was written at {entry.at:%Y-%m-%d %H:%M:%S} UTC, later than now"
            )
            yield NotReady(part="clock", fault=fault, mend="set this machine's clock by a time server")
    server = find_server_state(made.database_url)
    if server is not None and abs(server.clock - at) > _APART:
        fault = f"the database server's clock is {abs(server.clock - at).total_seconds():.0f} s apart"
        yield NotReady(part="clock", fault=fault, mend="set both by one time server")


def _roles(made: Settings, _at: datetime) -> Faults:
    server = find_server_state(made.database_url)
    if server is None:
        return
    yield from _rights(server)
    if not server.logs_no_values:
        fault = "the database server writes values into its log"
        mend = (
            "set log_parameter_max_length = 0, log_parameter_max_length_on_error = 0 and "
            "log_error_verbosity = terse there"
        )
        yield NotReady(part="roles", fault=fault, mend=mend)


def _rights(server: ServerState) -> Faults:
    """What the program's role may do beyond what the program does, and what it may not."""
    mend = "set two roles up by `countersign roles`"
    if server.is_superuser or server.is_owner:
        what = "a superuser" if server.is_superuser else "the owner of the tables"
        fault = f"the program's role at the database is {what}: it can switch off what keeps the log"
        yield NotReady(part="roles", fault=fault, mend=mend)
        return
    if server.makes_tables:
        fault = "the program's role may make tables, which could stand in for those of the program"
        yield NotReady(part="roles", fault=fault, mend=mend)
    for says, rights in (("has rights", server.exceeds), ("lacks rights", server.lacks)):
        if rights:
            fault = f"the program's role {says}: {', '.join(rights)}"
            yield NotReady(part="roles", fault=fault, mend="run `countersign migrate` as the owner")


def _sweeper(made: Settings, at: datetime) -> Faults:
    with closing(open_store(made.database_url)) as store, store.read() as reader:
        leases = [each["until"] for each in reader.rows("lease", name=LEASE)]
    if not leases or leases[0] + LEASE_TIME < at:
        last = f" since {leases[0]:%Y-%m-%d %H:%M} UTC" if leases else ""
        fault = f"nobody finishes what a crash left{last}: no server runs"
        yield NotReady(part="sweeper", fault=fault, mend="run `countersign serve`")
