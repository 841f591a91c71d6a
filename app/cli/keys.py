"""The keys of the site on the command line, and its signed checkpoints."""

from contextlib import closing
from datetime import datetime
from pathlib import Path

import click

from app.auditing.checkpointing import (
    HistoryChanged,
    checkpoint_file,
    has_lost_keys,
    make_checkpoint,
    missing_site_keys,
    register_site_keys,
)
from app.cli.days import MOMENT
from app.cli.folders import replace_file
from app.cli.installation import fail, make_site_keys, now, open_site, owner_of, refuse_foreign, settings
from app.config import Settings, WrongSettingError
from app.keys import (
    AlreadyThere,
    Held,
    Purpose,
    Restored,
    SiteKey,
    WrongSecret,
    backup_of,
    list_site_keys,
    load_site_keys,
    open_backup,
    public_file,
    put_back_certificates,
    restore,
    rotate_site_key,
    secret_fault,
    write_new,
)
from app.records.checkpoint import CheckpointFile, as_text, file_content, read_file
from app.site.installation import Site
from app.storage import Schema, StoreUnavailable, find_schema, open_store
from app.workflow.copies import MANIFEST
from app.workflow.founding import Founded, Founder, NotFounded, found_keys
from app.workflow.stolen_keys import Declared, NotDeclared, declare_stolen, mark_declared


@click.group()
def keys() -> None:
    """Make, list, rotate and back up the keys of the site; sign checkpoints of the log."""


_LOST = (
    "the log tells of keys of this site that are not here: bring them back by `countersign keys restore`; "
    "if no backup has them, `countersign keys create --lost` makes new ones in their place"
)


@keys.command()
@click.option("--lost", is_flag=True, help="The keys are lost, and in no backup: others take their place.")
def create(*, lost: bool) -> None:
    """Make the key that seals records and the one that signs checkpoints, where they are missing."""
    made = settings()
    site = open_site(made)
    if has_lost_keys(site) and not lost:
        fail(_LOST)
    try:
        put_back_certificates(made.site_keys, missing_site_keys(site))
        mark_declared(site, now(), owner=owner_of(site))
        new = make_site_keys(site)
    except WrongSettingError as wrong:
        fail(str(wrong))
    for each in new:
        click.echo(_line(each))
    click.echo(f"the keys are in {made.site_keys}: make a backup of them now" if new else "nothing to make")


@keys.command("list")
def list_() -> None:
    """List every key of the site, the newest first, with what it is for and until when it is valid."""
    made = settings()
    try:
        listed = list_site_keys(made.site_keys)
    except WrongSettingError as wrong:
        fail(str(wrong))
    for each in listed:
        click.echo(_line(each))
    try:
        load_site_keys(made.site_keys, now())
    except WrongSettingError as wrong:
        fail(str(wrong))


@keys.command()
@click.argument("purpose", type=click.Choice([each.value for each in Purpose]))
def rotate(purpose: str) -> None:
    """Put a new key in the place of the one in use; what the old one sealed or signed still verifies."""
    made = settings()
    site = open_site(made)
    try:
        new = rotate_site_key(made.site_keys, now(), Purpose(purpose), owner=owner_of(site))
        register_site_keys(site, list_site_keys(made.site_keys), now())
    except WrongSettingError as wrong:
        fail(str(wrong))
    click.echo(_line(new))
    click.echo("make a backup, and hand out the new public file")


@keys.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.password_option("--passphrase", help="Asked for when it is not given; 15 characters or more.")
def backup(file: Path, passphrase: str) -> None:
    """Write every key, the application key included, into one FILE, locked under a passphrase."""
    made = settings()
    fault = secret_fault(passphrase, login="", printed_name="")
    if fault is not None:
        fail(fault.says)
    if file.exists():
        fail("there is such a file; a backup overwrites nothing")
    if (file.parent / MANIFEST).exists():
        fail(f"{file.parent} holds a copy of the database: keys are kept apart from it")
    if not made.key_file.exists() or not made.site_keys.is_dir():
        fail("there are no keys to keep: run `countersign install` and `countersign keys create` first")
    locked = backup_of(passphrase, application_key=made.key_file, site_keys=made.site_keys)
    write_new(file, locked, mode=0o600)
    click.echo(f"written to {file}: keep it, and its passphrase, apart from the database and from each other")


@keys.command("restore")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--passphrase", prompt=True, hide_input=True)
def restore_(file: Path, passphrase: str) -> None:
    """Bring the keys of a backup back, where none are."""
    made = settings()
    held = open_backup(file.read_bytes(), passphrase)
    if isinstance(held, WrongSecret):
        fail("the passphrase does not open this file, or the file was changed")
    _refuse_foreign(made, held)
    match restore(held, application_key=made.key_file, site_keys=made.site_keys):
        case Restored(names=names):
            click.echo(f"{len(names)} files restored")
            _take_out_again(made)
        case AlreadyThere(name=name):
            fail(f"{name} is there already; nothing was written")


