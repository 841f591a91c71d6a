"""`countersign rules`: check files of rules, compare them with what is in force, publish and print them."""

import json
import sys
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from importlib import import_module
from itertools import groupby
from pathlib import Path
from typing import Any, NoReturn

import click

from app.cli.asked import ask_who
from app.cli.days import MOMENT
from app.cli.installation import fail, now, open_site, settings
from app.records.kept import SiteData
from app.records.rules import INVENTED, POLICY
from app.site.installation import Site
from app.site.loading import rules_in_force, unit_name
from app.words.rules import rule_changes, rule_rows
from app.workflow.proposing import FromThePast, OnePerson, TakesPlaceOf
from app.workflow.publishing import (
    InForce,
    NotTheirs,
    Sitting,
    Unpublished,
    publish_rules,
    rule_faults,
)
from app.workflow.refusals import TooManyTries, WrongCredential
from app.workflow.rule_faults import faults_of, unit_ids
from app.workflow.rule_files import RuleFiles, RulesWrong, read_rules

_FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)
OVER = click.option(
    "--over", multiple=True, help="A version approved for later that then never comes into force."
)
_Published = Mapping[str, Mapping[str, Any]]


class _Rules(click.Group):
    """What takes a proposal stands in a module of its own, which is loaded when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted((*super().list_commands(ctx), *_OF_PROPOSALS))

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _OF_PROPOSALS:
            return super().get_command(ctx, cmd_name)
        command = getattr(import_module("app.cli.rule_proposals"), _OF_PROPOSALS[cmd_name])
        assert isinstance(command, click.Command)  # noqa: S101  # what the table says
        return command


_OF_PROPOSALS = {"approve": "approve", "list": "list_rules", "propose": "propose", "replay": "replay"}


@click.group(cls=_Rules)
def rules() -> None:
    """Check, compare, propose, approve, publish and print the site's rules: five documents."""


@rules.command()
@click.option("--at", type=MOMENT, help="Another time, such as 2031-05-02T14:00+0200.")
def show(at: datetime | None) -> None:
    """Print the rules in force, each value with where it comes from."""
    site = open_site(settings())
    published, units = standing(site, at or now())
    if not published:
        fail("no rules were in force then" if at else "no rules have been published")
    for line in lines(published, units):
        click.echo(line)


@rules.command()
@click.argument("folder", type=_FOLDER)
def check(folder: Path) -> None:
    """Check the files of FOLDER: each fault in one line, with the file, the place in it and the reason."""
    files = read(folder)
    faults = faults_of(files, unit_ids(files))
    if faults:
        refuse(RulesWrong(faults=faults))
    click.echo("these rules can be published")


@rules.command()
@click.argument("folder", type=_FOLDER)
def diff(folder: Path) -> None:
    """Print what FOLDER would change, value by value; + is new, - is gone, ~ is changed."""
    site = open_site(settings())
    files = read(folder)
    faults = rule_faults(site, now(), files)
    if faults:
        refuse(RulesWrong(faults=faults))
    for line in _changes(site, files):
        click.echo(line)


@rules.command()
@click.argument("folder", type=_FOLDER)
@click.option("--why", required=True, help="The reason, for whoever reads of it later.")
@click.option("--from", "since", type=MOMENT, help="Not from now on but from then.")
@OVER
def publish(folder: Path, why: str, since: datetime | None, over: tuple[str, ...]) -> None:
    """Bring the rules in FOLDER into force, from now on, for every check that is opened from then on.

    Two people answer for them in one sitting: a pharmacist proposes; an administrator approves, or for the
    drug library a second pharmacist. Id and secret of each are asked for, or read from the standard input,
    four lines in this order.
    """
    site = open_site(settings())
    files = read(folder)
    faults = rule_faults(site, now(), files, since=since)
    if faults:
        refuse(RulesWrong(faults=faults))
    for line in _changes(site, files, since):
        click.echo(line)
    sitting = Sitting(
        proposed=ask_who("whoever proposes these rules"),
        approved=ask_who("whoever approves them"),
        why=why,
        in_force_from=since,
        over=over,
    )
    done = publish_rules(site, now(), files, sitting)
    if not isinstance(done, InForce):
        _refuse(done)
    new = ", ".join(done.versions.values())
    then = f"{since:%Y-%m-%d %H:%M%z}" if since else "now"
    click.echo(f"in force from {then} on: {new}" if new else "nothing is new")


def _refuse(refusal: Unpublished) -> NoReturn:
    match refusal:
        case RulesWrong():
            refuse(refusal)
        case TakesPlaceOf(versions=versions):
            fail(takes_place(versions))
        case NotTheirs(login=login, may=what):
            fail(f"{login} may not {what}; nothing was published")
        case OnePerson():
            fail("whoever proposed rules does not approve them; nothing was published")
        case FromThePast():
            fail("nothing comes into force before now; nothing was published")
        case WrongCredential():
            fail("id and secret do not belong together; nothing was published")
        case TooManyTries(seconds=seconds):
            fail(f"too many tries; wait {seconds} s")


def takes_place(versions: tuple[str, ...]) -> str:
    """That versions approved for later would never come into force, and how to say that it is meant."""
    how = " ".join(f"--over {each}" for each in versions)
    return f"approved for later, and would never come into force: {', '.join(versions)}; if so, add {how}"


def read(folder: Path) -> RuleFiles:
    """The files of a folder; what cannot be read ends the command."""
    files = read_rules(folder)
    if isinstance(files, RulesWrong):
        refuse(files)
    return files


def refuse(wrong: RulesWrong) -> NoReturn:
    """End the command with one line a fault."""
    for each in wrong.faults:
        click.echo(f"error: {each.says}", err=True)
    sys.exit(2)


def lines(published: _Published, units: Mapping[str, str]) -> Iterator[str]:
    """The rules as they are printed, under their heads."""
    policy = published[POLICY]
    yield f"{policy['site']}: {', '.join(each['version'] for each in published.values())}"
    yield from (f"{each['version']}: {each['caution']}" for each in published.values() if INVENTED in each)
    for head, rows in groupby(rule_rows(published, units), key=lambda each: each.head):
        yield f"\n{head}"
        yield from (f"  {each.says}" for each in rows)


def standing(site: Site, at: datetime) -> tuple[_Published, Mapping[str, str]]:
    """The rules in force at a moment, and the names of the units."""
    with site.store.read() as reader:
        published = rules_in_force(reader, at).published
        units = {each.id: unit_name(reader, each.id) for each in reader.units()}
    return {what: _told(each) for what, each in published.items()}, units


def _told(each: SiteData) -> Mapping[str, Any]:
    """As it was published, the sources too."""
    told: Mapping[str, Any] = json.loads(each.content)
    return told


def _changes(site: Site, files: RuleFiles, since: datetime | None = None) -> Iterable[str]:
    before, units = standing(site, since or now())
    changes = rule_changes(rule_rows(before, units), rule_rows(files.published, units))
    return [each.says for each in changes] or ["no value differs"]