@keys.command()
def public() -> None:
    """Print the site's certificates, old ones included: what a verifier needs, as `site.pem`."""
    made = settings()
    try:
        load_site_keys(made.site_keys, now())
        click.echo(public_file(list_site_keys(made.site_keys)), nl=False)
    except WrongSettingError as wrong:
        fail(str(wrong))


@keys.command()
@click.option(
    "--file",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    help="Write `checkpoint.json` too, with the place of every issued record in the log.",
)
def checkpoint(file: Path | None) -> None:
    """Sign the log as it stands and print it for the shift sheet."""
    made = settings()
    site = open_site(made)
    at = now()
    try:
        own = load_site_keys(made.site_keys, at)
    except WrongSettingError as wrong:
        fail(str(wrong))
    if file is None:
        signed = make_checkpoint(site, own, at)
    else:
        content = checkpoint_file(site, own, at)
        if isinstance(content, HistoryChanged):
            fail(content.says)
        _refuse_shorter(content, file)
        replace_file(file, file_content(content))
        signed = content.checkpoint
    if isinstance(signed, HistoryChanged):
        fail(signed.says)
    click.echo(as_text(signed), nl=False)


def _refuse_shorter(content: CheckpointFile, file: Path) -> None:
    """A log that was cut off, as by an old copy brought back, never takes the place of what shows it."""
    kept = read_file(file.read_bytes()) if file.is_file() else content
    if isinstance(kept, CheckpointFile) and kept.checkpoint.size > content.checkpoint.size:
        fail(
            f"{file} tells of {kept.checkpoint.size} entries, and the log has only "
            f"{content.checkpoint.size}: keep it, look into that, and name another file"
        )


@keys.command()
@click.argument("first")
@click.argument("second")
def found(first: str, second: str) -> None:
    """Let FIRST and SECOND, who are both here, confirm each other's signing keys: how a site's keys begin.

    Each types a secret at the prompt. It is open while no confirmed key is in use; others use the pages.
    """
    site = open_site(settings())
    founders = [
        Founder(login=login, secret=click.prompt(f"The secret of {login}", hide_input=True))
        for login in (first, second)
    ]
    match found_keys(site, now(), *founders):
        case Founded(number=1):
            click.echo(f"the site's keys begin with {first} and {second}, who confirmed each other")
        case Founded(number=number):
            click.echo(
                f"the site's keys begin anew with {first} and {second}: "
                f"founding {number}, which every record from now on and every verification names"
            )
        case NotFounded(why=why, login=login):
            fail(f"{login}: {why}" if login else why)


# The name of a key may begin with a hyphen.
@keys.command(context_settings={"ignore_unknown_options": True})
@click.argument("kid")
@click.argument("first")
@click.argument("second")
@click.option(
    "--since",
    type=MOMENT,
    required=True,
    help="From when on it was in other hands, with the offset from UTC: 2031-05-02T12:00:00+0100.",
)
def stolen(kid: str, first: str, second: str, since: datetime) -> None:
    """Let FIRST and SECOND, who are both here, declare that the key KID was stolen from a moment on.

    Each types a secret at the prompt. A new key takes its place if it was in use.
    """
    site = open_site(settings())
    declaring = tuple(
        Founder(login=login, secret=click.prompt(f"The secret of {login}", hide_input=True))
        for login in (first, second)
    )
    by = (declaring[0], declaring[1])
    match declare_stolen(site, now(), kid=kid, since=since, by=by, owner=owner_of(site)):
        case Declared(stolen_from=moment):
            click.echo(f"{kid} counts for nothing from {moment.isoformat()} on; the log says so")
            click.echo("make a backup, destroy older ones, and hand out the new public file")
        case NotDeclared(why=why, login=login):
            fail(f"{login}: {why}" if login else why)


def _refuse_foreign(made: Settings, held: Held) -> None:
    """A backup of another installation than the database, where that is there already, is not restored."""
    if find_schema(made.database_url) is Schema.CURRENT:
        with closing(open_store(made.database_url)) as store:
            refuse_foreign(
                Site(store=store, key=held.application_key, site_keys=made.site_keys), held.site_keys
            )


def _take_out_again(made: Settings) -> None:
    """Keys that the log says were stolen do not come back with a backup from before."""
    try:
        is_there = find_schema(made.database_url) is Schema.CURRENT
    except StoreUnavailable:
        is_there = False
    if not is_there:
        click.echo("the database is not there yet: `countersign restore` brings it back")
        return
    site = open_site(made)
    try:
        for kid in mark_declared(site, now(), owner=owner_of(site)):
            click.echo(f"{kid} was declared stolen: it is out of use again")
    except (StoreUnavailable, LookupError):
        # No rules, so no log either.
        click.echo("the database is not there yet: run `countersign keys create` once it is")


def _line(key: SiteKey) -> str:
    state = "in use" if key.here else "old, verifies what it signed"
    if key.stolen_from:
        state = f"declared stolen from {key.stolen_from.isoformat(timespec='seconds')} on"
    ends = ", ends soon: rotate it" if key.here and key.ends_soon(now()) else ""
    return f"{key.purpose.value:<10} {key.kid}  {key.made_at:%Y-%m-%d} to {key.until:%Y-%m-%d}  {state}{ends}"
